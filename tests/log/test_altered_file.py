"""Whatever is altered in a log's file: it is refused, or nothing that is told differs.

Altered are single bits of the file, anywhere, and whole rows of every table, the tree
and the look-ups that are kept beside the entries among them. Then ``verify`` refuses
the log, or every answer of ``list``, ``show`` and ``packet`` is what it was.
"""

import shutil
import sqlite3
from dataclasses import asdict
from itertools import pairwise

import pytest
import sampling
from conftest import PASSPHRASE, judge, small_record

from auditkit.errors import AuditkitError, LogError
from auditkit.log.ledger import Ledger
from auditkit.log.verify_log import verify_file
from auditkit.proof.check_packet import verify_packet
from auditkit.proof.entry import parse_payload

TABLES = {
    "entry": (
        "seq",
        ["header", "payload", "signature", "leaf", "repair_order", "kind"],
    ),
    "checkpoint": ("size", ["note"]),
    "disclosure": ("rowid", ["seq", "digest", "disclosure"]),
    "node": ("place", ["hash"]),
    "repair_order": ("id", ["id", "first", "verdict"]),
    "mark": ("kind || value || seq", ["kind", "value", "seq"]),
}


def answers(path):
    """Return what the log tells, each answer by its question, or that it refuses."""
    told = {}

    def ask(name, question):
        try:
            told[name] = question()
        except AuditkitError as error:
            assert error.what_to_do, error
            told[name] = None

    try:
        ledger = Ledger.open(path)
    except LogError as error:
        assert error.what_to_do, error
        return told
    with ledger:
        ask("list", lambda: [asdict(line) for line in ledger.orders()])
        for order in ("RO-1", "RO-2", "RO-3"):
            ask(f"show {order}", lambda order=order: repr(ledger.show(order)))
            ask(f"packet {order}", lambda order=order: ledger.packet(order))
    return told


def verifies(path):
    """Return whether a log verifies; a file that cannot be read does not."""
    try:
        return verify_file(path).verified
    except LogError as error:
        assert error.what_to_do, error
        return False


@pytest.fixture
def path(closed, catalogue):
    """Return a log of two closed repair orders and an open one, all in its file."""
    record = small_record("RO-3")
    closed.record(
        record, judge(catalogue, record), passphrase=PASSPHRASE, keep_open=True
    )
    closed.store._db.execute("pragma wal_checkpoint(truncate)")
    closed.close()
    return closed.store.path


def fault(path, before):
    """Return what is told otherwise; empty where nothing is."""
    told = answers(path)
    return ", ".join(
        name
        for name in before
        if told.get(name) != before[name] and not _says_lost(told.get(name))
    )


def _says_lost(answer):
    """Whether an answer says that a withheld text is lost: that is true then."""
    return isinstance(answer, str) and "state='lost'" in answer


def test_a_bit_anywhere_in_the_file(path, tmp_path):
    whole = path.read_bytes()
    before = answers(path)
    assert [name for name, told in before.items() if told is None] == ["packet RO-3"]
    assert not any(_says_lost(told) for told in before.values())
    assert verifies(path)
    places = sampling.sampled(range(len(whole)), 100, "bits of a log's file")
    chance = sampling.chance("which bit of a byte")
    refused, silent = 0, []
    altered = tmp_path / "altered" / path.name
    altered.parent.mkdir()
    shutil.copytree(path.with_name(f"{path.name}.keys"), f"{altered}.keys")
    for place in places:
        changed = bytearray(whole)
        changed[place] ^= 1 << chance.randrange(8)
        altered.write_bytes(changed)
        is_refused = not verifies(altered)
        if not is_refused and (said := fault(altered, before)):
            silent.append((place, said))
        refused += is_refused
        for left in altered.parent.glob("*-wal"), altered.parent.glob("*-shm"):
            for file in left:
                file.unlink()
    assert "\n".join(map(str, silent)) == ""
    assert refused > len(places) // 8


def test_a_page_of_another_kind_than_it_is(path, tmp_path):
    """The first byte of a page says what it is (SQLite's file format, section 1.6)."""
    whole = path.read_bytes()
    size = int.from_bytes(whole[16:18])
    before, altered = answers(path), tmp_path / "altered" / path.name
    altered.parent.mkdir()
    shutil.copytree(path.with_name(f"{path.name}.keys"), f"{altered}.keys")
    refused = 0
    for place in range(size, len(whole), size):
        for kind in (0x02, 0x05, 0x0A, 0x0D, 0xFF):
            changed = bytearray(whole)
            changed[place] = kind
            altered.write_bytes(changed)
            is_refused = not verifies(altered)
            assert is_refused or not fault(altered, before), (place, kind)
            refused += is_refused
    assert refused > len(whole) // size


def alterations(path):
    """Yield what can be done to each row of each table, in words and in SQL."""
    database = sqlite3.connect(path)
    for table, (key, columns) in TABLES.items():
        rows = [
            row[0]
            for row in database.execute(
                f"select quote({key}) from {table} order by {key}"
            )
        ]
        assert rows or table == "mark", table
        names = ", ".join(columns)
        beyond = f"{key} + 1000"
        for row in rows:
            yield f"drop {table} {row}", [f"delete from {table} where {key} = {row}"]
            other = {
                "entry": f"{beyond}, {names}",
                "checkpoint": f"{beyond}, {names}",
                "disclosure": "seq, digest || 'x', disclosure",
                "node": f"{beyond}, {names}",
                "repair_order": "id || 'x', first, verdict",
                "mark": "kind, value || 'x', seq",
            }[table]
            copy = f"select {other} from {table} where {key} = {row}"
            yield f"double {table} {row}", [f"insert into {table} {copy}"]
        for one, two in pairwise(rows):
            for column in columns:
                pair = f"where {key} in ({one}, {two})"
                (a,), (b,) = database.execute(
                    f"select quote({column}) from {table} {pair} order by {key}"
                )
                if a == b:
                    continue
                cases = f"case {key} when {one} then {b} else {a} end"
                swap = f"update {table} set {column} = {cases} {pair}"
                yield f"swap {column} of {table} {one} and {two}", [swap]
    database.close()


