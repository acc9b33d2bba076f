"""The log as a shop uses it: begin, record, correct, enrol, revoke, reopen."""

import errno
import json
import shutil
import sqlite3
from dataclasses import replace
from functools import partial

import pytest
from conftest import PASSPHRASE, judge, small_record
from unguarded import unguarded

from auditkit.errors import InputError, KeyProblem, LogError
from auditkit.log import file_form, key_files
from auditkit.log.ledger import Ledger
from auditkit.log.verify_log import verify_file
from auditkit.order.events import RepairOrder
from auditkit.order.policy import parse_policy
from auditkit.order.record import Record
from auditkit.proof.check_packet import verify_packet
from auditkit.proof.keys import PrivateKey, PublicKey
from auditkit.proof.role import Role

LOW_ORDER_X = "AQAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA"


def test_new_log_verifies_and_names_its_key(ledger):
    report = ledger.verify()
    assert report.verified, report.problems
    assert report.entries == 2
    assert report.checkpoint.size == 2
    assert report.log_key == ledger.log_key.thumbprint


def test_record_closes_and_comes_back_as_it_was(closed):
    shown = closed.show("RO-1")
    assert [line.event["kind"] for line in shown.lines] == [
        "opening",
        "code_clear",
        "verdict",
    ]
    assert tuple(line.event for line in shown.lines[:2]) == small_record().events
    assert shown.verdict["verdict"] == "unproven"
    assert shown.verdict["reason"] == "a test of the log, not of a repair"
    assert closed.verify().verified


def test_names_are_withheld_from_the_signed_text(closed):
    for row in closed.store.rows():
        assert "Customer One" not in row.entry.payload
    assert closed.show("RO-1").lines[0].hidden == ("vehicle.plate",), "a decoy"


def test_blocking_findings_refuse_without_a_reason(ledger, catalogue):
    record = small_record()
    with pytest.raises(InputError, match="--unproven"):
        ledger.record(record, judge(catalogue, record), passphrase=PASSPHRASE)
    assert ledger.verify().entries == 2, "nothing was written"


def test_same_record_twice_writes_nothing(closed, catalogue):
    record = small_record()
    again = closed.record(
        record,
        judge(catalogue, record),
        passphrase=PASSPHRASE,
        unproven_reason="a test of the log, not of a repair",
    )
    assert again.written == 0
    assert closed.verify().entries == 8


def test_kept_open_then_continued(ledger, catalogue):
    first = small_record()
    opened = ledger.record(
        first, judge(catalogue, first), passphrase=PASSPHRASE, keep_open=True
    )
    assert (opened.written, opened.verdict) == (2, None)
    with pytest.raises(InputError, match="not closed"):
        ledger.packet("RO-1")
    more = small_record(extra=1)
    closed = ledger.record(
        more, judge(catalogue, more), passphrase=PASSPHRASE, unproven_reason="test"
    )
    assert closed.written == 2, "one more event and the verdict"
    assert ledger.show("RO-1").verdict["judged"] == [2, 3, 4]


def test_changed_event_is_refused_with_its_place(closed, catalogue):
    record = small_record()
    changed = (record.events[0], {**record.events[1], "tool": "another"})
    altered = replace(record, events=changed)
    with pytest.raises(InputError, match="amendment") as caught:
        closed.record(
            altered,
            judge(catalogue, altered),
            passphrase=PASSPHRASE,
            unproven_reason="test",
        )
    assert caught.value.where == "/events/1"


def test_wrong_passphrase_writes_nothing(ledger, catalogue):
    record = small_record()
    with pytest.raises(KeyProblem, match="passphrase"):
        ledger.record(
            record, judge(catalogue, record), passphrase=b"wrong", keep_open=True
        )
    assert ledger.verify().entries == 2


def test_keys_are_private_files(ledger):
    files = sorted(ledger.keys.iterdir())
    assert [f.name for f in files] == ["log.p12", "mechanic-1.p12", "newest.checkpoint"]
    assert all(f.stat().st_mode & 0o777 == 0o600 for f in files if f.suffix == ".p12")
    assert ledger.keys.stat().st_mode & 0o777 == 0o700


def test_existing_log_is_never_overwritten(ledger):
    with pytest.raises(LogError, match="exists"):
        Ledger.create(
            ledger.store.path, shop="Other", person="mechanic-1", passphrase=PASSPHRASE
        )


