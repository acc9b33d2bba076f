"""Every kind of event, of bench test and of caution is asked, and filled as it was."""

import json
from functools import cache
from importlib.resources import files

import pytest
from plugin import hose_shop
from truth.acknowledged import VALUES
from truth.jobs import CATALOGUE, JOBS, WAYS, build

from auditkit.bay.answered import answers_of
from auditkit.bay.field import NEVER_ASKED, FieldKind
from auditkit.bay.fields import every_field, fields_of, kinds_asked
from auditkit.bay.filled import event_of, problems_of
from auditkit.order.bench_event import bench_input, result_of
from auditkit.order.choice_words import CHOICES
from auditkit.order.event_kinds import kinds, load
from auditkit.order.events import Event
from auditkit.order.schema import validate_event
from auditkit.plugin.loading import load_catalogue

HEAD = {"at": "2026-03-02T10:30:00+01:00", "by": "tech-a"}
DIGITAL = {
    "self_test": {
        "monitor": "EGR flow",
        "mid": "31",
        "value": {"value": "1.5", "unit": "kPa"},
        "outcome": "failed",
        "seen_on": "screen",
    },
    "handover": {"to": "tech-b", "done": "hose is off", "waits": "the gasket"},
    "attachment": {
        "sha256": "0" * 64,
        "media_type": "image/jpeg",
        "size": 3,
        "shows": "the valve",
        "of": 2,
    },
}


@cache
def examples():
    """Events of the demo, of every honest job in each of its ways, and a few more."""
    found = []
    for path in sorted(files("auditkit_demo").iterdir()):
        if path.name.startswith("RO-"):
            found += json.loads(path.read_text("utf-8"))["events"]
    for job in JOBS.values():
        for way in WAYS:
            found += build(job, way)["events"]
    found += [{"kind": kind, **HEAD, **data} for kind, data in DIGITAL.items()]
    found.append(
        {"kind": "amendment", **HEAD, "corrects": 3, "why": "a slip", "event": found[2]}
    )
    unlike = {json.dumps(event, sort_keys=True): event for event in found}
    return list(unlike.values())


def known(event, fields):
    """What no person types of an event, by its key."""
    machine = [f for f in fields if f.comes_from in NEVER_ASKED]
    found = {"kept": True} if "kept" in event else {}
    for field in machine:
        value = event
        for name in field.path:
            value = value.get(name) if isinstance(value, dict) else None
        if value is not None:
            found[field.key] = value
    return found


def again(event, catalogue=CATALOGUE):
    """Return the event that its own answers make, and the problems."""
    answers = answers_of(event, catalogue)
    given = {
        "at": event["at"],
        "by": event["by"],
        "known": known(event, every_field(event["kind"], catalogue, answers)),
    }
    return (
        event_of(event["kind"], answers, catalogue, **given),
        problems_of(event["kind"], answers, catalogue, **given),
    )


def test_there_is_an_example_of_every_kind():
    assert {event["kind"] for event in examples()} == set(kinds_asked(CATALOGUE))
    assert set(kinds_asked(CATALOGUE)) < set(kinds())
    assert len(examples()) > 500


def test_every_example_is_made_again_of_its_answers():
    for event in examples():
        assert validate_event(event, CATALOGUE.events) == []
        made, problems = again(event)
        assert problems == (), event
        if event["kind"] == "bench_test" and "method" in event:
            if "of" not in event.get("limit", {"of": ""}):
                read = {row["name"] for row in event["readings"]}
                assert made["limit"].pop("of", None) in {None, *read}
            assert same_numbers(made, event), (made, event)
        else:
            assert made == event


def same_numbers(one, other):
    """Whether a kind of test is given the same: among readings or conditions."""

    def numbers(event):
        given = bench_input(Event(0, event))
        read = {**given.conditions, **given.readings}
        many = {n: v if isinstance(v, tuple) else (v,) for n, v in read.items()}
        return many, given.instruments, given.measured_with, given.limit

    return numbers(one) == numbers(other)


def test_what_a_machine_fills_is_filled_alike():
    """Without being told: a caution's version and text, when a readout was taken."""
    for event in examples():
        if event["kind"] in {"caution", "readout"}:
            made = event_of(
                event["kind"],
                answers_of(event, CATALOGUE),
                CATALOGUE,
                at=event["at"],
                by=event["by"],
            )
            assert validate_event(made, CATALOGUE.events) == []
            members = {"version", "text_sha256", "captured"} & set(event)
            assert {n: made[n] for n in members} == {n: event[n] for n in members}


