"""A log, altered in every way at hand, is found out with its sequence number."""

import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from conftest import PASSPHRASE, close_order, forced, small_record
from sampling import sampled
from unguarded import unguarded
from web_corpus import SECOND, Forge

from auditkit.errors import KeyProblem
from auditkit.log.check_pointers import rebuild
from auditkit.log.key_files import load
from auditkit.log.ledger import Ledger
from auditkit.log.store import Store
from auditkit.log.succession import succeed
from auditkit.log.verify_log import verify_file
from auditkit.proof import check_chain, merkle, note
from auditkit.proof.check_packet import verify_packet
from auditkit.proof.entry import LOG_SIGNER, Payload, parse_payload, sign
from auditkit.proof.note import Checkpoint
from auditkit.proof.role import Role
from auditkit.reader.one_file import ed25519, main


@pytest.fixture
def copy(closed, tmp_path):
    """Return a function that alters a copy of the log and verifies it.

    Its pointers are made anew, as a careful forger would do, unless told otherwise.
    """
    closed.store._db.execute("pragma wal_checkpoint(truncate)")

    def altered(*statements, trust=None, anew=True):
        path = tmp_path / "copy.auditlog"
        path.unlink(missing_ok=True)
        shutil.copy(closed.store.path, path)
        db = sqlite3.connect(path)
        with unguarded(db):
            for given in statements:
                values = ()
                statement = given
                if isinstance(given, tuple):
                    statement, values = given
                assert db.execute(statement, values).rowcount != 0, statement
        db.commit()
        db.close()
        return verify_file(path, trust=trust, anew=anew)

    return altered


def seqs(report):
    return {p.seq for p in report.problems}


def test_untouched_copy_verifies(copy):
    assert copy().verified


@pytest.mark.parametrize(
    "statement",
    [
        "update entry set payload = replace(payload, 'tool 0', 'tool 9') where seq = 3",
        "update entry set signature = zeroblob(64) where seq = 3",
        "update entry set signature = x'00' where seq = 3",
        'update entry set header = \'{"alg":"none"}\' where seq = 3',
        "update entry set leaf = zeroblob(32) where seq = 3",
        "update entry set kind = 'repair' where seq = 3",
        "update entry set repair_order = 'RO-2' where seq = 3",
        "update entry set payload = '{' where seq = 3",
    ],
)
def test_altered_entry_is_named(copy, statement):
    report = copy(statement)
    assert not report.verified
    assert 3 in seqs(report)


def test_altered_entry_is_found_without_signatures_too(closed, tmp_path, copy):
    copy("update entry set payload = replace(payload, 'tool 0', 'tool 9') where seq=3")
    report = verify_file(tmp_path / "copy.auditlog", signatures=False)
    assert not report.verified
    assert 3 in seqs(report)


def test_removed_entry_is_a_gap(copy):
    report = copy("delete from entry where seq = 3")
    assert any("entry 3 is missing" in p.problem for p in report.problems)


def test_swapped_entries(copy):
    report = copy(
        "update entry set seq = -1 where seq = 3",
        "update entry set seq = 3 where seq = 4",
        "update entry set seq = 4 where seq = -1",
    )
    assert {3, 4} <= seqs(report)


COLUMNS = "header, payload, signature, leaf, repair_order, kind"


@pytest.mark.parametrize("place", [8, 20])
def test_duplicated_entry(copy, place):
    """The very bytes of an entry, signature and all, once more at the end."""
    report = copy(
        f"insert into entry select {place}, {COLUMNS} from entry where seq = 3"
    )
    assert place in seqs(report)
    said = [p.problem for p in report.problems if p.seq == place]
    assert any(
        f"column says sequence number {place}, what was signed 3" in p for p in said
    )
    assert any("does not name the leaf hash of the entry before" in p for p in said)


def test_entry_replayed_from_another_log_of_the_same_shop(closed, copy, tmp_path):
    """The same keys under another name: an entry of there is none of here."""
    path = tmp_path / "second.auditlog"
    succeed(closed.store.path, path, reason="a test", passphrase=PASSPHRASE)
    with Ledger.open(path) as other:
        signer = other.signer("mechanic-1", PASSPHRASE)
        events = [small_record().events[1]] * 7
        other.append("RO-9", events, person="mechanic-1", signer=signer)
        row = next(iter(other.store.rows(8, 9)))
    given = (8, row.entry.header, row.entry.payload, row.entry.signature)
    statement = "insert into entry values (?, ?, ?, ?, ?, ?, ?)"
    report = copy((statement, (*given, row.leaf, row.repair_order, row.kind)))
    assert any("written for another log" in p.problem for p in report.problems)