@pytest.mark.parametrize("fails", [(key_files, "sync_folder"), (file_form, "make")])
def test_a_log_that_could_not_be_begun_leaves_nothing_in_the_way(
    tmp_path, monkeypatch, fails
):
    def full(_):
        raise OSError(errno.ENOSPC, "No space left on device")

    begin = partial(
        Ledger.create,
        tmp_path / "new.auditlog",
        shop="Other",
        person="mechanic-1",
        passphrase=PASSPHRASE,
    )
    with monkeypatch.context() as patch:
        patch.setattr(*fails, full)
        with pytest.raises(OSError, match="No space left"):
            begin()
    assert list(tmp_path.iterdir()) == []
    with begin() as made:
        assert made.verify().verified


def test_a_folder_of_keys_in_the_way_is_left_as_it_is(tmp_path):
    keys = tmp_path / "new.auditlog.keys"
    keys.mkdir()
    (keys / "log.p12").write_bytes(b"of another log")
    with pytest.raises(LogError, match="exists"):
        Ledger.create(
            tmp_path / "new.auditlog",
            shop="Other",
            person="mechanic-1",
            passphrase=PASSPHRASE,
        )
    assert [file.name for file in keys.iterdir()] == ["log.p12"]


def test_second_person_signs_and_a_revoked_one_cannot(ledger, catalogue):
    ledger.enrol("tech-a", passphrase=PASSPHRASE)
    record = small_record()
    with pytest.raises(KeyProblem, match="who records"):
        ledger.record(
            record, judge(catalogue, record), passphrase=PASSPHRASE, keep_open=True
        )
    ledger.record(
        record,
        judge(catalogue, record),
        passphrase=PASSPHRASE,
        by="tech-a",
        keep_open=True,
    )
    assert {line.signed_by for line in ledger.show("RO-1").lines} == {"tech-a"}
    ledger.revoke("tech-a", reason="left the shop", passphrase=PASSPHRASE)
    with pytest.raises(KeyProblem, match="no active key"):
        ledger.record(
            record,
            judge(catalogue, record),
            passphrase=PASSPHRASE,
            by="tech-a",
            unproven_reason="test",
        )
    report = ledger.verify()
    assert report.verified, "what was signed before the revocation stays good"


def test_the_last_manager_goes_only_where_the_shop_ends(ledger):
    def managers():
        held = [p for p in ledger.people() if p.revoked_seq is None]
        return [p.id for p in held if p.role is Role.MANAGER]

    ledger.enrol("tech-a", passphrase=PASSPHRASE)
    size = ledger.store.head()[0]
    said = {"reason": "r", "passphrase": PASSPHRASE}
    for refused in (
        lambda: ledger.revoke("mechanic-1", **said),
        lambda: ledger.rotate("mechanic-1", role=Role.TECHNICIAN, **said),
    ):
        with pytest.raises(KeyProblem, match="'mechanic-1' is the last manager"):
            refused()
        assert ledger.store.head()[0] == size, "nothing was written"
    ledger.rotate("mechanic-1", **said)
    assert managers() == ["mechanic-1"], "a stolen key is replaced all the same"
    ledger.enrol("lead-2", passphrase=PASSPHRASE, role=Role.MANAGER)
    ledger.revoke("mechanic-1", **said)
    assert managers() == ["lead-2"]
    ledger.revoke("tech-a", **said)
    ledger.revoke("lead-2", is_last=True, **said)
    assert managers() == []
    assert ledger.verify().verified


def test_the_last_manager_keeps_the_role_beside_a_second_key(ledger):
    """The newest key of a person says the role: a technician's would take it away."""
    said = {"reason": "r", "passphrase": PASSPHRASE}
    second = PrivateKey.generate().public
    with pytest.raises(KeyProblem, match="'mechanic-1' is the last manager"):
        ledger.enrol("mechanic-1", passphrase=PASSPHRASE, key=second)
    assert len(ledger.people()) == 1, "nothing was written"
    ledger.enrol("lead-2", passphrase=PASSPHRASE, role=Role.MANAGER)
    ledger.enrol("mechanic-1", passphrase=PASSPHRASE, key=second)
    with pytest.raises(KeyProblem, match="'lead-2' is the last manager"):
        ledger.revoke("lead-2", **said)
    ledger.revoke("mechanic-1", **said)
    ledger.revoke("lead-2", **said)  # what mechanic-1 holds is a manager's again
    with pytest.raises(KeyProblem, match="'mechanic-1' is the last manager"):
        ledger.revoke("mechanic-1", **said)


def test_low_order_key_is_refused_at_enrolment(ledger):
    with pytest.raises(KeyProblem, match="low"):
        ledger.enrol("eve", passphrase=PASSPHRASE, key=PublicKey.from_x(LOW_ORDER_X))