def walk(fields):
    for field in fields:
        yield field
        yield from walk(field.fields)


@pytest.mark.parametrize("kind", kinds_asked(CATALOGUE))
def test_no_one_is_asked_for_what_a_machine_knows(kind):
    steering = [{}, *({"method": name} for name in CATALOGUE.bench_tests)]
    steering += [{"caution": name} for name in CATALOGUE.cautions]
    never = {"at", "by", "kind", "captured", "text_sha256", "version", "size"}
    never |= {"media_type", "protocol_version", "orientation", "kept", "shop"}
    for answers in steering:
        for field in walk(fields_of(kind, CATALOGUE, answers)):
            assert field.comes_from not in NEVER_ASKED
            assert not set(field.path) & (never - {"kind"})
            if field.path == ("sha256",):
                assert field.kind is FieldKind.FILE
            is_row = not field.path
            assert is_row or field.label, field
            assert '{"' not in field.help
            assert '["' not in field.help
            assert (field.kind is FieldKind.CHOICE) == bool(field.choices)
            assert (field.kind is FieldKind.LIST) == bool(field.fields)


def untitled(schema, place):
    """Yield where a property that a person fills has no title, or a value no words."""
    defined = load("common-1")["$defs"]
    for name, said in schema.get("properties", {}).items():
        if said is False or "const" in said:
            continue
        refers = [said, *said.get("allOf", [])]
        named = [d["$ref"].rpartition("/")[2] for d in refers if "$ref" in d]
        whole = {**{k: v for n in named for k, v in defined.get(n, {}).items()}, **said}
        if whole.get("x-from") in NEVER_ASKED or name in AMOUNT:
            continue
        is_holder = whole.get("type") == "object" and not set(named) & QUANTITIES
        if not is_holder and "title" not in said:
            yield f"{place}.{name}"
        item = whole.get("items", {})
        for one in (whole, item):
            words = one.get("x-words") or CHOICES.get(name, {})
            if not set(one.get("enum", [])) <= set(words):
                yield f"words of {place}.{name}"
        if is_holder or item:
            yield from untitled(item or whole, f"{place}.{name}")


AMOUNT = {"above", "below", "unit"}
QUANTITIES = {"quantity", "displayed", "conditions"}


@pytest.mark.parametrize("kind", kinds_asked(CATALOGUE))
def test_every_property_that_a_person_fills_has_a_title(kind):
    """In the schema: a name in its place is for plugins that give none."""
    assert list(untitled(load(f"event-{kind}-1"), kind)) == []


@pytest.mark.parametrize("kind", kinds_asked(CATALOGUE))
def test_the_words_of_a_choice_are_told_apart(kind):
    for field in walk(fields_of(kind, CATALOGUE)):
        words = [said for _, said in field.choices]
        assert len(set(words)) == len(words), field
        assert all(words)


# What a person would answer for one test of each kind. Numbers as in tests/bench/kinds.
METER = {"resolution": "0.01", "absolute": "0.05", "low": "0"}
METER |= {"calibrated_on": "2025-09-01", "due": "2026-09-01"}


def instruments(*units):
    return {
        f"instruments.{number}.{name}": text
        for number, (unit, high) in enumerate(units)
        for name, text in {
            "id": f"meter-{number}",
            **{f"specification.{n}": t for n, t in METER.items()},
            "specification.unit": unit,
            "specification.high": high,
        }.items()
    }


def rows(table, **columns):
    return {
        f"{table}.{number}.{name.replace('_', ' ')}": text
        for name, texts in columns.items()
        for number, text in enumerate(texts)
    }


