"""Verifying again costs what is new, and says what it rests on."""

import json
import shutil
import sqlite3
from contextlib import closing
from datetime import UTC, datetime

import pytest
from conftest import PASSPHRASE, forced, small_record
from unguarded import unguarded

from auditkit.errors import InputError
from auditkit.log import verify_log
from auditkit.log.check_pointers import rebuild
from auditkit.log.ledger import Ledger
from auditkit.log.store import Store
from auditkit.log.verified_state import format_state, parse_state
from auditkit.log.verify_since import verify_since
from auditkit.proof import merkle
from auditkit.proof.check_report import Unmet

EVENT = small_record().events[1]
MONDAY = datetime(2026, 3, 2, 18, tzinfo=UTC)


def grow(ledger, count, order="RO-9"):
    signer = ledger.signer("mechanic-1", PASSPHRASE)
    ledger.append(order, [EVENT] * count, person="mechanic-1", signer=signer)


def again(ledger, state, **how):
    return verify_since(ledger.store, state, clock=lambda: MONDAY, **how)


@pytest.fixture
def state(closed):
    """Return what was kept of a log of 18 entries."""
    grow(closed, 10)
    report, kept = again(closed, None)
    assert report.verified
    assert report.since == 0
    return kept


def test_what_is_kept_says_how_far_and_comes_back_as_it_was(closed, state):
    assert state.size == 18
    assert bytes.fromhex(state.root) == merkle.root(closed.store.leaves())
    assert state.own == (0, 1)
    assert state.verified_at == "2026-03-02T18:00:00+00:00"
    assert parse_state(format_state(state), where="x") == state


def test_only_what_is_new_is_read(closed, state, monkeypatch):
    grow(closed, 5)
    closed.enrol("tech-a", passphrase=PASSPHRASE)
    asked = []
    rows = Store.rows
    monkeypatch.setattr(
        Store,
        "rows",
        lambda self, low=None, high=None: asked.append(low) or rows(self, low, high),
    )
    report, new = again(closed, state)
    assert report.verified, report.problems
    assert (report.since, report.entries) == (18, 24)
    assert asked == [18]
    assert (new.size, new.own) == (24, (0, 1, 23))
    note = next(note for note in report.notes if "not read again" in note)
    assert note.startswith("the first 18 entries were verified on 2026-03-02T18:00:00")
    assert "6 entries since the last time, 24 in all" in report.lines("x")[0]
    assert again(closed, new).report.since == 24


ALTERED = {
    "update entry set signature = zeroblob(64) where seq = 20": 20,
    "update entry set payload = replace(payload, 'tool', 'x') where seq = 20": 20,
    "update entry set leaf = zeroblob(32) where seq = 22": 22,
    "delete from entry where seq = 20": 21,
    "update entry set repair_order = 'RO-1' where seq = 20": 20,
    "delete from entry where seq = 1": 2,
    "update entry set payload = replace(payload, 'manager', 'x') where seq = 1": 1,
}


def copy_of(log, path, *statements):
    log.store._db.execute("vacuum into ?", (str(path),))
    with closing(sqlite3.connect(path)) as db, db, unguarded(db):
        for statement in statements:
            assert db.execute(statement).rowcount > 0
    return path


@pytest.mark.parametrize("statement", ALTERED)
def test_what_is_altered_since_is_found_as_by_a_full_check(
    closed, state, tmp_path, statement
):
    grow(closed, 5)
    path = copy_of(closed, tmp_path / "altered", statement)
    store = Store.open(path)
    report, new = verify_since(store, state)
    store.close()
    assert ALTERED[statement] in {p.seq for p in report.problems}
    assert new is None


def test_what_is_altered_before_is_not_read_and_that_is_said(closed, state, tmp_path):
    change = "update entry set payload = replace(payload, 'tool 0', 'x') where seq = 9"
    grow(closed, 5)
    store = Store.open(copy_of(closed, tmp_path / "altered", change))
    report, _ = verify_since(store, state)
    assert report.verified
    assert any("what lies there now" in note for note in report.notes)
    assert not verify_log.verify_store(store).verified
    rebuild(store)  # as who alters an entry would, to make the tree fit it
    report, new = verify_since(store, state)
    said = [p.problem for p in report.problems if p.seq is None]
    assert any("are not those that were verified on 2026-03-02T18" in p for p in said)
    assert new is None
    store.close()


def test_an_older_copy_and_another_log_are_told(closed, state, tmp_path):
    older = tmp_path / "older.auditlog"
    closed.store._db.execute("vacuum into ?", (str(older),))
    shutil.copytree(closed.keys, tmp_path / "older.auditlog.keys")
    grow(closed, 3)
    _, newer = again(closed, state)
    with Ledger.open(older) as other:
        report, _ = again(other, newer)
        assert any("entries were removed" in p.problem for p in report.problems)
        grow(other, 3, "RO-10")
        report, _ = again(other, newer)
        assert any("not those that were verified" in p.problem for p in report.problems)
    with (
        Ledger.create(
            tmp_path / "b", shop="B", person="x", passphrase=PASSPHRASE
        ) as other,
        pytest.raises(InputError, match="this state is of another log"),
    ):
        again(other, state)


