"""kill -9, four writers at once, a full disk: nothing acknowledged is lost."""

import signal
import time

import pytest
import sampling
from appending import appending
from conftest import PASSPHRASE

from auditkit.log.ledger import Ledger

KILLS = sampling.count(60, 200)


@pytest.fixture
def path(ledger):
    return ledger.store.path


def test_kill_during_append_loses_nothing_acknowledged(path, ledger):
    acknowledged: set[int] = set()
    for round_number in range(KILLS):
        writer = appending(path, PASSPHRASE, 100_000)
        writer.ready()
        # Counted, not timed: a busy machine is given its time to acknowledge some.
        acknowledged |= set(writer.first(round_number % 5))
        time.sleep(round_number // 5 % 10 * 0.002)
        writer.process.kill()
        acknowledged |= set(writer.end())
        assert writer.process.exitcode == -signal.SIGKILL
    report = ledger.verify()
    assert report.verified, report.problems
    assert len(acknowledged) > KILLS
    assert acknowledged <= set(range(2, report.entries))


def test_kills_of_four_writers_lose_nothing_acknowledged(path, ledger):
    """Four at once, all killed, again and again: 1,000 kills in the full run."""
    rounds, writers = sampling.count(5, 250), 4
    chance = sampling.chance("kills of four writers")
    acknowledged: set[int] = set()
    for _ in range(rounds):
        running = [appending(path, PASSPHRASE, 100_000) for _ in range(writers)]
        for writer in running:
            writer.ready()
        chance.shuffle(running)
        for writer in running:
            acknowledged |= set(writer.first(chance.randrange(3)))
            writer.process.kill()
        for writer in running:
            told = writer.end()
            assert not acknowledged & set(told), "one number was acknowledged twice"
            acknowledged |= set(told)
            assert writer.process.exitcode == -signal.SIGKILL
    report = ledger.verify()
    assert report.verified, report.problems
    assert len(acknowledged) > rounds * writers
    assert acknowledged <= set(range(2, report.entries))


def test_four_writers_keep_one_chain(path, ledger):
    number = 150
    writers = [appending(path, PASSPHRASE, number) for _ in range(4)]
    given: list[int] = []
    for writer in writers:
        writer.ready()
        given += writer.end()
        assert writer.process.exitcode == 0
    assert sorted(given) == list(range(2, 2 + 4 * number)), "no gap, none twice"
    report = ledger.verify()
    assert report.verified, report.problems
    assert report.entries == 2 + 4 * number


def test_full_disk_is_one_clear_error_and_loses_nothing(path, ledger):
    writer = appending(path, PASSPHRASE, 100_000, file_size=400_000)
    writer.ready()
    *given, error = writer.end()
    assert writer.process.exitcode == 2
    assert "disk is full" in error
    assert "what was acknowledged is safe" in error
    acknowledged = set(given)
    assert len(acknowledged) > 10
    report = ledger.verify()
    assert report.verified, report.problems
    assert acknowledged <= set(range(2, report.entries))


def test_ledger_opens_after_a_kill(path):
    writer = appending(path, PASSPHRASE, 100_000)
    writer.ready()
    assert len(writer.first(3)) == 3
    writer.process.kill()
    writer.end()
    assert writer.process.exitcode == -signal.SIGKILL
    with Ledger.open(path) as again:
        assert again.verify().verified
