"""One thread writes: forms sent twice are one step, and kills lose nothing answered."""

import signal
import sqlite3
import subprocess
import sys
import threading
from concurrent.futures import ThreadPoolExecutor

import pytest
import sampling
from bay_served import until
from bay_writing import bay_writing, form, hands
from conftest import PASSPHRASE, forced

from auditkit.bay import writer as bay_writer
from auditkit.bay.one_bay import lock_bay
from auditkit.bay.writer import LogWriter
from auditkit.errors import InputError, KeyProblem, LogError
from auditkit.log import newest_checkpoint
from auditkit.log.ledger import Ledger
from auditkit.proof import note
from auditkit.proof.keys import PrivateKey

KILLS = sampling.count(25, 200)


@pytest.fixture
def path(ledger):
    return ledger.store.path


@pytest.fixture
def who(path):
    return hands(path, PASSPHRASE)


@pytest.fixture
def writer(path, who):
    with LogWriter(path, who.log_key) as started:
        yield started


def test_each_step_has_a_signed_checkpoint_once_it_is_answered(writer, who, ledger):
    for number in range(3):
        (seq,) = writer.take("RO-1", form(number), who).result().seqs
        stated = note.open_checkpoint(ledger.store.newest_checkpoint(), ledger.log_key)
        assert (seq, stated.size) == (2 + number, 3 + number)
    assert ledger.verify().verified


def test_a_form_sent_by_many_at_the_same_moment_is_one_step(writer, who, ledger):
    writer.take("RO-1", form(0), who).result()
    barrier = threading.Barrier(10)

    def send(_):
        barrier.wait()
        return writer.take("RO-1", form(1), who).result()

    with ThreadPoolExecutor(10) as tablets:
        answers = list(tablets.map(send, range(10)))
    assert {answer.seqs for answer in answers} == {(3,)}
    assert sum(answer.is_new for answer in answers) == 1
    assert ledger.store.head()[0] == 4
    assert writer.recorded_as("RO-1", "form-1") == (3,)
    assert writer.recorded_as("RO-1", "form-2") == ()


def test_what_is_refused_is_told_and_the_next_is_written(writer, who):
    with pytest.raises(InputError, match="no repair order"):
        writer.take("RO-1", form(1), who).result()
    assert writer.take("RO-1", form(0), who).result().seqs == (2,)

    def fails(_):
        raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        writer.do(fails).result()
    assert writer.take("RO-1", form(1), who).result().seqs == (3,)


def test_readers_see_what_is_answered_from_any_thread(writer, who):
    writer.take("RO-1", form(0), who).result()

    def look(_):
        with writer.reading() as ledger:
            return [line.seq for line in ledger.show("RO-1").lines]

    with ThreadPoolExecutor(8) as threads:
        for number in range(1, 10):
            writer.take("RO-1", form(number), who).result()
            wanted = list(range(2, 3 + number))
            assert list(threads.map(look, range(8))) == [wanted] * 8
    with writer.reading() as ledger, pytest.raises(LogError, match="for writing"):
        ledger.append("RO-1", form(1).events, person="mechanic-1", signer=who.signer)


def test_who_may_sign_is_read_as_the_log_has_it_now(writer):
    assert writer.enrolment("tech-a") is None
    made = writer.do(lambda ledger: ledger.enrol("tech-a", passphrase=b"own")).result()
    assert writer.enrolment("tech-a").seq == made.enrolled_seq
    gone = writer.do(lambda ledger: ledger.revoke("tech-a", reason="r", passphrase=b""))
    assert gone.result().revoked_seq == made.enrolled_seq + 1
    assert writer.enrolment("tech-a") is None


def test_a_second_bay_is_refused_until_the_first_ends(path, who):
    first = LogWriter(path, who.log_key)
    command = (
        "import sys, pathlib, auditkit.bay.one_bay as one_bay;"
        "one_bay.lock_bay(pathlib.Path(sys.argv[1]))"
    )
    ran = subprocess.run(
        [sys.executable, "-c", command, path],
        capture_output=True, check=False, text=True,
    )  # fmt: skip
    assert "a bay of this log runs already, as process" in ran.stderr
    with pytest.raises(LogError, match="runs already"):
        LogWriter(path, who.log_key)
    first.stop()
    LogWriter(path, who.log_key).stop()


def test_a_bay_that_cannot_write_does_not_start(path, who, tmp_path):
    with pytest.raises(KeyProblem, match="not the key that opened this log"):
        LogWriter(path, PrivateKey.generate())
    with pytest.raises(LogError, match="there is no log here"):
        LogWriter(tmp_path / "none.auditlog", who.log_key)
    lock_bay(path).close()  # nothing was left locked