def test_a_false_tree_makes_the_whole_be_read(closed, state, tmp_path):
    change = "update node set hash = zeroblob(32) where place = 15"  # of the first 16
    grow(closed, 3)
    store = Store.open(copy_of(closed, tmp_path / "altered", change))
    report, _ = verify_since(store, state)
    store.close()
    assert [p.unmet for p in report.problems] == [Unmet.POINTERS]
    assert report.since == 0


def test_a_key_revoked_before_or_since_signs_nothing(closed, state):
    signer = closed.signer("mechanic-1", PASSPHRASE)
    closed.revoke("mechanic-1", reason="lost", passphrase=PASSPHRASE, is_last=True)
    report, later = again(closed, state)
    assert report.verified
    assert later.own == (0, 1, 18)
    (seq,) = forced(closed, "RO-9", [EVENT], "mechanic-1", signer)
    for kept in (state, later):
        report, _ = again(closed, kept)
        assert [p.seq for p in report.problems] == [seq]
        assert "revoked" in report.problems[0].problem


def test_what_is_erased_of_an_earlier_entry_is_proven_and_gone(closed, state):
    closed.erase("RO-1", paths=["customer.name"], reason="asked", passphrase=PASSPHRASE)
    report, new = again(closed, state)
    assert report.verified, report.problems
    assert again(closed, new).report.verified
    erased = next(iter(closed.ring.erased))
    with closed.store.transaction():
        closed.store._db.execute(
            "insert into disclosure values (2, ?, 'WyJhIiwibmFtZSIsIngiXQ')", (erased,)
        )
    report, _ = again(closed, new)
    assert any("erased is kept still" in p.problem for p in report.problems)


def test_an_earlier_checkpoint_is_held_against_what_is_known(closed, state):
    texts = dict(closed.store.checkpoints())
    grow(closed, 3)
    for size in (2, 5, 8):
        assert again(closed, state, trust=texts[size]).report.verified
    report, _ = again(closed, state, trust=texts[8].replace("\n8\n", "\n9\n"))
    assert not report.verified


def test_many_new_entries_are_checked_in_parts(closed, state, monkeypatch):
    grow(closed, 60)
    monkeypatch.setattr(verify_log, "SMALL", 10)
    seen = []
    report, new = again(closed, state, progress=lambda *at: seen.append(at))
    assert report.verified, report.problems
    assert seen[-1] == (60, 60)
    assert new.size == 78


@pytest.mark.parametrize(
    "change",
    [
        lambda m: {**m, "size": m["size"] + 0.5},
        lambda m: {**m, "size": str(m["size"])},
        lambda m: {**m, "own": [1, 0]},
        lambda m: {**m, "own": []},
        lambda m: {**m, "own": [0, 99]},
        lambda m: {**m, "own": "01"},
        lambda m: {**m, "root": "0"},
        lambda m: {**m, "format": "auditkit/verified@2"},
        lambda m: {**m, "more": 1},
        lambda m: {k: v for k, v in m.items() if k != "origin"},
        lambda m: [m],
    ],
)
def test_a_state_in_another_form_is_refused(state, change):
    members = json.loads(format_state(state))
    text = json.dumps(change(members), sort_keys=True, separators=(",", ":")) + "\n"
    with pytest.raises(InputError):
        parse_state(text, where="monday.state")


def test_the_command_keeps_its_state(closed, tmp_path, run):
    path, kept = closed.store.path, tmp_path / "kept.state"
    status, out, _ = run("verify", path, "--since", kept)
    assert (status, "record unaltered: 8 entries" in out) == (0, True)
    first = kept.read_text("utf-8")
    grow(closed, 4)
    status, out, _ = run("verify", path, "--since", kept, "--format", "json")
    assert status == 0
    assert (json.loads(out)["since"], json.loads(out)["entries"]) == (8, 12)
    assert kept.read_text("utf-8") != first
    for asked, said in (
        (("--since", kept, "--skip-signatures"), "leave out one of the two"),
        (("--since", tmp_path), "it cannot be read"),
        (("--since", path), "is not UTF-8 text"),
        (("--since", tmp_path / "readout.txt"), "it is not JSON"),
        (("--since", tmp_path / "none" / "x"), "it cannot be written"),
    ):
        status, _, err = run("verify", path, *asked)
        assert (status, said in err) == (2, True), err
    status, _, err = run("verify", "RO-1001.json", "--since", kept)
    assert (status, "--since" in err) == (2, True)
