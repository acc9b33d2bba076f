"""A stamp holds for its own checkpoint, authority and question, and nothing else.

The authority is ``openssl ts`` (RFC 3161 as OpenSSL implements it): an independent
maker of time stamps and, with ``-query`` and ``-verify``, an independent reader.
"""

import hashlib
import shutil
import sys
import threading
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, HTTPServer
from types import SimpleNamespace

import pytest
from asn1crypto import core, tsp
from openssl_authority import (
    CONFIG,
    POLICY,
    make_root,
    make_signer,
    openssl,
)

from auditkit.cli.checkpoint_stamp import stamp_command
from auditkit.errors import InputError, VerificationError
from auditkit.proof import note, timestamp
from auditkit.proof.keys import PrivateKey

if shutil.which("openssl") is None:
    pytest.skip("the command openssl is absent", allow_module_level=True)
pytest.importorskip("rfc3161_client", reason="the extra auditkit[stamp] is absent")

KEY = PrivateKey.from_seed(bytes([1] * 32))


def checkpoint(size):
    made = note.Checkpoint("garage.example/log", size, bytes([size]) * 32)
    return note.sign_checkpoint(made, KEY)


TEXT = checkpoint(7)
QUERY, NONCE = timestamp.request(TEXT)

NOT_FOR_STAMPS = {
    "uncritical": "extendedKeyUsage=timeStamping",
    "other_use": "extendedKeyUsage=critical,codeSigning",
    "two_uses": "extendedKeyUsage=critical,timeStamping,codeSigning",
    "any_use": "basicConstraints=CA:FALSE",
}


@pytest.fixture(scope="module")
def authority(tmp_path_factory):
    folder = tmp_path_factory.mktemp("authority")
    root, other = make_root(folder, "root"), make_root(folder, "other")
    make_signer(folder)
    for name, extensions in NOT_FOR_STAMPS.items():
        make_signer(folder, extensions, name)
    (folder / "tsa.cnf").write_text(CONFIG)
    (folder / "serial").write_text("01\n")

    def reply(query):
        (folder / "q.tsq").write_bytes(query)
        openssl(
            *(folder, "ts", "-reply", "-config", "tsa.cnf"),
            *("-queryfile", "q.tsq", "-out", "r.tsr"),
        )
        return (folder / "r.tsr").read_bytes()

    return SimpleNamespace(folder=folder, root=root, other=other, reply=reply)


@pytest.fixture(scope="module")
def token(authority):
    return authority.reply(QUERY)


@pytest.fixture
def served():
    """Serve what a function answers to a query: (status, bytes)."""

    class Handler(BaseHTTPRequestHandler):
        def do_POST(self):
            body = self.rfile.read(int(self.headers["Content-Length"]))
            assert self.headers["Content-Type"] == "application/timestamp-query"
            status, said = self.server.answer(body)
            self.send_response(status)
            self.send_header("Content-Type", "application/timestamp-reply")
            self.send_header("Content-Length", str(len(said)))
            self.end_headers()
            self.wfile.write(said)

        def log_message(self, *words):
            pass

    with HTTPServer(("127.0.0.1", 0), Handler) as server:
        thread = threading.Thread(target=server.serve_forever, args=(0.01,))
        thread.start()
        server.url = f"http://127.0.0.1:{server.server_port}/tsr"
        yield server
        server.shutdown()
        thread.join()


def run(*words):
    """Run the command; its errors are raised here as the command line gets them."""
    stamp_command.main([str(word) for word in words], standalone_mode=False)


@pytest.fixture
def files(tmp_path, authority):
    (tmp_path / "monday.checkpoint").write_text(TEXT, encoding="utf-8")
    (tmp_path / "roots.pem").write_bytes(authority.root)
    (tmp_path / "other.pem").write_bytes(authority.other)
    return tmp_path


def drawn(*, long):
    """Return a request whose nonce has its first of 64 bits set, or has it not.

    DER (X.690 section 8.3.3) writes a zero byte before the one and not the other.
    """
    asked = (timestamp.request(TEXT) for _ in range(200))
    return next((query, nonce) for query, nonce in asked if (nonce >> 63 == 1) is long)


