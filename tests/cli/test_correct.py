"""What was wrong in an entry is picked out and typed anew at a terminal."""

import io
from pathlib import Path

import pytest

from auditkit.bay.answered import answers_of
from auditkit.bay.correctable import Correction, with_answer, written_in
from auditkit.bay.fields import HEAD
from auditkit.cli import add, ask, correct
from auditkit.log.ledger import Ledger
from auditkit.order.record import parse_record
from auditkit.plugin.loading import load_canon

OPENED = (
    *("open", "RO-1", "--vin", "0ZZTB1A18CA000123", "--vehicle", "delivery van"),
    *("--odometer", "148210 km", "--ignition", "spark", "--complaint", "lamp on"),
)


@pytest.fixture(scope="module")
def catalogue():
    return load_canon()


@pytest.fixture
def typed(run, monkeypatch):
    """Return what runs a command while a person types lines."""
    run("init", "--shop", "Example Yard Garage (invented)", "--person", "mechanic-1")
    assert run(*OPENED)[0] == 0
    for module in (add, ask, correct):
        monkeypatch.setattr(module, "at_terminal", lambda: True)

    def call(*arguments, lines):
        text = "".join(f"{line}\n" for line in lines)
        monkeypatch.setattr("sys.stdin", io.StringIO(text))
        return run(*arguments)

    return call


def last_event():
    with Ledger.open(Path("shop.auditlog")) as ledger:
        return ledger.show("RO-1").lines[-1].event


def place_of(err, label):
    line = next(one for one in err.splitlines() if f" {label}: " in one)
    return line.split()[0]


def test_entry_field_and_reason_are_asked_for_and_the_rest_stays(typed):
    said = ("add", "RO-1", "amendment")
    _, _, err = typed(*said, lines=["2", ""])
    odometer, plate = place_of(err, "Odometer"), place_of(err, "Plate")
    lines = ["2", odometer, "184210", "184210 km", plate, "EX-123", "", "two swapped"]
    status, out, err = typed(*said, lines=lines)
    assert status == 0, err
    assert "has no unit" in err
    assert out.splitlines()[:2] == [
        "vehicle.odometer: 148210 km -> 184210 km",
        "vehicle.plate: nothing -> EX-123",
    ]
    event = last_event()
    assert event["why"] == "two swapped"
    assert event["event"]["vehicle"]["odometer"] == {"value": "184210", "unit": "km"}
    assert event["event"]["complaint"] == "lamp on"


def test_its_time_is_corrected_by_a_time_of_the_day(typed):
    lines = ["1", "25:99", "00:00", "", "the clock"]
    status, _, err = typed("add", "RO-1", "amendment", "--of", "2", lines=lines)
    assert status == 0, err
    assert "no time" in err or "not a time of the calendar" in err
    assert last_event()["event"]["at"][11:19] == "00:00:00"


def test_where_nothing_is_changed_nothing_is_written(typed):
    status, _, err = typed("add", "RO-1", "amendment", "--of", "2", lines=[""])
    assert (status, "nothing is corrected" in err) == (2, True)
    assert last_event()["kind"] == "opening"


@pytest.mark.parametrize("name", [f"RO-100{n}.json" for n in range(1, 6)])
def test_what_is_not_touched_stands_in_every_event_of_the_demo(name, run, catalogue):
    del run  # it lays the records out
    record = parse_record(Path(name).read_bytes(), catalogue, where=name)
    now = "2026-06-01T12:00:00+02:00"
    for place, event in enumerate(record.events):
        answers = answers_of(event, catalogue)
        answers |= {n: str(event[n]) for n in HEAD}
        correction = Correction(event, place, catalogue, now, "mechanic-1")
        assert correction.event(answers) == event
        for one in written_in(answers, catalogue):
            if one.text:
                again = with_answer(answers, one.field, one.text)
                assert correction.event(again) == event, one.field.key
                assert correction.problems(again, one.field) == []
