"""A register of instruments: the calibration in force, and what a test carries."""

import json
from datetime import date
from fractions import Fraction
from importlib.resources import files

import pytest

from auditkit.bench import KINDS, Accuracy
from auditkit.errors import InputError
from auditkit.order.bench_event import result_of
from auditkit.order.event_kinds import OWN_KINDS
from auditkit.order.event_text import computed_text
from auditkit.order.events import Event, RepairOrder
from auditkit.order.instruments import parse_register, with_specifications
from auditkit.order.record import Record
from auditkit.order.schema import validate_event
from auditkit.plugin.loading import load_catalogue

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
    stated = result_of(Event(0, bench(demo_record(keep_specifications=True))), KINDS)
    bare = demo_record(keep_specifications=False)
    unstated = result_of(Event(0, bench(bare)), KINDS)
    assert "have no specification" in unstated.unchecked[0]
    assert "+/-" not in str(unstated.result)
    full = result_of(Event(0, bench(with_specifications(bare, REGISTER))), KINDS)
    assert (full.outcome, full.result) == (stated.outcome, stated.result)


def test_what_is_stated_stays_and_a_later_calibration_changes_nothing():
    record = demo_record(keep_specifications=True)
    assert with_specifications(record, REGISTER) == record
    later = json.loads(TEXT)
    later["instruments"][0]["calibrations"].append(
        {"on": "2027-01-02", "due": "2028-01-02"}
    )
    bare = demo_record(keep_specifications=False)
    assert with_specifications(
        bare, parse_register(json.dumps(later))
    ) == with_specifications(bare, REGISTER)


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


NO_MAGNITUDE = [
    *(
        (name, "-0.6", "without a sign")
        for name in (
            *("percent_of_reading", "percent_of_span", "digits", "absolute"),
            *("resolution", "certificate_u"),
        )
    ),
    *(("certificate_k", k, "above zero") for k in ("0", "0.0", "-2")),
]


def odd(name, value):
    """Return the demo's order whose first bench test has an odd specification."""
    record = demo_record(keep_specifications=True)
    bench(record)["instruments"][0]["specification"][name] = value
    return record


@pytest.mark.parametrize(("name", "value", "what_to_do"), NO_MAGNITUDE)
def test_what_can_only_be_a_magnitude_is_refused_where_it_is_written(
    name, value, what_to_do
):
    (problem,) = validate_event(bench(odd(name, value)), OWN_KINDS)
    assert problem.pointer == f"/instruments/0/specification/{name}"
    assert what_to_do in problem.what_to_do
    register = json.loads(TEXT)
    row = register["instruments"][0]
    theirs = name.removeprefix("certificate_")
    (row["calibrations"][0] if theirs != name else row)[theirs] = value
    with pytest.raises(InputError, match=what_to_do) as raised:
        parse_register(json.dumps(register), where="register.json")
    assert raised.value.where.endswith(f"/{theirs}")


@pytest.mark.parametrize("k", ["2", "1.96", "0.5", "10"])
def test_a_coverage_factor_is_any_number_above_zero(k):
    assert validate_event(bench(odd("certificate_k", k)), OWN_KINDS) == []


@pytest.mark.parametrize(
    ("name", "value"),
    [
        *((name, value) for name, value, _ in NO_MAGNITUDE),
        ("high", "-1000"),
        *(("absolute", value) for value in ("1/0", "1e99999999", "nan")),
    ],
)
def test_read_without_a_schema_it_is_told_and_decides_nothing(name, value):
    record = odd(name, value)
    event = Event(0, bench(record))
    with pytest.raises(InputError) as raised:
        result_of(event, KINDS)
    assert raised.value.where == "instruments"
    assert raised.value.what_to_do
    said = f"not computed: the specification of {record_instrument(record)}: "
    assert computed_text(event, KINDS).startswith(said)
    order = RepairOrder.fold(record.repair_order, record.events)
    judgement = load_catalogue().judge(order)
    told = [f for f in judgement.findings if "the specification of" in f.message]
    assert [f.rule for f in told] == ["bench-test-not-valid"]
    assert not [f for f in judgement.findings if "crashed" in f.message]
    assert str(judgement.verdict) != "proven"


def record_instrument(record):
    return bench(record)["instruments"][0]["id"]


def test_a_negative_limit_of_error_never_cancels_another():
    with pytest.raises(InputError, match="absolute is below zero"):
        Accuracy(percent_of_span=Fraction(2), absolute=Fraction(-1))