@pytest.mark.parametrize("long", [True, False])
def test_the_request_is_what_an_independent_encoder_writes(long):
    """By asn1crypto: RFC 3161 section 2.4.1, SHA-256 with NULL (RFC 5754 section 2)."""
    query, nonce = drawn(long=long)
    imprint = {
        "hash_algorithm": {"algorithm": "sha256", "parameters": core.Null()},
        "hashed_message": hashlib.sha256(TEXT.encode()).digest(),
    }
    asked = {
        "version": "v1",
        "message_imprint": imprint,
        "nonce": nonce,
        "cert_req": True,
    }
    assert query == tsp.TimeStampReq(asked).dump()


def test_each_request_has_a_nonce_of_its_own():
    nonces = {timestamp.request(TEXT)[1] for _ in range(500)}
    assert len(nonces) == 500
    assert max(nonces) >> 60 != 0
    assert max(nonces) < 1 << 64


@pytest.mark.parametrize("long", [True, False])
def test_openssl_reads_the_request(authority, long):
    path = authority.folder / "read.tsq"
    query, nonce = drawn(long=long)
    path.write_bytes(query)
    said = openssl(authority.folder, "ts", "-query", "-in", path, "-text")
    (authority.folder / "text").write_text(TEXT, encoding="utf-8")
    openssl(
        *(authority.folder, "ts", "-query", "-data", "text", "-sha256", "-cert"),
        *("-no_nonce", "-out", "own.tsq"),
    )
    own = (authority.folder / "own.tsq").read_bytes()
    assert path.read_bytes()[2:56] == own[2:56]  # version and imprint
    assert "Hash Algorithm: sha256" in said
    assert "Certificate required: yes" in said
    line = next(s for s in said.splitlines() if s.startswith("Nonce:"))
    assert int(line.split()[1], 16) == nonce


def test_a_stamp_holds(authority, token):
    found = timestamp.verify(token, TEXT, authority.root, nonce=NONCE)
    assert abs(found.at - datetime.now(UTC)) < timedelta(minutes=1)
    assert found.policy == POLICY
    assert found.authority == "CN=Invented stamps"
    assert found.before - found.at == timedelta(seconds=2)
    (authority.folder / "text").write_text(TEXT, encoding="utf-8")
    (authority.folder / "t.tsr").write_bytes(token)
    said = openssl(
        *(authority.folder, "ts", "-verify", "-in", "t.tsr", "-data", "text"),
        *("-CAfile", "root.pem"),
    )
    assert "Verification: OK" in said


def test_other_text_root_and_nonce_are_refused(authority, token):
    with pytest.raises(VerificationError, match="over another text"):
        timestamp.verify(token, checkpoint(8), authority.root)
    with pytest.raises(VerificationError, match="does not verify"):
        timestamp.verify(token, TEXT, authority.other)
    with pytest.raises(VerificationError, match="Nonce mismatch"):
        timestamp.verify(token, TEXT, authority.root, nonce=NONCE + 1)
    with pytest.raises(InputError, match="no certificate"):
        timestamp.verify(token, TEXT, b"garbage")


@pytest.mark.parametrize("bit", range(8))
def test_a_flipped_bit_never_changes_what_is_proved(authority, token, bit):
    """Few bytes pass (CMS, RFC 5652: versions, the algorithm's name), to no effect."""
    held = timestamp.verify(token, TEXT, authority.root)
    passed = []
    for i in range(len(token)):
        bad = token[:i] + bytes([token[i] ^ 1 << bit]) + token[i + 1 :]
        try:
            found = timestamp.verify(bad, TEXT, authority.root)
        except VerificationError as error:
            assert error.what_to_do
            continue
        passed.append(i)
        assert found == held, i
    assert len(passed) <= 16, passed
    assert timestamp.verify(token, TEXT, authority.root) == held


@pytest.mark.parametrize("bad", [b"", b"garbage", b"0\x03\x02\x01\x00", b"0" * 70_000])
def test_garbage_is_refused(authority, bad):
    with pytest.raises(VerificationError):
        timestamp.verify(bad, TEXT, authority.root)


def test_every_cut_is_refused(authority, token):
    for length in range(0, len(token), 7):
        with pytest.raises(VerificationError):
            timestamp.verify(token[:length], TEXT, authority.root)


