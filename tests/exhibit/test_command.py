"""The commands that make, sign and check an exhibit."""

import pytest
from click.testing import CliRunner
from exhibits import lie

from auditkit.cli.exhibit import exhibit_command
from auditkit.errors import InputError, VerificationError
from auditkit.proof.check_packet import verify_packet

pytest.importorskip("pypdf")
pytest.importorskip("typst")


def test_the_command_makes_checks_and_never_writes_over(
    packet, pdf, keys, tmp_path, monkeypatch
):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "p.json").write_bytes(packet)
    (tmp_path / "bad.json").write_bytes(lie(packet, b"delivery van", b"delivery vaN"))
    (tmp_path / "k.p12").write_bytes(keys[0])
    (tmp_path / "word").write_text("word\n")

    def run(*arguments):
        return CliRunner().invoke(exhibit_command, arguments)

    done = run("p.json", "--out", "e.pdf")
    assert done.exit_code == 0, done.output
    assert (tmp_path / "e.pdf").read_bytes() == pdf
    done = run("--check", "e.pdf")
    assert done.exit_code == 0, done.output
    assert "byte for byte" in done.output.splitlines()[0]
    fingerprint = verify_packet(packet).log_key
    assert run("--check", "e.pdf", "--key", fingerprint).exit_code == 0
    refused = run("--check", "e.pdf", "--key", "A" * 43)
    assert isinstance(refused.exception, VerificationError)
    assert isinstance(run("bad.json", "--out", "b.pdf").exception, VerificationError)
    for arguments in (
        (),
        ("p.json",),
        ("p.json", "--out", "e.pdf"),
        ("p.json", "--check", "e.pdf"),
        ("--check", "e.pdf", "--sign", "k.p12"),
        ("gone.json", "--out", "g.pdf"),
        ("--check", "p.json"),
    ):
        assert isinstance(run(*arguments).exception, InputError), arguments
    assert sorted(p.name for p in tmp_path.glob("*.pdf")) == ["e.pdf"]


def test_the_command_signs(packet, pdf, keys, tmp_path, monkeypatch):
    pytest.importorskip("pyhanko")
    monkeypatch.chdir(tmp_path)
    (tmp_path / "p.json").write_bytes(packet)
    (tmp_path / "k.p12").write_bytes(keys[0])
    (tmp_path / "word").write_text("word\n")
    sign = ("p.json", "--out", "s.pdf", "--sign", "k.p12", "--passphrase-file", "word")
    done = CliRunner().invoke(exhibit_command, sign)
    assert done.exit_code == 0, done.output
    assert (tmp_path / "s.pdf").read_bytes().startswith(pdf)
    done = CliRunner().invoke(exhibit_command, ["--check", "s.pdf"])
    assert done.exit_code == 0, done.output
    assert "Signer (invented)" in done.output
