"""Answers as texts make events, and what is wrong with one is told at its field."""

import time

import pytest

from auditkit.bay.caution_fields import caution_fields
from auditkit.bay.field import Field, FieldKind, When
from auditkit.bay.fields import fields_of
from auditkit.bay.filled import event_of, problems_of
from auditkit.bay.typed_values import value_of
from auditkit.bay.unit_words import units_of_kinds
from auditkit.bench.units import QuantityKind
from auditkit.errors import InputError
from auditkit.order.schema import validate_event
from auditkit.plugin.loading import load_canon

NOW = {"at": "2026-03-02T10:30:00+01:00", "by": "tech-a"}
REPAIR = {"part": "egr-valve", "action": "replaced"}
DRIVE = {"distance": "27 km", "conditions": "town, engine warm", "end": "10:30"}


@pytest.fixture(scope="module")
def catalogue():
    return load_canon()


def told(kind, answers, catalogue):
    found = problems_of(kind, answers, catalogue, **NOW)
    return {".".join(p.path): (p.message, p.what_to_do) for p in found}


def test_empty_answers_are_none(catalogue):
    answers = {**REPAIR, "note": " ", "codes.0": "", "old_part": ""}
    assert event_of("repair", answers, catalogue, **NOW) == {
        "kind": "repair",
        **NOW,
        **REPAIR,
    }
    assert told("repair", answers, catalogue) == {}


def test_a_short_name_is_made_of_a_name_and_no_two_are_alike(catalogue):
    names = ["EGR valve", "EGR valve", "Ventil 弁", "弁", "弁"]
    answers = {"suspect_parts.1.id": "egr-valve"}
    for number, name in enumerate(names):
        answers |= {
            f"suspect_parts.{number}.name": name,
            f"suspect_parts.{number}.system": "egr",
        }
    answers |= {"codes": "P0401", "reasoning": "flow too low"}
    assert told("diagnosis", answers, catalogue) == {}
    parts = event_of("diagnosis", answers, catalogue, **NOW)["suspect_parts"]
    ids = [part["id"] for part in parts]
    assert ids == ["egr-valve-2", "egr-valve", "ventil", "part", "part-2"]


def test_a_part_may_be_called_by_its_name(catalogue):
    event = event_of("repair", {**REPAIR, "part": "EGR valve"}, catalogue, **NOW)
    assert event["part"] == "egr-valve"


def test_rows_are_in_the_order_of_their_numbers_and_close_up(catalogue):
    rows = {"codes.10": "p0442", "codes.2": "P0401", "codes.3": ""}
    event = event_of("repair", {**REPAIR, **rows}, catalogue, **NOW)
    assert event["codes"] == ["P0401", "P0442"]
    event = event_of(
        "repair", {**REPAIR, "codes": "P0401 p0442,P0420"}, catalogue, **NOW
    )
    assert event["codes"] == ["P0401", "P0442", "P0420"]


@pytest.mark.parametrize(
    ("given", "made"),
    [
        ({"distance": "27 km"}, {"value": "27", "unit": "km"}),
        ({"distance": "27km"}, {"value": "27", "unit": "km"}),
        (
            {"distance.value": "27", "distance.unit": "km"},
            {"value": "27", "unit": "km"},
        ),
    ],
)
def test_a_quantity_is_one_text_or_its_parts(given, made, catalogue):
    answers = {**DRIVE, "distance": "", "start": "09:50", **given}
    assert event_of("road_test", answers, catalogue, **NOW)["distance"] == made


@pytest.mark.parametrize(
    ("text", "made"),
    [
        ("09:50", "2026-03-02T09:50:00+01:00"),
        ("23:50", "2026-03-01T23:50:00+01:00"),
        ("10:44", "2026-03-02T10:44:00+01:00"),  # of a clock that is a little off
        ("2026-02-27 23:50", "2026-02-27T23:50:00+01:00"),
        ("2026-03-02T08:50:00Z", "2026-03-02T08:50:00Z"),
    ],
)
def test_a_time_of_the_day_is_the_last_one_before_now(text, made, catalogue):
    event = event_of("road_test", {**DRIVE, "start": text}, catalogue, **NOW)
    assert event["start"] == made


