"""What an open log has proven once is believed again only while it lies there."""

import shutil
import sqlite3
from contextlib import closing

import pytest
from unguarded import unguarded

from auditkit.errors import LogError
from auditkit.log import proven_rows, sound_rows
from auditkit.log.key_files import folder_of
from auditkit.log.ledger import Ledger

WORD = b"a passphrase for tests"


def cleared(number):
    return {
        "kind": "code_clear",
        "at": "2026-03-02T09:30:00+01:00",
        "by": "mechanic-1",
        "tool": f"tool {number} (invented)",
    }


def append(ledger, order, *numbers):
    signer = ledger.signer("mechanic-1", WORD)
    events = [cleared(number) for number in numbers]
    return ledger.append(order, events, person="mechanic-1", signer=signer)


@pytest.fixture
def ledger(tmp_path):
    with Ledger.create(
        tmp_path / "shop.auditlog",
        shop="Example Yard Garage",
        person="mechanic-1",
        passphrase=WORD,
    ) as made:
        yield made


@pytest.fixture
def proven(monkeypatch):
    """Return the numbers of the entries that were held against their signatures."""
    seen, verify = [], sound_rows.entries.verify

    def told(entry, signer, **more):
        if more:  # not the last entry, whose root the tree is held against
            seen.append(entry.seq)
        verify(entry, signer, **more)

    monkeypatch.setattr(sound_rows.entries, "verify", told)
    return seen


def test_each_entry_is_proven_once(ledger, proven):
    first = append(ledger, "RO-1", 1, 2)
    assert ledger.show("RO-1") == ledger.show("RO-1")
    assert tuple(proven) == first
    (third,) = append(ledger, "RO-1", 3)
    assert [line.seq for line in ledger.show("RO-1").lines] == [*first, third]
    assert tuple(proven) == (*first, third)


def test_an_entry_that_another_program_wrote_is_proven_too(ledger, proven):
    first = append(ledger, "RO-1", 1)
    ledger.show("RO-1")
    with Ledger.open(ledger.store.path) as other:
        second = append(other, "RO-1", 2)
    assert len(ledger.show("RO-1").lines) == 2
    assert tuple(proven) == (*first, *second)


@pytest.mark.parametrize(
    "change",
    [
        "payload = replace(payload, 'tool 1', 'tool 9')",
        "signature = zeroblob(64)",
        "leaf = zeroblob(32)",
        "kind = 'repair'",
    ],
)
def test_one_that_is_altered_after_it_was_read_is_noticed(ledger, change):
    (first,) = append(ledger, "RO-1", 1)
    append(ledger, "RO-1", 2)
    ledger.show("RO-1")
    with (
        closing(sqlite3.connect(ledger.store.path, isolation_level=None)) as db,
        unguarded(db),
    ):
        db.execute(f"update entry set {change} where seq = {first}")
    with pytest.raises(LogError, match=f"entry {first}"):
        ledger.show("RO-1")


def test_one_of_a_log_that_went_another_way_is_proven_anew(ledger, tmp_path):
    """An older copy is grown, laid over the log, and gets back an entry it lacks."""
    append(ledger, "RO-0", 0)
    older = tmp_path / "older.auditlog"
    ledger.store.copy_to(older)
    shutil.copytree(folder_of(ledger.store.path), folder_of(older))
    (lost,) = append(ledger, "RO-1", 1)
    assert ledger.show("RO-1").lines
    for held in folder_of(older).glob("*newest*"):
        held.unlink()
    with Ledger.open(older) as forked:
        assert append(forked, "RO-2", 2, 3)[0] == lost
    with (
        closing(sqlite3.connect(older, isolation_level=None)) as copy,
        closing(sqlite3.connect(ledger.store.path, isolation_level=None)) as db,
    ):
        row = db.execute(f"select * from entry where seq = {lost}").fetchone()
        with unguarded(copy):
            copy.execute(f"delete from entry where seq = {lost}")
            copy.execute(f"insert into entry values ({','.join('?' * len(row))})", row)
        copy.backup(db)
    with pytest.raises(LogError):
        ledger.show("RO-1")


def test_its_memory_is_bounded(ledger, proven, monkeypatch):
    monkeypatch.setattr(proven_rows, "_MOST", 1_500)
    numbers = append(ledger, "RO-1", *range(10))
    for _ in range(2):
        assert len(ledger.show("RO-1").lines) == len(numbers)
    assert len(proven) == 2 * len(numbers)
    assert 0 < len(ledger.proven._rows) < len(numbers)
