"""A key is opened in another process: what comes back, and what is told of it."""

import resource
import sys
import threading
import time

import pytest
from conftest import PASSPHRASE

from auditkit.bay import unlocked
from auditkit.bay.unlocked import DoesNotOpen, KeyOpener
from auditkit.errors import KeyProblem
from auditkit.proof.keys import KDF_ROUNDS, PrivateKey


@pytest.fixture
def opener(ledger):
    return KeyOpener(ledger.keys)


def test_the_right_passphrase_brings_the_key_that_was_enrolled(ledger, opener):
    enrolled = ledger.ring.enrolment("mechanic-1")
    key = opener.open("mechanic-1", PASSPHRASE, enrolled)
    enrolled.key.verify(key.sign(b"a text"), b"a text")


def test_whatever_is_wrong_is_told_alike(ledger, opener):
    ledger.enrol("tech-a", passphrase=PASSPHRASE)
    enrolled = {name: ledger.ring.enrolment(name) for name in ("mechanic-1", "tech-a")}
    (ledger.keys / "tech-a.p12").unlink()
    told = set()
    for person, word, of in (
        ("mechanic-1", b"wrong", enrolled["mechanic-1"]),
        ("mechanic-1", b"", enrolled["mechanic-1"]),
        ("mechanic-1", PASSPHRASE, enrolled["tech-a"]),  # another key than the log's
        ("tech-a", PASSPHRASE, enrolled["tech-a"]),
        ("nobody", PASSPHRASE, None),
        ("../mechanic-1", PASSPHRASE, None),
    ):
        with pytest.raises(DoesNotOpen) as refused:
            opener.open(person, word, of)
        assert refused.value.__cause__ is refused.value.__context__ is None
        told.add(str(refused.value))
    (text,) = told
    assert not any(name in text for name in ("mechanic-1", "tech-a", "wrong"))


def test_a_name_that_nobody_has_costs_what_a_wrong_passphrase_costs(ledger):
    """Processor time, not the clock: in the other process, where the work is done."""
    key = ledger.signer("mechanic-1", PASSPHRASE)
    real = key.to_pkcs12(PASSPHRASE, "mechanic-1", kdf_rounds=KDF_ROUNDS)
    (ledger.keys / "mechanic-1.p12").write_bytes(real)
    opener = KeyOpener(ledger.keys)
    decoy = PrivateKey.generate().to_pkcs12(b"x", "nobody", kdf_rounds=KDF_ROUNDS)
    opener._decoy = unlocked.encode64(decoy)  # the tests' own key files cost little

    def cost(person):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        with pytest.raises(DoesNotOpen):
            opener.open(person, b"wrong", ledger.ring.enrolment(person))
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        return after.ru_utime - before.ru_utime

    known = sorted(cost("mechanic-1") for _ in range(5))[2]
    unknown = sorted(cost("nobody") for _ in range(5))[2]
    assert 0.6 < known / unknown < 1.6


def test_other_threads_go_on_while_a_key_is_opened(ledger):
    """Opened here it stops them all; in another process, hardly (trial: 1 ms)."""
    key = ledger.signer("mechanic-1", PASSPHRASE)
    real = key.to_pkcs12(PASSPHRASE, "mechanic-1", kdf_rounds=3 * KDF_ROUNDS)
    (ledger.keys / "mechanic-1.p12").write_bytes(real)
    opener = KeyOpener(ledger.keys)

    def steps_during(work):
        done, counted = threading.Event(), []

        def count():
            while not done.is_set():
                counted.append(time.monotonic())
                time.sleep(0.001)

        counting = threading.Thread(target=count)
        counting.start()
        work()
        done.set()
        counting.join()
        return len(counted)

    enrolled = ledger.ring.enrolment("mechanic-1")
    here = steps_during(lambda: PrivateKey.from_pkcs12(real, PASSPHRASE))
    apart = steps_during(lambda: opener.open("mechanic-1", PASSPHRASE, enrolled))
    assert apart > 10 * here


def test_a_process_that_does_not_answer_is_told_and_shows_nothing(
    ledger, opener, monkeypatch, tmp_path
):
    script = tmp_path / "hangs"
    script.write_text("#!/bin/sh\nprintf half-a-key\nexec sleep 60\n")
    script.chmod(0o700)
    enrolled = ledger.ring.enrolment("mechanic-1")
    monkeypatch.setattr(sys, "executable", str(script))
    monkeypatch.setattr(unlocked, "_SECONDS", 0.2)
    with pytest.raises(KeyProblem, match="did not answer") as refused:
        opener.open("mechanic-1", PASSPHRASE, enrolled)
    assert not isinstance(refused.value, DoesNotOpen)
    assert refused.value.__context__ is None


def test_the_passphrase_stands_in_no_list_of_processes(ledger, opener, monkeypatch):
    seen = []
    real = unlocked.subprocess.Popen

    def spied(command, **how):
        seen.append((command, how.get("env")))
        return real(command, **how)

    monkeypatch.setattr(unlocked.subprocess, "Popen", spied)
    opener.open("mechanic-1", PASSPHRASE, ledger.ring.enrolment("mechanic-1"))
    assert PASSPHRASE.decode() not in str(seen)
    assert len(seen) == 1