def test_removed_tail_is_found_by_its_checkpoint(copy):
    report = copy("delete from entry where seq = 7")
    assert any("entries were removed" in p.problem for p in report.problems)


def test_tail_removed_with_its_checkpoint_needs_an_outside_checkpoint(closed, copy):
    removal = (
        "delete from entry where seq >= 5",
        "delete from disclosure where seq >= 5",
        "delete from checkpoint where size > 5",
    )
    assert copy(*removal).verified, "a chain alone cannot show a missing tail"
    report = copy(*removal, trust=closed.checkpoint())
    assert not report.verified
    assert any("entries were removed" in p.problem for p in report.problems)


def test_checkpoint_of_another_root(copy):
    report = copy("update checkpoint set note = replace(note, char(10), ' ')")
    assert not report.verified


def test_lost_disclosure_is_no_alteration_but_a_false_one_is(copy):
    assert copy("delete from disclosure where seq = 2").verified
    report = copy(
        "update disclosure set disclosure = (select max(disclosure) from disclosure"
        " where seq = 5) where seq = 2"
    )
    assert 2 in seqs(report)


def rewrite(closed, path: Path, edit, roots=()) -> None:
    """Rewrite a whole log with the shop's own keys, as the shop itself could.

    ``roots`` are false ones to be stated: sequence number -> root in hex.
    """
    log_key = load(closed.keys, LOG_SIGNER, PASSPHRASE)
    mechanic = load(closed.keys, "mechanic-1", PASSPHRASE)
    store = Store.create(path)
    rows, previous = [], None
    for row in closed.store.rows():
        old = parse_payload(row.entry.payload)
        payload = Payload(
            by=old.by,
            event=edit(dict(old.event)),
            key=old.key,
            log=old.log,
            prev=None if previous is None else previous.hex(),
            recorded_at=old.recorded_at,
            repair_order=old.repair_order,
            root=dict(roots).get(old.seq) or merkle.root([r.leaf for r in rows]).hex(),
            seq=old.seq,
            withheld=old.withheld,
            form=old.form,
        )
        sealed = sign(payload, log_key if old.by == LOG_SIGNER else mechanic)
        previous = sealed.leaf
        rows.append(type(row)(sealed, sealed.leaf, row.repair_order, row.kind))
    with store.transaction():
        store.append(rows)
        store.add_disclosures(closed.store.disclosures())
        for size, _ in closed.store.checkpoints():
            root = merkle.root([row.leaf for row in rows[:size]])
            head = Checkpoint(closed.origin, size, root)
            store.add_checkpoint(size, note.sign_checkpoint(head, log_key))
    rebuild(store)
    store.close()


@pytest.mark.parametrize("seq", range(8))
def test_a_false_root_is_found_in_any_entry(closed, tmp_path, seq):
    path = tmp_path / "rewritten.db"
    rewrite(closed, path, lambda event: event, {seq: "0" * 64})
    report = verify_file(path)
    said = [(p.seq, p.problem) for p in report.problems]
    assert said == [(seq, "its root is not that of the entries before it")]


def test_the_quick_check_reads_roots_at_checkpoints_and_the_last(closed, tmp_path):
    """Its note says so: the first entry after a checkpoint, and the last entry."""
    size = closed.store.head()[0]
    at = {n for n, _ in closed.store.checkpoints() if n < size} | {size - 1}
    assert at == {2, 5, 7}
    found = set()
    for seq in range(size):
        path = tmp_path / f"{seq}.db"
        rewrite(closed, path, lambda event: event, {seq: "0" * 64})
        report = verify_file(path, signatures=False)
        if not report.verified:
            found |= seqs(report)
    assert found == at
    clean = closed.verify(signatures=False)
    assert clean.verified
    assert any("those of the last entry and of those at" in n for n in clean.notes)


def test_where_one_entry_is_altered_the_roots_after_it_say_so_once(copy):
    report = copy(
        "update entry set payload = replace(payload, 'tool 0', 'tool 9') where seq = 3"
    )
    told = [p for p in report.problems if "root is not that" in p.problem]
    assert [p.seq for p in told] == [4]


def test_history_rewritten_with_the_shops_own_keys(closed, tmp_path):
    def edit(event):
        if event.get("tool") == "tool 0":
            event["tool"] = "tool 1"
        return event

    path = tmp_path / "rewritten.auditlog"
    rewrite(closed, path, edit)
    assert verify_file(path).verified, "in itself the new history is sound"
    report = verify_file(path, trust=closed.checkpoint())
    assert any("another root" in p.problem for p in report.problems)