DROVE = {**DRIVE, "start": "9:50"}


@pytest.mark.parametrize(
    ("kind", "answers", "path", "said", "mend"),
    [
        ("road_test", {**DROVE, "distance": "27"}, "distance", "unit", "behind"),
        ("road_test", {**DROVE, "distance": "2,7 km"}, "distance", "comma", "2.7"),
        (
            "road_test",
            {**DROVE, "distance": "27 miles"},
            "distance",
            "miles",
            "km or mi",
        ),
        ("road_test", {**DRIVE, "start": "25:50"}, "start", "calendar", "09:55"),
        ("road_test", {**DRIVE, "start": "noon"}, "start", "form", "10:55"),
        ("road_test", DRIVE, "start", "Drive began at: no answer", "10:55"),
        ("repair", {**REPAIR, "action": "swap"}, "action", "choices", "replaced"),
        ("repair", {**REPAIR, "codes.7": "P401"}, "codes.7", "form", "five"),
        ("repair", {**REPAIR, "partnum": "x"}, "partnum", "nothing", "part_number"),
        ("opening", {"complaint": "x"}, "vehicle.ignition", "no answer", "spark"),
        ("opening", {"complaint": "x"}, "vehicle.odometer", "no answer", "km"),
        (
            "diagnosis",
            {"suspect_parts.4.name": "x"},
            "suspect_parts.4.system",
            "no answer",
            "egr",
        ),
        (
            "opening",
            {"vehicle.model_year": "12a"},
            "vehicle.model_year",
            "whole",
            "2012",
        ),
    ],
)
def test_what_is_wrong_is_told_at_its_field(  # noqa: PLR0913, PLR0917
    kind, answers, path, said, mend, catalogue
):
    message, what_to_do = told(kind, answers, catalogue)[path]
    assert said in message
    assert mend in what_to_do


def test_what_no_person_types_is_never_missing(catalogue):
    found = told("opening", {}, catalogue)
    assert set(found) == {
        *(
            f"vehicle.{n}"
            for n in ("odometer", "model_year", "ignition", "description")
        ),
        "complaint",
        "shop",
    }
    known = {"shop": "Example Yard Garage"}
    assert "shop" not in [
        p.path[0] for p in problems_of("opening", {}, catalogue, **NOW, known=known)
    ]


def test_what_a_machine_knows_is_filled_in(catalogue):
    answers = {"tool": "text adapter", "protocol": "CAN", "raw": "> 03", "how": "raw"}
    event = event_of("readout", answers, catalogue, **NOW)
    assert event["captured"] == NOW["at"]
    assert validate_event(event, catalogue.events) == []


@pytest.mark.parametrize(
    ("key", "text", "said", "mend"),
    [
        ("conditions.start temperature", "19 V", "temperature", "degC (°C) or degF"),
        ("readings.start pressure", "18 Hg", "pressure", "kPa"),
        ("readings.start pressure", "OL kPa", "over its range", "above 40"),
        ("limit.unit", "mm2", "not a unit", "kPa"),
        ("readings.hold time", "60 sec", "time", "s or min"),
    ],
)
def test_a_unit_of_another_kind_is_told_at_once(key, text, said, mend, catalogue):
    answers = {"part": "egr-valve", "method": "seal-hold", key: text}
    message, what_to_do = told("bench_test", answers, catalogue)[key]
    assert said in message
    assert mend in what_to_do