def altered_by(path, statements):
    """Alter a log as one does who puts its triggers back afterwards."""
    database = sqlite3.connect(path)
    guards = database.execute(
        "select name, sql from sqlite_master where type = 'trigger'"
    ).fetchall()
    for name, _ in guards:
        database.execute(f"drop trigger {name}")
    try:
        for statement in statements:
            database.execute(statement)
    except sqlite3.IntegrityError:
        return False  # the table itself refuses it
    finally:
        for _, sql in guards:
            database.execute(sql)
        database.commit()
        database.close()
    return True


def test_a_row_of_any_table(path, tmp_path):
    before = answers(path)
    every = [*alterations(path)]
    chosen = sampling.sampled(every, 60, "rows of a log's file")
    assert {what.split()[0] for what, _ in chosen} == {"drop", "double", "swap"}
    altered = tmp_path / "altered" / path.name
    altered.parent.mkdir()
    shutil.copytree(path.with_name(f"{path.name}.keys"), f"{altered}.keys")
    silent, done = [], 0
    for what, statements in chosen:
        shutil.copy(path, altered)
        if altered_by(altered, statements):
            done += 1
            if verifies(altered) and (said := fault(altered, before)):
                silent.append((what, said))
    assert "\n".join(map(str, silent)) == ""
    assert done > len(chosen) // 2


def test_what_is_altered_is_refused_and_not_presented(path):
    """Also without ``verify``: what is read is held against signature and place."""
    better = "replace(payload, 'unproven', 'proven')"
    altered_by(path, [f"update entry set payload = {better} where seq = 4"])
    with Ledger.open(path) as ledger:
        lines = ledger.orders()
        assert [line.id for line in lines] == ["RO-1", "RO-2", "RO-3"]
        assert [bool(line.problem) for line in lines] == [True, False, False]
        assert "signature" in lines[0].problem
        for ask in (ledger.show, ledger.packet):
            with pytest.raises(LogError, match="entry 4 is not as it was signed"):
                ask("RO-1")


def test_what_is_altered_is_not_built_upon(path, catalogue):
    seq = 0
    with Ledger.open(path) as ledger:
        seq = ledger.show("RO-3").lines[0].seq
        size = ledger.store.head()[0]
    altered_by(path, [f"update entry set kind = 'note' where seq = {seq}"])
    record = small_record("RO-3", extra=1)
    with Ledger.open(path) as ledger:
        with pytest.raises(LogError, match=f"entry {seq} is not as it was signed"):
            ledger.record(
                record,
                judge(catalogue, record),
                passphrase=PASSPHRASE,
                keep_open=True,
            )
        assert ledger.store.head()[0] == size


def test_an_entry_of_a_fork_in_its_place_is_refused(path, catalogue, tmp_path):
    """It is signed by the right person, under the right number; its place tells."""
    fork = tmp_path / "fork" / path.name
    fork.parent.mkdir()
    shutil.copy(path, fork)
    shutil.copytree(path.with_name(f"{path.name}.keys"), f"{fork}.keys")
    for where, complaint in ((path, 1), (fork, 2)):
        record = small_record("RO-9", extra=complaint)
        with Ledger.open(where) as ledger:
            ledger.record(
                record, judge(catalogue, record), passphrase=PASSPHRASE, keep_open=True
            )
            rows = {row.entry.seq: row for row in ledger.store.rows()}
            own = [row for row in rows.values() if row.repair_order == "RO-9"]
            if where == path:
                seq, truth = own[0].entry.seq, own[0]
            else:
                strange = rows[seq]
    assert parse_payload(strange.entry.payload).seq == seq
    cells = [
        f"{name} = x'{value.hex()}'"
        if isinstance(value, bytes)
        else f"{name} = '{value}'"
        for name, value in (
            ("signature", strange.entry.signature),
            ("leaf", strange.leaf),
            ("payload", strange.entry.payload.replace("'", "''")),
        )
    ]
    assert strange.leaf != truth.leaf
    altered_by(path, [f"update entry set {', '.join(cells)} where seq = {seq}"])
    with Ledger.open(path) as ledger, pytest.raises(LogError, match="does not"):
        ledger.show("RO-9")


def test_a_packet_that_is_written_verifies(path):
    with Ledger.open(path) as ledger:
        assert verify_packet(ledger.packet("RO-1")).verified
        key = ledger.log_key.thumbprint
    altered_by(path, ["delete from entry where kind = 'diagnosis' or seq = 3"])
    with Ledger.open(path) as ledger, pytest.raises(LogError) as caught:
        ledger.packet("RO-1")
    assert caught.value.what_to_do
    assert key


def test_every_byte_of_a_checkpoint(path):
    with Ledger.open(path) as ledger:
        text = ledger.checkpoint()
    assert verify_file(path, trust=text).verified
    silent = []
    for place in range(len(text)):
        letter = chr(ord(text[place]) ^ 1)
        changed = text[:place] + letter + text[place + 1 :]
        try:
            if verify_file(path, signatures=False, trust=changed).verified:
                silent.append(place)
        except AuditkitError as error:
            assert error.what_to_do, error
    assert "\n".join(map(str, silent)) == ""