def test_fork_is_shown_by_either_sides_checkpoint(closed, catalogue, tmp_path):
    closed.store._db.execute("pragma wal_checkpoint(truncate)")
    fork = tmp_path / "fork" / "shop.auditlog"
    shutil.copytree(closed.keys, fork.with_name("shop.auditlog.keys"))
    shutil.copy(closed.store.path, fork)
    with Ledger.open(fork) as other:
        for ledger, order_id in ((closed, "RO-3"), (other, "RO-4")):
            close_order(ledger, catalogue, order_id)
        assert other.verify().verified
        report = other.verify(trust=closed.checkpoint())
        assert any("another root" in p.problem for p in report.problems)


def test_entry_signed_by_a_revoked_key(closed):
    signer = closed.signer("mechanic-1", PASSPHRASE)
    closed.revoke("mechanic-1", reason="lost", passphrase=PASSPHRASE, is_last=True)
    event = small_record().events[1]
    (seq,) = forced(closed, "RO-9", [event], "mechanic-1", signer)
    report = closed.verify()
    assert [p.seq for p in report.problems] == [seq]
    assert "revoked" in report.problems[0].problem


def test_an_onlookers_entry_counts_nowhere(closed, tmp_path, monkeypatch, capsys):
    """Neither in the log, nor in a packet, nor for what the one-file verifier runs."""
    closed.enrol("eyes-1", passphrase=PASSPHRASE, role=Role.ONLOOKER)
    assert closed.verify().verified
    signer = closed.own_key("eyes-1", PASSPHRASE)
    event = {**small_record().events[1], "by": "eyes-1"}
    with pytest.raises(KeyProblem, match="no active key of 'eyes-1'"):
        closed.append("RO-1", [event], person="eyes-1", signer=signer)
    (seq,) = forced(closed, "RO-1", [event], "eyes-1", signer)
    (problem,) = closed.verify().problems
    assert problem.seq == seq
    assert problem.problem == "'eyes-1' is enrolled as onlooker, and signs nothing"
    forge = Forge().enrol().enrol("eyes-1", SECOND, role="onlooker").work()
    forged = forge.add(event, "eyes-1", SECOND).verdict().packet()
    assert any("signs nothing" in p.problem for p in verify_packet(forged).problems)
    packet = tmp_path / "packet.json"
    packet.write_text(forged, "utf-8")
    monkeypatch.setattr("auditkit.proof.ed25519.fits", ed25519.fits)
    assert main.main([str(packet)]) == 1
    assert "signs nothing" in capsys.readouterr().out


def test_unexpected_key_is_said(closed):
    report = closed.verify(expect_key="A" * 43)
    assert not report.verified
    assert "not the expected" in report.problems[0].problem


def test_every_byte_of_every_entry(closed):
    """Flip one bit of every byte of every signed column, or of a sample of them."""
    from auditkit.proof.check_log import check_part, read_keys
    from auditkit.proof.entry import Entry
    from auditkit.proof.judge_log import judge_log
    from auditkit.proof.row import Row

    rows = list(closed.store.rows())
    checkpoints = closed.store.checkpoints()
    silent, tried = [], []

    def checked(rows):
        keys = read_keys(row for row in rows if row.repair_order is None)
        return judge_log(keys, [check_part(rows, keys.ring)], checkpoints, ()).report

    assert checked(rows).verified

    for index, row in enumerate(rows):
        e = row.entry
        for name in ("header", "payload", "signature", "leaf"):
            data = row.leaf if name == "leaf" else getattr(e, name)
            raw = data.encode() if isinstance(data, str) else data
            step = 1 if index in (0, 3, 4) else 3
            tried += [(index, name, place) for place in range(0, len(raw), step)]
    assert len(tried) > 2000

    for index, name, place in sampled(tried, len(tried), "bytes of entries", 12):
        row = rows[index]
        e = row.entry
        data = row.leaf if name == "leaf" else getattr(e, name)
        flipped = bytearray(data.encode() if isinstance(data, str) else data)
        flipped[place] ^= 1 << (place % 7)
        value = (
            flipped.decode(errors="replace")
            if isinstance(data, str)
            else bytes(flipped)
        )
        parts = {"header": e.header, "payload": e.payload, "signature": e.signature}
        leaf = value if name == "leaf" else row.leaf
        if name != "leaf":
            parts[name] = value
        altered = Row(Entry(e.seq, **parts), leaf, row.repair_order, row.kind)
        found = checked([*rows[:index], altered, *rows[index + 1 :]])
        if found.verified or e.seq not in seqs(found):
            silent.append((e.seq, name, place))
    assert not silent


