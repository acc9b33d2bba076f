"""A register of instruments: the calibration in force, and what a test carries."""

import json
from datetime import date
from importlib.resources import files

import pytest

from auditkit.bench_event import result_of
from auditkit.errors import InputError
from auditkit.events import Event
from auditkit.instruments import filled, parse_register
from auditkit.record import Record

DEMO = files("auditkit_demo")
TEXT = (DEMO / "instruments.json").read_text("utf-8")
REGISTER = parse_register(TEXT)


@pytest.mark.parametrize(
    ("day", "state"),
    [
        ("2025-01-13", "never calibrated by then"),
        ("2025-01-14", "in calibration until 2026-01-14"),
        ("2026-01-11", "in calibration until 2026-01-14"),
        ("2026-01-12", "in calibration until 2027-01-12"),
        ("2027-01-12", "in calibration until 2027-01-12"),
        ("2027-01-13", "OUT OF CALIBRATION since 2027-01-12"),
    ],
)
def test_the_calibration_in_force_on_a_day(day, state):
    assert REGISTER["gauge-3"].state(date.fromisoformat(day)) == state


def demo_record(keep_specifications):
    record = json.loads((DEMO / "RO-1001.json").read_text("utf-8"))
    for event in record["events"]:
        for item in event.get("instruments", []):
            if not keep_specifications:
                del item["specification"]
    return Record(record["repair_order"], tuple(record["events"]))


def bench(record):
    return next(e for e in record.events if e["kind"] == "bench_test")


def test_a_test_filled_from_the_register_is_the_one_that_states_all_itself():
    stated = result_of(Event(0, bench(demo_record(keep_specifications=True))))
    bare = demo_record(keep_specifications=False)
    assert result_of(Event(0, bench(bare))).outcome == "not-valid"
    full = result_of(Event(0, bench(filled(bare, REGISTER))))
    assert (full.outcome, full.result) == (stated.outcome, stated.result)


def test_what_is_stated_stays_and_a_later_calibration_changes_nothing():
    record = demo_record(keep_specifications=True)
    assert filled(record, REGISTER) == record
    later = json.loads(TEXT)
    later["instruments"][0]["calibrations"].append(
        {"on": "2027-01-02", "due": "2028-01-02"}
    )
    bare = demo_record(keep_specifications=False)
    assert filled(bare, parse_register(json.dumps(later))) == filled(bare, REGISTER)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda r: r["instruments"].append(r["instruments"][0]), "registered twice"),
        (lambda r: r["instruments"][0].pop("resolution"), "resolution"),
        (lambda r: r.update(format="other"), "auditkit/instruments@1"),
    ],
)
def test_a_bad_register_is_one_error(change, said):
    register = json.loads(TEXT)
    change(register)
    with pytest.raises(InputError, match=said):
        parse_register(json.dumps(register), where="register.json")