def test_what_came_from_a_file_is_not_missed(catalogue):
    vehicle = {
        "model_year": 2012,
        "ignition": "spark",
        "odometer": {"value": "1", "unit": "km"},
        "description": "van",
    }
    known = {"vehicle": vehicle, "shop": "Example Yard Garage"}
    given = {**NOW, "known": known}
    assert problems_of("opening", {"complaint": "x"}, catalogue, **given) == ()
    readout = {"raw": "> 03\n", "protocol": "CAN", "tool": "adapter"}
    given = {**NOW, "known": readout}
    assert problems_of("readout", {}, catalogue, **given) == ()
    assert "how" not in event_of("readout", {}, catalogue, **given)


def test_a_method_that_is_known_brings_its_readings(catalogue):
    given = {**NOW, "known": {"method": "voltage-drop", "part": "cable"}}
    answers = {"readings.voltage drop": "0.2 V", "readings.load current": "9 A"}
    (problem,) = problems_of("bench_test", answers, catalogue, **given)
    assert problem.path == ("conditions", "rated current")
    event = event_of("bench_test", answers, catalogue, **given)
    assert [row["name"] for row in event["readings"]] == [
        "voltage drop",
        "load current",
    ]
    assert event["test"] == "Voltage drop under load"


@pytest.mark.parametrize(
    ("caution", "name", "answer", "said"),
    [
        ("hot-exhaust", "surface temperature", "-300 °C", "not possible"),
        ("hot-exhaust", "surface temperature", "34 kPa", "not a unit of temp"),
        ("fuel-vapour", "ventilation", "yes", "in a sentence"),
        ("fuel-vapour", "ventilation", "yes", "(2 words and 8 letters at least)"),
        ("fuel-vapour", "ventilation", "open door", ""),
        ("hot-exhaust", "surface temperature", "34 degC", ""),
        ("hot-exhaust", "surface temperature", "93 degF", ""),
    ],
)
def test_what_cannot_be_is_told_before_a_caution_is_recorded(
    caution, name, answer, said, catalogue
):
    answers = {
        "caution": caution,
        "step.kind": "repair",
        f"preconditions.{name}": answer,
    }
    found = told("caution", answers, catalogue).get(f"preconditions.{name}", ("", ""))
    assert bool(found[0]) is bool(said)
    assert said in found[0]


def test_a_sentence_that_stands_for_values_is_asked_before_them(catalogue):
    answers = {"caution": "hot-coolant", "step.kind": "repair"}
    missed = set(told("caution", answers, catalogue))
    assert missed == {"preconditions.coolant temperature", "preconditions.cap"}
    closed = "preconditions.coolant circuit"
    answers[closed] = "it stays closed; this valve has no cooler"
    assert told("caution", answers, catalogue) == {}
    fields = {f.key: f for f in fields_of("caution", catalogue, answers)}
    asked = list(fields)
    assert asked.index(closed) < asked.index("preconditions.cap")
    assert (
        "write only this, not: coolant temperature, pressure at the cap, cap"
        in fields[closed].help
    )


def test_a_value_asked_for_a_stop_is_not_where_a_sentence_lifts_the_stop(catalogue):
    answers = {"caution": "hot-coolant", "step.kind": "repair"}
    fields = {f.key: f for f in fields_of("caution", catalogue, answers)}
    lifted = When(("preconditions", "coolant circuit"), ("",))
    assert fields["preconditions.pressure at the cap"].when == lifted


def test_a_stop_of_some_work_says_of_which(catalogue):
    answers = {"caution": "pressurised-part", "step.kind": "repair"}
    fields = {f.key: f for f in fields_of("caution", catalogue, answers)}
    told_of_it = fields["preconditions.supply limit"].help
    assert "stop above 4.51 kPa (evap parts, on the vehicle, engine off):" in told_of_it
    assert "stop above highest pressure: " in told_of_it
    # An allowance lifts one of two stops: the other still needs the value.
    assert fields["preconditions.supply limit"].when is None