def test_policy_withholds_what_it_names(ledger, catalogue):
    policy = parse_policy(
        'format = "auditkit/policy@1"\nwithhold = ["opening.complaint"]\n'
    )
    record = small_record()
    order = RepairOrder.fold(record.repair_order, record.events)
    judgement = catalogue.judge(order, policy)
    ledger.record(record, judgement, passphrase=PASSPHRASE, unproven_reason="test")
    verdict = ledger.show("RO-1").verdict
    assert verdict["policy_sha256"] == policy.sha256  # nobody can pass another one
    payload = next(iter(ledger.store.rows(2, 3))).entry.payload
    assert "lamp on" not in payload
    assert "Customer One" in payload
    assert ledger.show("RO-1").lines[0].event["complaint"] == "lamp on"


def test_sealed_is_told_after_the_fact(ledger, catalogue):
    told = []
    ledger.on_sealed = lambda seq, payload: told.append((seq, json.loads(payload)))
    record = small_record()
    ledger.record(
        record, judge(catalogue, record), passphrase=PASSPHRASE, keep_open=True
    )
    assert [seq for seq, _ in told] == [2, 3]
    assert told[0][1]["event"]["kind"] == "opening"


def test_triggers_refuse_a_slip(closed):
    db = sqlite3.connect(closed.store.path)
    with pytest.raises(sqlite3.IntegrityError, match="append-only"):
        db.execute("update entry set kind = 'x' where seq = 1")
    with pytest.raises(sqlite3.IntegrityError, match="append-only"):
        db.execute("delete from entry where seq = 1")
    db.close()


def test_file_that_is_no_log(tmp_path):
    path = tmp_path / "x.log"
    path.write_bytes(b"not a database, whatever its name says" * 100)
    with pytest.raises(LogError, match="cannot be read as a log"):
        Ledger.open(path)
    db = sqlite3.connect(tmp_path / "other.db")
    db.execute("create table t (x)")
    db.close()
    with pytest.raises(LogError, match="not a log"):
        Ledger.open(tmp_path / "other.db")


def test_log_without_its_keys_is_still_readable(closed, tmp_path):
    closed.store._db.execute("pragma wal_checkpoint(truncate)")
    copy = tmp_path / "elsewhere" / "copy.auditlog"
    copy.parent.mkdir()
    shutil.copy(closed.store.path, copy)
    assert verify_file(copy).verified
    with Ledger.open(copy) as reader:
        assert len(reader.orders()) == 2


def test_withheld_members_leave_no_room_for_others(closed, catalogue):
    """The plate's decoy does not let another member slip in unlogged."""

    def again(change):
        record = small_record()
        opening = change(dict(record.events[0]))
        altered = replace(record, events=(opening, *record.events[1:]))
        return closed.record(
            altered,
            judge(catalogue, altered),
            passphrase=PASSPHRASE,
            unproven_reason="a test of the log, not of a repair",
        )

    def with_vehicle(**more):
        return lambda e: {**e, "vehicle": {**e["vehicle"], **more}}

    for change in (
        lambda e: {**e, "extra": "x"},
        with_vehicle(plate="AB 12", more="x"),
        with_vehicle(description="another"),
        lambda e: {k: v for k, v in e.items() if k != "complaint"},
        lambda e: {**e, "customer": {**e["customer"], "name": "Another"}},
    ):
        with pytest.raises(InputError, match="amendment"):
            again(change)
    closed.store._db.execute("delete from disclosure where seq = 2")
    assert again(lambda e: e).written == 0, "lost text is taken for withheld"


def test_an_enrolment_that_fails_leaves_no_key_in_the_way(ledger, monkeypatch):
    def fails(*_, **__):
        msg = "the log cannot be written"
        raise LogError(msg, what_to_do="x")

    with monkeypatch.context() as patch:
        patch.setattr(ledger, "write_own", fails)
        with pytest.raises(LogError):
            ledger.enrol("tech-b", passphrase=PASSPHRASE)
    assert not list(ledger.keys.glob("tech-b*"))
    assert ledger.enrol("tech-b", passphrase=PASSPHRASE).id == "tech-b"


class Killed(BaseException):
    """Stands for a kill: nothing after it runs, not even what tidies up."""


@pytest.mark.parametrize("at", ["before the entry", "after the entry", "nearly done"])
def test_an_enrolment_that_was_killed_is_finished_by_the_same_call(
    ledger, monkeypatch, at
):
    path = ledger.store.path
    entered = type(ledger).write_own

    def kill(*_, **__):
        raise Killed

    def write(*given, **named):
        entered(*given, **named)
        raise Killed

    with monkeypatch.context() as patch:
        if at == "nearly done":
            patch.setattr("auditkit.log.key_files.promote", kill)
        else:
            patch.setattr(
                type(ledger), "write_own", kill if at == "before the entry" else write
            )
        with pytest.raises(Killed):
            ledger.enrol("tech-b", passphrase=PASSPHRASE)
    ledger.close()
    with Ledger.open(path) as again:
        made = again.enrol("tech-b", passphrase=PASSPHRASE)
        assert made.has_private
        assert again.signer("tech-b", PASSPHRASE).public.thumbprint == made.thumbprint
        assert len([p for p in again.people() if p.id == "tech-b"]) == 1
        assert [f.name for f in again.keys.glob("tech-b*")] == ["tech-b.p12"]
        assert again.verify().verified