def signed_by(folder, name, token):
    """Return the same TSTInfo as in a token, signed by another key (openssl cms)."""
    (folder / "t.tsr").write_bytes(token)
    openssl(folder, "ts", "-reply", "-in", "t.tsr", "-token_out", "-out", "t.der")
    openssl(
        *(folder, "cms", "-verify", "-inform", "DER", "-in", "t.der", "-noverify"),
        *("-out", "info.der"),
    )
    openssl(
        *(folder, "cms", "-sign", "-binary", "-nodetach", "-in", "info.der"),
        *("-econtent_type", "1.2.840.113549.1.9.16.1.4", "-md", "sha256"),
        *("-signer", f"{name}.pem", "-inkey", f"{name}.key", "-cades"),
        *("-outform", "DER", "-out", "new.der"),
    )
    openssl(
        *(folder, "ts", "-reply", "-token_in", "-in", "new.der"),
        *("-out", "new.tsr"),
    )
    return (folder / "new.tsr").read_bytes()


@pytest.mark.parametrize("name", NOT_FOR_STAMPS)
def test_a_signer_not_meant_for_time_stamps_is_refused(authority, token, name):
    """RFC 3161 section 2.3: the key usage is timeStamping alone, and critical.

    ``openssl ts`` refuses to stamp with such a key, so ``openssl cms`` signs.
    """
    good = signed_by(authority.folder, "tsa", token)
    held = timestamp.verify(good, TEXT, authority.root, nonce=NONCE)
    assert held == timestamp.verify(token, TEXT, authority.root)
    bad = signed_by(authority.folder, name, token)
    with pytest.raises(VerificationError, match="does not verify"):
        timestamp.verify(bad, TEXT, authority.root, nonce=NONCE)


def test_a_missing_library_is_named(monkeypatch, authority, token):
    monkeypatch.setitem(sys.modules, "rfc3161_client", None)
    for ask in (
        lambda: timestamp.verify(token, TEXT, authority.root),
        lambda: timestamp.request(TEXT),
    ):
        with pytest.raises(InputError, match="rfc3161-client") as told:
            ask()
        assert ".[stamp]" in told.value.what_to_do


def test_an_empty_text_is_refused():
    with pytest.raises(InputError, match="empty text") as told:
        timestamp.request("")
    assert told.value.what_to_do


@pytest.fixture
def willing(authority, served, files, monkeypatch):
    """Return an authority that answers every query, the files lying about."""
    monkeypatch.chdir(files)
    served.answer = lambda query: (200, authority.reply(query))
    return served


@pytest.mark.parametrize("roots", [(), ("--roots", "roots.pem")])
def test_stamp_then_check(willing, capsys, roots):
    asked = ("monday.checkpoint", "--url", willing.url, "--out", "monday.tsr", *roots)
    run(*asked)
    assert ("not checked yet" in capsys.readouterr().out) is (not roots)
    run("monday.checkpoint", "--check", "monday.tsr", "--roots", "roots.pem")
    said = capsys.readouterr().out
    assert "the log's first 7 entries existed before 20" in said
    assert "(authority CN=Invented stamps)" in said
    with pytest.raises(InputError, match="exists already"):
        run(*asked)


def test_the_address_may_stand_in_the_policy(willing, tmp_path):
    policy = tmp_path / "policy.toml"
    policy.write_text(f'format = "auditkit/policy@1"\nstamp_url = "{willing.url}"\n')
    run("monday.checkpoint", "--policy", policy, "--out", "monday.tsr")
    assert (tmp_path / "monday.tsr").exists()
    policy.write_text('format = "auditkit/policy@1"\nstamp_url = 1\n')
    with pytest.raises(InputError, match="stamp_url is not text"):
        run("monday.checkpoint", "--policy", policy, "--out", "again.tsr")


def test_check_says_no_with_exit_status_1(files, token):
    (files / "t.tsr").write_bytes(token)
    (files / "b.checkpoint").write_text(checkpoint(8), encoding="utf-8")
    for name, roots in (("b", "roots"), ("monday", "other")):
        with pytest.raises(VerificationError) as told:
            run(
                *(files / f"{name}.checkpoint", "--check", files / "t.tsr"),
                *("--roots", files / f"{roots}.pem"),
            )
        assert told.value.exit_code == 1
        assert told.value.where == str(files / "t.tsr")
        assert told.value.what_to_do


def replayed(authority, query):
    return 200, authority.reply(QUERY)