def test_stopping_answers_what_was_taken_on_and_takes_no_more(path, who, ledger):
    writer = LogWriter(path, who.log_key)
    hold = threading.Event()
    writer.do(lambda _: hold.wait())
    sent = [writer.take("RO-1", form(number), who) for number in range(20)]
    stopping = threading.Thread(target=writer.stop)
    stopping.start()
    while writer._is_open:
        pass
    with pytest.raises(LogError, match="is stopping"):
        writer.take("RO-1", form(20), who)
    hold.set()
    stopping.join()
    assert [answer.result().seqs for answer in sent] == [(2 + n,) for n in range(20)]
    assert ledger.store.head()[0] == 22
    writer.stop()


def test_the_newest_checkpoint_is_kept_beside_the_keys_soon_after(path, who, ledger):
    kept = newest_checkpoint.recall
    with LogWriter(path, who.log_key) as writer:
        for number in range(5):
            writer.take("RO-1", form(number), who).result()
        until(lambda: kept(ledger.keys, ledger.origin, ledger.log_key).size == 7)
        writer.take("RO-1", form(5), who)
    assert kept(ledger.keys, ledger.origin, ledger.log_key).size == 8


def test_where_steps_come_without_rest_it_is_kept_all_the_same(
    path, who, ledger, monkeypatch
):
    monkeypatch.setattr(bay_writer, "_AT_REST", 3600)
    monkeypatch.setattr(bay_writer, "_UNKEPT", 4)
    kept = newest_checkpoint.recall
    with LogWriter(path, who.log_key) as writer:
        for number in range(9):
            writer.take("RO-1", form(number), who).result()
        until(lambda: kept(ledger.keys, ledger.origin, ledger.log_key).size == 10)
        assert ledger.store.head()[0] == 11, "after eight steps, and not the ninth yet"
    assert kept(ledger.keys, ledger.origin, ledger.log_key).size == 11


def test_a_full_queue_is_told_at_once(writer, who):
    hold, waiting = threading.Event(), []
    writer.do(lambda _: hold.wait())
    with pytest.raises(LogError, match="256 steps wait to be written already"):
        waiting.extend(writer.do(lambda _, n=number: n) for number in range(300))
    hold.set()
    assert [answer.result() for answer in waiting] == list(range(len(waiting)))
    assert writer.take("RO-1", form(0), who).result().seqs == (2,)


def test_the_log_used_from_another_thread_is_a_mistake_of_the_program(ledger):
    """Not of the file: nobody is told to restore it from a backup."""
    with ThreadPoolExecutor(1) as other:
        with pytest.raises(sqlite3.ProgrammingError, match="thread"):
            other.submit(ledger.show, "RO-1").result()
        with pytest.raises(sqlite3.ProgrammingError, match="thread"):
            other.submit(ledger.store.last_log_seq).result()


def test_kills_lose_nothing_that_was_answered_and_nothing_is_twice(path, ledger, who):
    """kill -9 at any moment, start again, send the unanswered form again."""
    chance = sampling.chance("kills of a bay")
    answered: dict[int, tuple[int, ...]] = {}
    number = 0
    awaited = [chance.randrange(6) for _ in range(KILLS)]
    for some in awaited:
        running = bay_writing(path, PASSPHRASE, number)
        running.ready()
        told = running.first(some)
        running.process.kill()
        told += running.end()
        assert running.process.exitcode == -signal.SIGKILL
        for sent, seqs in told:
            assert answered.setdefault(sent, seqs) == seqs, "one form, one answer"
        number = max(answered, default=0)  # sent again: it may be in the log already
    # Each form is sent twice at once, and the last one of a run again in the next.
    new = sum(max(0, (some + 1) // 2 - 1) for some in awaited)
    assert len(answered) >= new > KILLS // 5
    report = ledger.verify()
    assert report.verified, report.problems
    lines = ledger.show("RO-1").lines
    forms = [line.form for line in lines]
    assert len(forms) == len(set(forms)), "no form was recorded twice"
    held = {line.form: (line.seq,) for line in lines}
    assert {n: held[f"form-{n}"] for n in answered} == answered
    stated = note.open_checkpoint(ledger.store.newest_checkpoint(), ledger.log_key)
    assert stated.size == report.entries, "no step is without its checkpoint"
    with LogWriter(path, who.log_key) as again:
        last = again.take("RO-1", form(len(forms)), who).result()
    assert last.seqs == (report.entries,)


def test_what_was_written_around_the_writer_is_seen(writer, who, ledger):
    """Another program may write to the log too; it waits its turn at the file."""
    writer.take("RO-1", form(0), who).result()
    forced(ledger, "RO-1", form(1).events, "mechanic-1", who.signer)
    assert writer.take("RO-1", form(2), who).result().seqs == (4,)
    with Ledger.open(ledger.store.path) as again:
        assert again.verify().verified