def test_an_unfit_id_makes_no_key_file(ledger):
    with pytest.raises(InputError):
        ledger.enrol("../outside", passphrase=PASSPHRASE)
    assert not list(ledger.keys.parent.glob("outside*"))


def test_who_signed_nothing_is_told_apart(ledger, catalogue):
    record = small_record("RO-1")
    events = [dict(event) for event in record.events]
    events[1]["by"] = "someone-else"
    record = Record("RO-1", tuple(events))
    ledger.record(
        record, judge(catalogue, record), passphrase=PASSPHRASE, unproven_reason="x"
    )
    story = verify_packet(ledger.packet("RO-1")).story
    assert any(line.startswith("Signed by mechanic-1 with key") for line in story)
    (told,) = [line for line in story if line.startswith("Signed nothing here")]
    assert told == "Signed nothing here: someone-else; what they did, the signer says."


def sent(ledger, events, form, order="RO-1", **how):
    return ledger.append(
        order,
        events,
        person="mechanic-1",
        signer=ledger.signer("mechanic-1", PASSPHRASE),
        form=form,
        **how,
    )


def test_a_form_sent_twice_is_one_event(ledger):
    """Also where names in it are withheld, or erased since; only its times differ."""
    opening, test = small_record().events[0], small_record().events[1]
    first = sent(ledger, [opening, test], "f-1")
    assert first == (2, 3)
    later = {**opening, "at": "2026-03-02T08:31:00+01:00"}
    assert sent(ledger, [opening, test], "f-1") == first
    assert sent(ledger, [later, test], "f-1") == first
    assert [line.form for line in ledger.show("RO-1").lines] == ["f-1", "f-1"]
    ledger.erase("RO-1", paths=["customer.name"], reason="asked", passphrase=PASSPHRASE)
    assert sent(ledger, [opening, test], "f-1") == first
    assert sent(ledger, [test], "f-2") == (5,)
    assert sent(ledger, [test], None) == (6,)
    assert sent(ledger, [test], None) == (7,)
    assert sent(ledger, [opening], "f-1", order="RO-2") == (8,), "of another order"
    report = ledger.verify()
    assert (report.verified, report.entries) == (True, 9)


def test_a_form_sent_again_with_something_else_is_refused(ledger):
    opening, test = small_record().events[0], small_record().events[1]
    sent(ledger, [opening], "f-1")
    other = {**opening, "complaint": "another lamp"}
    named = {**opening, "customer": {**opening["customer"], "name": "Somebody Else"}}
    for events in ([other], [named], [opening, test], [test], []):
        with pytest.raises(InputError, match=r"sent before with something else \(entr"):
            sent(ledger, events, "f-1")
    assert ledger.verify().entries == 3


@pytest.mark.parametrize("form", ["", "x" * 65, "a b", "é", "a.b"])
def test_a_strange_form_id_is_refused(ledger, form):
    with pytest.raises(InputError, match="no id of a form"):
        sent(ledger, [small_record().events[0]], form)
    assert ledger.verify().entries == 2


def test_a_form_is_found_by_another_program_too(ledger):
    opening = small_record().events[0]
    with Ledger.open(ledger.store.path) as other:
        first = sent(other, [opening], "f-1")
    assert sent(ledger, [opening], "f-1") == first


def test_a_log_with_an_entry_missing_signs_no_false_root(ledger):
    """The kept tree has the hash of an older one, and verification misses its text."""
    sent(ledger, small_record().events * 2, None)
    event = small_record().events[0]
    with unguarded(ledger.store._db) as db:
        db.execute("delete from entry where seq = 3")
    with Ledger.open(ledger.store.path) as other:
        (seq,) = sent(other, [event], None)
        assert seq == 6
        said = [p for p in other.verify().problems if p.seq == 4]
        assert said[0].problem == "entry 3 is missing before it"
    with unguarded(ledger.store._db) as db:
        db.execute("delete from entry where seq = 5")
    sent(ledger, [event], None)
    with unguarded(ledger.store._db) as db:
        db.execute("delete from entry where seq = 6")
    with (
        Ledger.open(ledger.store.path) as other,
        pytest.raises(LogError, match="entry 6 is missing"),
    ):
        sent(other, [event], None)