def for_another_text(authority, query):
    here, other = (hashlib.sha256(t.encode()).digest() for t in (TEXT, checkpoint(8)))
    return 200, authority.reply(query.replace(here, other))


def refusing(authority, query):
    return 200, authority.reply(query.replace(b"\x02\x01", b"\x02\x03"))


@pytest.mark.parametrize(
    ("answer", "said"),
    [
        (replayed, "its nonce differs"),
        (for_another_text, "over another text"),
        (refusing, "granted no time stamp: status 2"),
        (lambda authority, query: (503, b"later"), "HTTP status 503"),
        (lambda authority, query: (302, b""), "HTTP status 302"),
        (lambda authority, query: (200, b"<html>"), "not a time stamp"),
        (lambda authority, query: (200, b""), "not a time stamp"),
        (lambda authority, query: (200, b"0" * 70_000), "longer than 65536 bytes"),
    ],
)
def test_a_bad_answer_is_one_clear_error(files, authority, served, answer, said):
    served.answer = lambda query: answer(authority, query)
    with pytest.raises(InputError, match=said) as told:
        run(
            *(files / "monday.checkpoint", "--url", served.url),
            *("--out", files / "monday.tsr"),
        )
    assert told.value.where == served.url
    assert told.value.what_to_do
    assert not list(files.glob("*.tsr*"))


def test_an_answer_under_another_root_is_not_written(files, authority, served):
    served.answer = lambda query: (200, authority.reply(query))
    with pytest.raises(VerificationError, match="does not verify"):
        run(
            *(files / "monday.checkpoint", "--url", served.url),
            *("--out", files / "monday.tsr", "--roots", files / "other.pem"),
        )
    assert not list(files.glob("*.tsr*"))


@pytest.mark.parametrize(
    "url", ["", "ftp://a.example", "http://", "http://a b", "http://127.0.0.1:0/"]
)
def test_an_address_that_is_none(files, url):
    with pytest.raises(InputError, match="not the address"):
        run(files / "monday.checkpoint", "--url", url, "--out", files / "m.tsr")


def test_nobody_answers(files, served):
    url = served.url.replace("http:", "https:")  # it speaks no TLS
    with pytest.raises(InputError, match="cannot be reached"):
        run(files / "monday.checkpoint", "--url", url, "--out", files / "m.tsr")


@pytest.mark.parametrize(
    "options",
    [
        (),
        ("--url", "http://a.example"),
        ("--check", "t.tsr"),
        ("--check", "t.tsr", "--out", "u.tsr"),
    ],
)
def test_options_that_make_no_question(files, options):
    with pytest.raises(InputError, match="do not make one question"):
        run(files / "monday.checkpoint", *options)


def test_a_file_that_is_no_checkpoint(files):
    (files / "x").write_text("hello\n", encoding="utf-8")
    with pytest.raises(InputError, match="not a signed note"):
        run(files / "x", "--check", files / "t.tsr", "--roots", files / "roots.pem")


@pytest.mark.parametrize(
    "said",
    [
        {"seconds": 10**15},
        {"seconds": 10**30},
        {"seconds": 253_402_300_800},
        {"seconds": 2100 * 31_556_952},
    ],
)
def test_an_accuracy_beyond_any_calendar_is_refused(
    authority, token, said, monkeypatch
):
    """RFC 3161 section 2.4.2 sets its seconds no bound; a calendar ends in 9999."""
    given = SimpleNamespace(**{"seconds": 0, "millis": None, "micros": None} | said)
    read = timestamp._accuracy
    monkeypatch.setattr(timestamp, "_accuracy", lambda _found: read(given))
    with pytest.raises(VerificationError, match="accuracy is longer than any") as got:
        timestamp.verify(token, TEXT, authority.root, nonce=NONCE)
    assert got.value.what_to_do


def test_the_bounds_of_a_stamp_are_its_time_and_its_accuracy():
    at = datetime(2026, 3, 2, tzinfo=UTC)
    second = timedelta(seconds=1)
    made = timestamp.TimeStamp(at, POLICY, "CN=x", second)
    assert (made.after, made.before) == (at - second, at + second)
    assert timestamp.TimeStamp(at, POLICY, "CN=x").before == at
    with pytest.raises(VerificationError, match="longer than any calendar"):
        _ = timestamp.TimeStamp(at, POLICY, "CN=x", timedelta(days=9_999_999)).before