SOURCE = {"limit.source": "invented service information, page 1"}
BATH = {"readings.temperature": "88.0 °C", "readings.temperature.1": "88.2 degC"}
TESTS = {
    "seal-hold": {
        "conditions.pressure reference": "vacuum",
        "readings.start pressure": "18.0 inHg",
        "readings.end pressure": "6.5 inHg",
        "readings.hold time": "60 s",
        "conditions.start temperature": "19.0 °C",
        "conditions.end temperature": "19.2 °C",
        "conditions.barometer": "98.2 kPa",
        **rows(
            "readings.During the hold",
            pressure_during_hold=["18.0 inHg", "13 inHg", "9 inHg", "6.5 inHg"],
            time_during_hold=["0 s", "20 s", "40 s", "60 s"],
        ),
        **instruments(("inHg (vacuum)", "30"), ("degC", "120")),
        "limit.minimum": "15.0",
        "limit.unit": "inHg",
        "limit.of": "end pressure",
    },
    "flow-at-pressure": {
        "readings.flow": "0.50 L/min",
        "readings.inlet pressure": "3.5 kPa (gauge)",
        "conditions.gas temperature": "20 degC",
        "conditions.barometer": "101.325 kPa",
        "conditions.gas": "nitrogen",
        "conditions.standard temperature": "20 degC",
        **instruments(("L/min", "2"), ("kPa (gauge)", "10"), ("degC", "110")),
        "limit.maximum": "0.030",
        "limit.unit": "in",
        "limit.of": "effective leak diameter",
    },
    "winding": {
        "readings.resistance": "over 40 Mohm",
        "conditions.winding temperature": "20 degC",
        "conditions.conductor": "other",
        **instruments(("Mohm", "40"), ("degC", "110")),
        "limit.maximum": "8",
        "limit.unit": "ohm",
    },
    "voltage-drop": {
        "readings.voltage drop": "2.20 V",
        "readings.load current": "100 A",
        "conditions.rated current": "150 A",
        **instruments(("V", "20"), ("A", "200")),
        "limit.maximum": "0.5",
        "limit.unit": "V",
        "limit.of": "voltage drop at rated current",
    },
    "temperature-sensor": {
        **rows(
            "readings.In the bath",
            sensor_resistance=["12535.33 Ω", "3588.18 ohm"],
            bath_temperature=["20.0 degC", "56.0 degC"],
        ),
        "conditions.curve": "beta",
        "conditions.resistance at 25 celsius": "10 kΩ",
        "conditions.beta": "3950 K",
        **instruments(("ohm", "40000"), ("degC", "110")),
        "limit.minimum": "-2",
        "limit.maximum": "2",
        "limit.unit": "K",
    },
    "linear-transfer": {
        **rows(
            "readings.Points",
            stimulus=["0 deg", "45 deg", "90 deg"],
            output=["0.50 V", "3.50 V", "4.50 V"],
        ),
        "conditions.specified stimulus low": "0 deg",
        "conditions.specified stimulus high": "90 deg",
        "conditions.specified output low": "0.50 V",
        "conditions.specified output high": "4.50 V",
        **instruments(("V", "20"), ("deg", "180")),
        "limit.minimum": "-0.2",
        "limit.maximum": "0.2",
        "limit.unit": "V",
    },
    "balance": {
        "readings.reading of each member": "301 mL, 220 mL, 299 mL, 300 mL",
        **instruments(("mL", "1000")),
        "limit.minimum": "90",
        "limit.unit": "%",
    },
    "stored-energy": {
        "readings.pressure": "400 kPa (gauge); 100 kPa (gauge)",
        "readings.hold time": "300 s",
        "conditions.temperature": "40 degC",
        **instruments(("kPa (gauge)", "1000"), ("degC", "110")),
        "limit.minimum": "300",
        "limit.unit": "kPa (gauge)",
        "limit.of": "pressure at end",
    },
    "direct-reading": {
        "readings.how": "voltage",
        "readings.voltage": "9.2 V",
        **instruments(("V", "20")),
        "limit.minimum": "12.0",
        "limit.unit": "V",
    },
    "switching-point": {
        **BATH,
        "conditions.event": "opens",
        "conditions.approach": "rising",
        **instruments(("degC", "150")),
        "limit.minimum": "60",
        "limit.maximum": "70",
        "limit.unit": "degC",
    },
    "intermittent": {
        "conditions.stimulus": "wiggle",
        "readings.seen with stimulus": "5",
        "readings.tries with stimulus": "10",
        "readings.seen without stimulus": "0 times",
        "readings.tries without stimulus": "10",
    },
    "known-good-swap": {
        "readings.seen before swap": "5",
        "readings.tries before swap": "10",
        "readings.seen at new place of part": "5",
        "readings.tries at new place of part": "10",
        "readings.seen at old place of part": "0",
        "readings.tries at old place of part": "10",
    },
    "hose-stretch": {
        "readings.length at rest": "100.0 mm",
        "readings.length under load": "150.0 mm",
        **instruments(("mm", "500")),
        "limit.maximum": "10",
        "limit.unit": "%",
    },
}


@cache
def with_hoses():
    return load_catalogue({"hoses": hose_shop})


def test_every_kind_of_bench_test_has_answers_here():
    assert set(TESTS) == set(with_hoses().bench_tests)


