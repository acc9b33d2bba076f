"""The log's second signature: for whoever asks for it, and passed over by the rest."""

import json
from pathlib import Path

import pytest
from conftest import PASSPHRASE, judge, small_record

from auditkit import mldsa, note, second_signature
from auditkit.cli import main
from auditkit.errors import KeyProblem
from auditkit.packet import verify_packet


@pytest.fixture
def call(closed, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("AUDITKIT_PASSPHRASE", PASSPHRASE.decode())

    def run(*words):
        with pytest.raises(SystemExit) as end:
            main([*map(str, words)])
        return end.value.code, *capsys.readouterr()

    return run


def policy_with(call):
    shown = json.loads(call("key", "show", "--format", "json")[1])
    Path("policy").write_text(
        f"log {shown['vkey']}\nwitness second {shown['second_vkey']}\nquorum second\n"
    )


def test_a_reader_who_wants_it_gets_it_and_no_other(call, closed, catalogue):
    assert "second_vkey" not in call("key", "show")[1]
    status, out, _ = call("key", "second")
    assert (status, "auditkit checkpoint --second" in out) == (0, True)
    policy_with(call)
    Path("plain").write_text(closed.checkpoint())
    assert call("checkpoint", "--second", "--out", "both")[0] == 0
    both = Path("both").read_text()
    assert both.startswith(closed.checkpoint())
    assert note.open_checkpoint(both, closed.log_key).size == 8
    record = small_record("RO-3")
    closed.record(
        record, judge(catalogue, record), passphrase=PASSPHRASE, unproven_reason="t"
    )
    log = closed._store.path
    words = ("verify", log, "--witnesses", "policy", "--trust")
    status, out, _ = call(*words, "both")
    assert (status, "first 8 entries are cosigned by second" in out) == (0, True)
    assert call(*words, "plain")[0] == 1
    forged = mldsa.sign_line(
        note.split_note(both)[0], closed.origin, mldsa.PrivateKey.generate(), 1
    )
    Path("forged").write_text(Path("plain").read_text() + forged)
    assert call(*words, "forged")[0] == 1, "a line of another key is passed over"
    Path("moved").write_text(closed.checkpoint() + both.splitlines(keepends=True)[-1])
    status, out, _ = call(*words, "moved")
    assert (status, "does not fit the text" in out) == (1, True)


def test_packets_stay_as_they_were(call, closed):
    call("key", "second")
    call("checkpoint", "--second", "--out", "both")
    packet = closed.packet("RO-1")
    assert len(Path("both").read_text()) > 3000
    assert len(packet) < 20_000
    trusted = verify_packet(packet, trust=Path("both").read_text())
    assert trusted.verified


def test_its_own_second_signature_attests_nothing(call):
    call("key", "second")
    call("checkpoint", "--second", "--out", "both")
    status, _, err = call("attest", "both")
    assert (status, "nobody but the log itself signed" in err) == (2, True)


def test_a_mistyped_passphrase_makes_no_second_key(call, closed, monkeypatch):
    monkeypatch.setenv("AUDITKIT_PASSPHRASE", "mistyped")
    status, _, err = call("key", "second")
    assert (status, "does not open with this passphrase" in err) == (2, True)
    assert second_signature.vkey_of(closed._store.path) is None


def test_an_older_copy_does_not_say_that_it_is_the_largest(call, closed, catalogue):
    log = closed._store.path
    closed._store.scrub()
    older = log.read_bytes()
    assert call("key", "second")[0] == 0
    record = small_record("RO-3")
    closed.record(
        record, judge(catalogue, record), passphrase=PASSPHRASE, unproven_reason="t"
    )
    closed.close()
    for end in ("-wal", "-shm"):
        log.with_name(log.name + end).unlink(missing_ok=True)
    log.write_bytes(older)
    assert call("checkpoint")[0] == 0
    status, _, err = call("checkpoint", "--second")
    assert (status, "an older copy of the log lies here" in err) == (2, True)


def test_what_is_refused(call, closed, tmp_path):
    log = closed._store.path
    status, _, err = call("checkpoint", "--second")
    assert (status, "make one with 'auditkit key second" in err) == (2, True)
    assert call("key", "second")[0] == 0
    status, _, err = call("key", "second")
    assert (status, "has its second key already" in err) == (2, True)
    with pytest.raises(KeyProblem, match="does not open with this passphrase"):
        second_signature.sign(log, closed.checkpoint(), b"wrong", 1)
    key = Path(f"{log}.keys") / "log.mldsa.pem"
    assert key.stat().st_mode & 0o777 == 0o600
    key.write_bytes(mldsa.PrivateKey.generate().to_pkcs8(PASSPHRASE))
    with pytest.raises(KeyProblem, match="not the second key of this log"):
        second_signature.sign(log, closed.checkpoint(), PASSPHRASE, 1)
