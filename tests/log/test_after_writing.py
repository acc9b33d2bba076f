"""What is refused says so before anything is written; nothing fails after it."""

import errno
import json
import sqlite3
from dataclasses import replace
from importlib.resources import files

import pytest
from conftest import PASSPHRASE, close_order, judge, small_record

from auditkit.errors import LogError
from auditkit.log import newest_checkpoint
from auditkit.log.open_log import AfterWriting
from auditkit.order.events import RepairOrder
from auditkit.order.record import Record, parse_record
from auditkit.plugin.loading import load_catalogue


def test_what_cannot_be_kept_beside_the_keys_is_warned_of(
    closed, catalogue, monkeypatch
):
    def full(*_):
        raise OSError(errno.ENOSPC, "No space left on device")

    size = closed.store.head()[0]
    monkeypatch.setattr(newest_checkpoint, "remember", full)
    with pytest.warns(AfterWriting, match="the entries are written; but the newest"):
        done = close_order(closed, catalogue, "RO-7")
    assert done.written == closed.store.head()[0] - size > 0
    monkeypatch.undo()
    close_order(closed, catalogue, "RO-8")
    assert closed.verify().verified


def test_a_plugin_that_fails_when_it_is_told_undoes_nothing(closed, catalogue):
    told = []

    def fails(seq, _):
        told.append(seq)
        raise ZeroDivisionError

    closed.on_sealed = fails
    with pytest.warns(AfterWriting, match="a plugin failed at entry"):
        done = close_order(closed, catalogue, "RO-7")
    assert told == list(range(done.first_seq, done.last_seq + 1))
    assert closed.show("RO-7").verdict is not None


def test_a_foreign_checkpoint_is_not_handed_out_and_fails_no_writing(closed, catalogue):
    closed.store._db.execute("insert into checkpoint values (9999, 'of another log')")
    for ask in (
        closed.checkpoint,
        lambda: closed.packet("RO-1"),
    ):
        with pytest.raises(LogError) as caught:
            ask()
        assert "auditkit verify" in caught.value.what_to_do
    assert close_order(closed, catalogue, "RO-7").written
    assert not closed.verify().verified


def test_the_second_of_two_orders_with_one_readout_is_found(ledger):
    """Both were judged before either was recorded, as by two programs at once."""
    catalogue = load_catalogue()
    text = json.loads((files("auditkit_demo") / "RO-1001.json").read_text("utf-8"))
    given = {}
    for order_id in ("RO-1", "RO-2"):
        made = parse_record(
            json.dumps({**text, "repair_order": order_id}), catalogue, where="x"
        )
        order = RepairOrder.fold(order_id, made.events)
        given[order_id] = made, catalogue.judge(order), order

    def write(order_id, judgement):
        made = given[order_id][0]
        return ledger.record(
            made,
            judgement,
            passphrase=PASSPHRASE,
            by="mechanic-1",
            unproven_reason="a test",
        )

    write("RO-1", given["RO-1"][1])
    size = ledger.store.head()[0]
    with pytest.raises(LogError, match="RO-1 holds the same readout") as caught:
        write("RO-2", given["RO-2"][1])
    assert "run it again: nothing was written" in caught.value.what_to_do
    assert ledger.store.head()[0] == size
    order = given["RO-2"][2]
    held = order.readouts | order.lives
    aware = replace(order, elsewhere=dict.fromkeys(held, "RO-1"))
    judged = catalogue.judge(aware)
    assert "readout-of-another-order" in {f.rule for f in judged.findings}
    assert write("RO-2", judged).written


def test_list_tells_what_is_altered_and_lists_the_rest(run, monkeypatch):
    monkeypatch.setenv("AUDITKIT_PASSPHRASE", PASSPHRASE.decode())
    assert run("init", "--shop", "X", "--person", "mechanic-1")[0] == 0
    for name in ("RO-1001.json", "RO-1003.json"):
        assert run("record", name, "--unproven", "a test")[0] == 0
    database = sqlite3.connect("shop.auditlog")
    (guard,) = database.execute(
        "select sql from sqlite_master where name = 'entry_no_update'"
    ).fetchone()
    database.execute("drop trigger entry_no_update")
    database.execute(
        "update entry set payload = replace(payload, 'P0401', 'P0402') where seq = 4"
    )
    database.execute(guard)
    database.commit()
    database.close()
    status, out, err = run("list")
    assert status == 1
    assert "not all of it is as it was signed" in err
    lines = out.splitlines()
    assert lines[0].startswith("RO-1001  not as it was signed")
    assert lines[1].startswith("RO-1003  contradicted")
    assert lines[2] == (
        "RO-1001: entry 4 is not as it was signed: the signature does not fit the text "
        "and the key"
    )
    status, _, err = run("show", "RO-1001")
    assert (status, "entry 4 is not as it was signed" in err) == (2, True)
    assert run("show", "RO-1003")[0] == 0


def test_the_list_has_the_odometer_as_it_was_corrected(ledger, catalogue):
    opening, *rest = small_record("RO-1").events
    odometer = {"value": "120999", "unit": "km"}
    corrected = {**opening, "vehicle": {**opening["vehicle"], "odometer": odometer}}
    amendment = {
        "kind": "amendment",
        "at": opening["at"],
        "by": "mechanic-1",
        "corrects": 0,
        "why": "mistyped",
        "event": corrected,
    }
    made = Record("RO-1", (opening, amendment, *rest))
    ledger.record(made, judge(catalogue, made), passphrase=PASSPHRASE, keep_open=True)
    (line,) = ledger.orders()
    assert line.vehicle.endswith("120999 km")