@pytest.mark.parametrize("method", TESTS)
def test_what_a_kind_of_bench_test_asks_is_what_it_needs(method):
    catalogue = with_hoses()
    answers = {
        "part": "egr-valve",
        "method": method,
        **TESTS[method],
        **(SOURCE if catalogue.bench_tests[method].needs_limit else {}),
    }
    assert problems_of("bench_test", answers, catalogue, **HEAD) == ()
    event = event_of("bench_test", answers, catalogue, **HEAD)
    assert validate_event(event, catalogue.events) == []
    found = result_of(Event(0, event), catalogue.bench_tests)
    decided = "faulty" if method != "flow-at-pressure" else "good"
    assert str(found.outcome) == decided, found
    assert same_numbers(again(event, catalogue)[0], event)


def test_when_it_was_read_and_a_good_part_are_kept():
    """Each reading's own time too, which a face says and nobody types."""
    read = {"value": "0.20", "unit": "V", "at": "2026-03-02T09:14:00+01:00"}
    event = {
        "kind": "bench_test",
        **HEAD,
        "part": "cable",
        "test": "drop",
        "method": "voltage-drop",
        "readings": [
            {"name": "voltage drop", **read},
            {"name": "voltage drop", **read, "value": "0.21"},
            {"name": "load current", "above": "40", "unit": "A"},
        ],
        "conditions": {
            "rated current": {"value": "50", "unit": "A"},
            "unit of voltage drop": "V",
        },
        "known_good": {
            "part": "the other cable",
            "readings": [
                {"name": "voltage drop", **read},
                {"name": "load current", "value": "30", "unit": "A"},
            ],
            "conditions": {"rated current": {"value": "51", "unit": "A"}},
        },
    }
    assert validate_event(event, CATALOGUE.events) == []
    made, problems = again(event)
    assert problems == ()
    assert made == {**event, "test": made["test"]}


@pytest.mark.parametrize("method", TESTS)
def test_each_required_answer_is_missed_at_its_field(method):
    catalogue = with_hoses()
    answers = {"part": "egr-valve", "method": method, **TESTS[method]}
    for field in fields_of("bench_test", catalogue, answers):
        if not (field.required and field.is_due(answers)):
            continue
        less = {
            k: v
            for k, v in answers.items()
            if k != field.key and not k.startswith(f"{field.key}.")
        }
        told = [p.path for p in problems_of("bench_test", less, catalogue, **HEAD)]
        implied = field.path[-1] == "how"
        assert (field.path in told) is not implied, (field, told)


@pytest.mark.parametrize("name", [*CATALOGUE.cautions, "hose-under-pressure"])
def test_every_caution_asks_what_it_is_judged_by(name):
    catalogue = with_hoses() if name.startswith("hose") else CATALOGUE
    asked = {p.name: p for p in catalogue.cautions[name].preconditions}
    answers = {"caution": name, "step.kind": "repair", "step.part": "egr-valve"}
    for field in fields_of("caution", catalogue, answers):
        if field.path[0] != "preconditions":
            continue
        precondition = asked.pop(field.path[1])
        assert precondition.ask in field.help
        if field.required and field.is_due(answers):
            number, unit = VALUES.get(precondition.name, ("100", "kPa"))
            text = "seen at the vehicle by whoever did the work"
            is_value = field.kind is FieldKind.QUANTITY
            answers[field.key] = f"{number} {unit}" if is_value else text
    assert asked == {}
    assert problems_of("caution", answers, catalogue, **HEAD) == ()
    event = event_of("caution", answers, catalogue, **HEAD)
    assert validate_event(event, catalogue.events) == []
    assert event["text_sha256"] == catalogue.cautions[name].sha256


def test_a_plugins_kind_of_event_is_asked_with_nothing_else_written():
    catalogue = with_hoses()
    assert "hose_check" in kinds_asked(catalogue)
    asked = {f.key: f for f in fields_of("hose_check", catalogue)}
    assert list(asked) == ["hose", "age", "length", "maker"]
    assert asked["age"].label == "Age"
    assert asked["age"].kind is FieldKind.NUMBER
    assert asked["length"].kind is FieldKind.QUANTITY
    answers = {"hose": "hose-1", "age": "4", "length": "80 cm"}
    event = event_of("hose_check", answers, catalogue, **HEAD)
    assert validate_event(event, catalogue.events) == []
    assert again(event, catalogue) == (event, ())