@pytest.mark.parametrize(
    ("now", "typed", "meant"),
    [
        ("2026-10-25T09:00:00+01:00", "08:30", "2026-10-25T08:30:00+01:00"),
        ("2026-10-25T09:00:00+01:00", "22:15", "2026-10-24T22:15:00+02:00"),
        ("2026-10-25T02:10:00+01:00", "02:30", "2026-10-25T02:30:00+02:00"),
        ("2026-10-25T02:40:00+01:00", "02:30", "2026-10-25T02:30:00+01:00"),
        ("2026-03-29T09:00:00+02:00", "2026-03-28 09:00", "2026-03-28T09:00:00+01:00"),
        ("2026-03-29T09:00:00-05:00", "08:00", "2026-03-29T08:00:00-05:00"),
    ],
)
def test_a_time_of_the_day_has_the_offset_of_that_day(now, typed, meant, monkeypatch):
    """Clocks change on the last Sundays of March and October at 01:00 UTC.

    2000/84/EC, articles 2 and 3; the rule in TZ is written as POSIX has it.
    """
    monkeypatch.setenv("TZ", "CET-1CEST,M3.5.0,M10.5.0/3")
    time.tzset()
    asked = Field(("start",), "Start", kind=FieldKind.TIME)
    try:
        assert value_of(asked, typed, now) == meant
        with pytest.raises(InputError, match="set forward over it"):
            value_of(asked, "2026-03-29 02:30", "2026-03-29T09:00:00+02:00")
    finally:
        monkeypatch.undo()
        time.tzset()


def measured(*kinds):
    units = units_of_kinds(kinds)
    return Field(("x",), "X", kind=FieldKind.QUANTITY, kinds=kinds, units=units)


@pytest.mark.parametrize(
    ("typed", "unit"),
    [("60 C", "degC"), ("60C", "degC"), ("60 F", "degF"), ("60 °C", "degC")],
)
def test_a_temperature_may_be_typed_without_its_degree_sign(typed, unit):
    asked = measured(QuantityKind.TEMPERATURE)
    assert value_of(asked, typed, NOW["at"]) == {"value": "60", "unit": unit}


def test_elsewhere_c_is_a_charge():
    charge, all_kinds = measured(QuantityKind.CHARGE), measured(*QuantityKind)
    for asked in (charge, all_kinds):
        assert value_of(asked, "60 C", NOW["at"]) == {"value": "60", "unit": "C"}


def test_a_wrong_unit_is_answered_with_what_can_be_typed():
    with pytest.raises(InputError) as wrong:
        value_of(measured(QuantityKind.TEMPERATURE), "60 V", NOW["at"])
    assert wrong.value.what_to_do == "write it in degC (°C) or degF (°F) or K"


def test_what_is_limited_is_the_one_thing_that_was_read(catalogue):
    given = {
        "part": "thermostat",
        "method": "switching-point",
        "readings.how": "temperature",
        "readings.temperature": "61 degC",
        "conditions.event": "opens",
        "conditions.approach": "rising",
        "limit.minimum": "80",
        "limit.unit": "degC",
    }
    event = event_of("bench_test", given, catalogue, **NOW)
    assert event["limit"]["of"] == "temperature"
    said = {**given, "limit.of": "time"}
    event = event_of("bench_test", said, catalogue, **NOW)
    assert event["limit"]["of"] == "time", "what somebody says stays"
    hold = {"part": "cap", "method": "seal-hold", "readings.end pressure": "3 kPa"}
    hold |= {"limit.minimum": "2", "limit.unit": "kPa"}
    event = event_of("bench_test", hold, catalogue, **NOW)
    assert "of" not in event["limit"], "a hold shows more than one thing"


def test_a_stop_is_told_in_the_unit_that_people_read(catalogue):
    fields = caution_fields(catalogue.cautions["hot-coolant"])
    told = " ".join(field.help for field in fields)
    assert "stop above 50 °C: " in told
    assert "stop above 0 kPa: " in told
