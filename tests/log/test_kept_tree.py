"""The tree and the look-ups kept beside the entries: quick, and never trusted.

What is right is computed from all leaves, as RFC 9162 section 2.1 has it.
"""

import sqlite3
from contextlib import closing

import pytest
from conftest import PASSPHRASE, judge, small_record
from hypothesis import given, settings
from hypothesis import strategies as st

from auditkit.errors import LogError
from auditkit.log.check_pointers import rebuild
from auditkit.log.ledger import Ledger
from auditkit.log.store import Store
from auditkit.log.verify_log import verify_file
from auditkit.proof import merkle
from auditkit.proof.check_packet import verify_packet
from auditkit.proof.check_report import Unmet
from auditkit.proof.merkle import Frontier

EVENT = small_record().events[1]


def leaves(count):
    return [merkle.leaf_hash(bytes([n % 256, n // 256])) for n in range(count)]


def nodes_of(found):
    """Return every complete subtree with more than one leaf, from the leaves alone."""
    return {
        merkle.place(level, index): merkle.root(found[index << level :][: 1 << level])
        for level in range(1, len(found).bit_length())
        for index in range(len(found) >> level)
    }


@given(st.integers(0, 130))
def test_a_growing_tree_notes_each_complete_subtree_once(size):
    tree, made = Frontier(), []
    for leaf in leaves(size):
        tree.append(leaf, made)
    assert dict(made) == nodes_of(leaves(size))
    assert len(made) == len(dict(made))
    assert tree.root() == merkle.root(leaves(size))
    again = Frontier.of(size, tree.peaks, tree.last)
    assert again.root() == tree.root()


@given(st.lists(st.integers(0, 70), max_size=6))
def test_many_leaves_at_once_make_the_tree_of_each_in_turn(parts):
    found, tree, at = leaves(sum(parts)), Frontier(), 0
    for size in parts:
        tree.extend(found[at : at + size])
        at += size
        assert tree.root() == merkle.root(found[:at])
    assert (tree.size, tree.last) == (len(found), found[-1] if found else None)


@settings(max_examples=30)
@given(st.integers(1, 200), st.data())
def test_proofs_from_subtrees_are_those_from_leaves(size, data):
    found = leaves(size)
    kept = {merkle.place(0, n): leaf for n, leaf in enumerate(found)} | nodes_of(found)

    def root_of(low, high):
        return merkle.fold(
            [kept[merkle.place(*at)] for at in merkle.complete(low, high)]
        )

    index = data.draw(st.integers(0, size - 1))
    old = data.draw(st.integers(1, size))
    assert merkle.inclusion_path(size, index, root_of) == merkle.prove_inclusion(
        found, index
    )
    assert merkle.consistency_path(size, old, root_of) == merkle.prove_consistency(
        found, old
    )


def grow(ledger, count, order="RO-9"):
    signer = ledger.signer("mechanic-1", PASSPHRASE)
    ledger.append(order, [EVENT] * count, person="mechanic-1", signer=signer)


@pytest.fixture
def log(closed):
    """Return a log of 41 entries, with two closed repair orders near its beginning."""
    grow(closed, 30)
    closed.enrol("tech-a", passphrase=PASSPHRASE)
    grow(closed, 2, "RO-10")
    assert closed.store.head()[0] == 41
    return closed


def test_what_is_kept_is_the_tree_of_the_entries(log):
    store = log.store
    assert dict(store.pointers.nodes()) == nodes_of(store.leaves())
    assert log.tree.frontier().root() == merkle.root(store.leaves())
    for size in range(1, 42):
        assert log.tree.root(size) == merkle.root(store.leaves()[:size])


def copy_of(log, tmp_path, statement, *values):
    path = tmp_path / "altered.auditlog"
    path.unlink(missing_ok=True)
    log.store._db.execute("vacuum into ?", (str(path),))
    with closing(sqlite3.connect(path)) as db, db:
        assert db.execute(statement, values).rowcount > 0
    return path


def test_each_altered_node_is_refused_where_it_counts_and_never_signed(log, tmp_path):
    """Whatever node is false: no root of another tree, and no proof that fails."""
    right = merkle.root(log.store.leaves())
    seen = {"sign": 0, "prove": 0}
    for place, _ in list(log.store.pointers.nodes()):
        change = "update node set hash = zeroblob(32) where place = ?"
        path = copy_of(log, tmp_path, change, place)
        with Ledger.open(path) as other:
            try:
                assert other.tree.frontier().root() == right
            except LogError as error:
                seen["sign"] += 1
                assert "another root over those before it" in error.message
                assert "--rebuild" in error.what_to_do
                with pytest.raises(LogError, match="does not fit its entries"):
                    other.may_write()
            for order in ("RO-1", "RO-2"):
                try:
                    text = other.packet(order)
                except LogError as error:
                    seen["prove"] += 1
                    assert "the tree does not fit its entries" in error.message
                else:
                    assert verify_packet(text).verified
        report = verify_file(path)
        assert [p.unmet for p in report.problems] == [Unmet.POINTERS]
        assert "the tree kept beside" in report.problems[0].problem
        assert verify_file(path, anew=True).verified
    # 40 entries before the last: subtrees of 32 and 8. Two packets use some others.
    assert seen["sign"] == 2
    assert seen["prove"] > 5


@pytest.mark.parametrize(
    ("statement", "what"),
    [
        ("delete from node where place = 1", "the tree"),
        ("insert into node values (10000, zeroblob(32))", "the tree"),
        ("delete from repair_order where id = 'RO-2'", "the table of repair orders"),
        ("update repair_order set verdict = null", "the table of repair orders"),
        ("update repair_order set first = first + 1", "the table of repair orders"),
        ("insert into repair_order values ('RO', 1, 2)", "the table of repair orders"),
        ("delete from mark where kind = 'vin'", "the table of marks"),
        ("update mark set seq = 3 where kind = 'day' and seq = 2", "the table of"),
        ("insert into mark values ('said', 'x', 2)", "the table of marks"),
    ],
)
def test_a_false_pointer_is_told_apart_from_an_altered_entry(
    log, tmp_path, statement, what, run
):
    path = copy_of(log, tmp_path, statement)
    report = verify_file(path)
    assert [(p.seq, p.unmet) for p in report.problems] == [(None, Unmet.POINTERS)]
    assert report.problems[0].problem.startswith(what)
    status, out, _ = run("verify", path)
    assert status == 1
    assert "what is kept beside its entries is not made of them" in out
    assert "what to do: give 'auditkit verify --rebuild'" in out
    status, out, _ = run("verify", path, "--rebuild")
    assert (status, "record unaltered: 41 entries" in out) == (0, True)
    assert verify_file(path).verified


def test_a_false_pointer_makes_no_false_answer(log, tmp_path):
    """It only points: the entry is opened, and what it says counts."""
    change = "insert into mark values ('vin', '1ABCD23EFGH456789', 2)"
    with Ledger.open(copy_of(log, tmp_path, change)) as other:
        assert other.orders(vin="1ABCD23EFGH456789") == ()
        assert other.holders("vin", "1ABCD23EFGH456789") == frozenset()
    change = "insert into repair_order values ('RO-77', 3, null)"
    with Ledger.open(copy_of(log, tmp_path, change)) as other:
        assert "RO-77" not in [line.id for line in other.orders()]
    change = "update repair_order set verdict = null where id = 'RO-1'"
    with Ledger.open(copy_of(log, tmp_path, change)) as other:
        assert "RO-1" not in [line.id for line in other.orders(only_open=True)]
    change = "insert into mark select 'waits', '', verdict from repair_order"
    change += " where verdict not null"
    with Ledger.open(copy_of(log, tmp_path, change)) as other:
        assert other.orders(only_open=True) == log.orders(only_open=True)
    change = "insert into mark values ('day', '2026-03-02', 999)"
    with Ledger.open(copy_of(log, tmp_path, change)) as other:
        assert [line.id for line in other.orders(day="2026-03-02")] == ["RO-1", "RO-2"]


def test_pointers_are_rebuilt_as_they_were_written(log):
    before = [list(table()) for table in _tables(log.store)]
    assert all(before)
    rebuild(log.store)
    assert [list(table()) for table in _tables(log.store)] == before


def _tables(store: Store):
    return store.pointers.nodes, store.pointers.orders, store.pointers.marks


def test_what_is_not_committed_is_in_no_tree(log, catalogue):
    """An attempt that fails leaves the tree in memory as it was, too."""
    before = dict(log.store.pointers.nodes())
    with pytest.raises(RuntimeError), log.writing() as writer:
        writer.add("RO-9", EVENT, "mechanic-1", log.signer("mechanic-1", PASSPHRASE))
        writer.flush()
        raise RuntimeError
    assert dict(log.store.pointers.nodes()) == before
    given = small_record("RO-3")
    log.record(
        given,
        judge(catalogue, given),
        passphrase=PASSPHRASE,
        by="mechanic-1",
        unproven_reason="test",
    )
    assert log.verify().verified


def test_two_programs_that_write_in_turns_keep_one_tree(log):
    with Ledger.open(log.store.path) as other:
        for _ in range(3):
            grow(log, 1)
            grow(other, 2)
    report = log.verify()
    assert (report.verified, report.entries) == (True, 50)


def test_a_key_that_another_program_enrolled_is_known(log):
    """Whoever has the log open for long proves what it signed since, too."""
    with Ledger.open(log.store.path) as other:
        other.enrol("tech-b", passphrase=PASSPHRASE)
        signer = other.signer("tech-b", PASSPHRASE)
        event = {**EVENT, "by": "tech-b"}
        other.append("RO-10", [event], person="tech-b", signer=signer)
    assert log.tree.frontier().size == 43
    assert verify_packet(log.packet("RO-1")).verified
    assert log.checkpoint()


def test_an_altered_last_entry_is_not_built_upon(log, tmp_path):
    from unguarded import unguarded

    path = tmp_path / "altered.auditlog"
    log.store._db.execute("vacuum into ?", (str(path),))
    with closing(sqlite3.connect(path)) as db, db, unguarded(db):
        change = "payload = replace(payload, 'tool 0', 'tool 9')"
        db.execute(f"update entry set {change} where seq = 40")
    with (
        Ledger.open(path) as other,
        pytest.raises(LogError, match="entry 40 does not hold: the signature"),
    ):
        other.tree.frontier()


def test_reading_one_order_reads_little_of_the_log(log):
    """How many steps SQLite takes does not grow with the log, also for appending."""

    def steps(call):
        nonlocal count
        count = 0
        log.store._db.set_progress_handler(step, 10)
        call()
        log.store._db.set_progress_handler(None, 0)
        return count

    def work():
        log.show("RO-1")
        log.packet("RO-1")
        log.orders(most=2)
        log.holders("vin", "none such")
        log.tree.frontier()
        log.checkpoint()
        with Ledger.open(log.store.path) as other:  # as a command does
            other.store._db.set_progress_handler(step, 10)
            grow(other, 1, "RO-1000")

    count = 0

    def step():
        nonlocal count
        count += 1

    few = steps(work)
    for n in range(200):
        grow(log, 10, f"RO-{n + 11}")
    assert steps(work) < 1.5 * few