def test_log_checked_in_parts_by_several_processes(closed, monkeypatch, tmp_path):
    """Parts find what one walk finds, also at their edges."""
    from auditkit.log import verify_log

    signer = closed.signer("mechanic-1", PASSPHRASE)
    event = small_record().events[1]
    closed.append("RO-9", [event] * 60, person="mechanic-1", signer=signer)
    closed.store._db.execute("pragma wal_checkpoint(truncate)")
    monkeypatch.setattr(verify_log, "SMALL", 10)
    seen = []
    report = closed.verify(progress=lambda done, total: seen.append((done, total)))
    assert report.verified, report.problems
    assert seen[-1] == (report.entries, report.entries)
    assert len(seen) > 2
    path = tmp_path / "parts.auditlog"
    for statement in (
        "delete from entry where seq = 40",
        "update entry set signature = zeroblob(64) where seq = 17",
        "update entry set payload = replace(payload, 'tool', 'fool') where seq = 34",
        "delete from entry where seq between 30 and 55",
        "delete from entry where seq > 50",
        "update entry set leaf = zeroblob(32) where seq = 33",
        "update entry set seq = -5 where seq = 20",
    ):
        shutil.copy(closed.store.path, path)
        db = sqlite3.connect(path)
        with unguarded(db):
            db.execute(statement)
        db.commit()
        db.close()
        monkeypatch.setattr(verify_log, "SMALL", 10)
        parts = verify_file(path, trust=closed.checkpoint(), anew=True)
        monkeypatch.setattr(verify_log, "SMALL", 1000)
        whole = verify_file(path, trust=closed.checkpoint())
        assert parts.verified == whole.verified, statement
        if "seq > 50" not in statement:
            assert not parts.verified
            assert seqs(parts) & {17, 20, 30, 33, 34, 40, 41, 56, -5}
        monkeypatch.setattr(verify_log, "SMALL_CHAIN", 10)
        quick = verify_file(path, signatures=False, trust=closed.checkpoint())
        monkeypatch.setattr(verify_log, "SMALL_CHAIN", 1000)
        alone = verify_file(path, signatures=False, trust=closed.checkpoint())
        assert quick.verified == alone.verified
        assert quick.verified is whole.verified, statement
        path.unlink()


@pytest.mark.parametrize("together", [1, 2, 3, 512])
@pytest.mark.parametrize(
    "statement",
    [
        "select 1",
        "update entry set payload = replace(payload, 'tool', 'fool') where seq = 20",
        "update entry set leaf = zeroblob(32) where seq = 20",
        "update entry set signature = x'00' where seq = 20",
        "update entry set header = '' where seq = 20",
        "delete from entry where seq = 20",
        "update entry set seq = -5 where seq = 20",
    ],
)
def test_rows_are_looked_at_together_as_one_by_one(
    closed, monkeypatch, statement, together, tmp_path
):
    """The quick check takes sound rows together; what it says does not hang on that."""
    signer = closed.signer("mechanic-1", PASSPHRASE)
    event = small_record().events[1]
    closed.append("RO-9", [event] * 30, person="mechanic-1", signer=signer)
    path = tmp_path / "altered.auditlog"
    closed.store._db.execute("vacuum into ?", (str(path),))
    with closing(sqlite3.connect(path)) as db, db, unguarded(db):
        db.execute(statement)
    store = Store.open(path)
    monkeypatch.setattr(check_chain, "_TOGETHER", together)
    made = check_chain.check_chain(store.cells(), sizes={2, 5, 8, 21})
    monkeypatch.setattr(check_chain._Chain, "all_sound", lambda *_: False)
    alone = check_chain.check_chain(store.cells(), sizes={2, 5, 8, 21})
    store.close()
    assert made == alone
    assert bool(made.problems) is (statement != "select 1")


def test_low_order_key_enrolled_by_the_shop_itself(closed, tmp_path):
    """A shop that writes such an enrolment with its own key is found out."""

    def edit(event):
        if event["kind"] == "person_enrolled":
            event["key"] = "AQAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA"
        return event

    path = tmp_path / "low.auditlog"
    rewrite(closed, path, edit)
    report = verify_file(path)
    assert not report.verified
    assert any(p.seq == 1 and "low-order" in p.problem for p in report.problems)
    assert {2, 3, 4} <= seqs(report), "nothing signed under it is accepted"


def test_a_revocation_filed_under_a_repair_order_is_found(closed):
    """It would revoke nothing, and stand there as if it did."""
    signer = load(closed.keys, LOG_SIGNER, PASSPHRASE)
    event = {"kind": "key_revoked", "at": "2026-03-03T09:00:00+01:00", "by": "log"}
    event |= {
        "person": "mechanic-1",
        "key": closed.people()[0].thumbprint,
        "reason": "x",
    }
    (seq,) = forced(closed, "RO-1", [event], LOG_SIGNER, signer)
    (found,) = [p for p in closed.verify().problems if "mixed up" in p.problem]
    assert found.seq == seq
