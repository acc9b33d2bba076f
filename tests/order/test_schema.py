"""Schemas: what they refuse, how that is explained, and that three deciders agree."""

import copy
import json
import subprocess
import sys
from functools import cache, partial
from importlib.resources import files

import hypothesis.strategies as st
import jsonschema
import jsonschema_rs
import pytest
import referencing
import referencing.jsonschema
from hypothesis import given

from auditkit.errors import InputError
from auditkit.order import event_kinds, schema
from auditkit.order.catalogue import CORE
from auditkit.order.event_kinds import OWN_KINDS, load, with_kinds
from auditkit.order.record import parse_record
from auditkit.text.values import displayed, quantity

RECORD = json.loads((files("auditkit_demo") / "RO-1001.json").read_text("utf-8"))
for _event in RECORD["events"]:
    if _event["kind"] == "bench_test":  # the typed form too
        _event["result"] = {"name": "vacuum left", "value": "6.5", "unit": "inHg"}
BY_KIND = {event["kind"]: event for event in RECORD["events"]}
Q = {"value": "1.5", "unit": "kPa"}
TIME = "2026-03-02T09:30:00+01:00"
validate_event = partial(schema.validate_event, known=OWN_KINDS)
validate_record = partial(schema.validate_record, known=OWN_KINDS)
HEAD = {"at": TIME, "by": "mechanic-1"}
BY_KIND |= {
    "attestation": {
        "kind": "attestation",
        **HEAD,
        "checkpoint": "garage.example/log\n1\nAA==\n",
        "token": "AA==",
    },
    "log_closed": {
        "kind": "log_closed",
        **HEAD,
        "successor": "garage.example/log/2",
        "log_key": "A" * 43,
        "reason": "a new key",
    },
    "text_erased": {
        "kind": "text_erased",
        **HEAD,
        "repair_order": "RO-1",
        "texts": [{"seq": 2, "path": "customer.name", "digest": "A" * 43}],
        "reason": "asked by letter",
    },
    "self_test": {
        "kind": "self_test",
        **HEAD,
        "monitor": "EGR flow",
        "mid": "31",
        "value": Q,
        "outcome": "passed",
        "seen_on": "screen",
    },
    "handover": {
        "kind": "handover",
        **HEAD,
        "to": "tech-b",
        "done": "the hose is off",
        "waits": "the valve, for its gasket",
    },
    "attachment": {
        "kind": "attachment",
        **HEAD,
        "sha256": "0" * 64,
        "media_type": "image/jpeg",
        "size": 3,
        "shows": "the valve",
    },
    "amendment": {
        "kind": "amendment",
        **HEAD,
        "corrects": 0,
        "why": "typing mistake",
        "event": BY_KIND["code_clear"],
    },
    "log_opened": {
        "kind": "log_opened",
        **HEAD,
        "origin": "g.example/log",
        "shop": "x",
        "log_key": "A" * 43,
    },
    "person_enrolled": {
        "kind": "person_enrolled",
        **HEAD,
        "person": "tech-a",
        "key": "A" * 43,
        "role": "technician",
    },
    "key_revoked": {
        "kind": "key_revoked",
        **HEAD,
        "person": "tech-a",
        "key": "A" * 43,
        "reason": "lost",
    },
    "verdict": {
        "kind": "verdict",
        **HEAD,
        "verdict": "proven",
        "faults": [],
        "answers": [],
        "findings": [],
        "rules": [],
        "policy_sha256": "0" * 64,
        "judged": [2],
        "statement": ["proven"],
    },
}
DELETE = object()


def test_every_kind_has_a_sound_example():
    assert set(BY_KIND) == set(event_kinds.kinds())
    for event in BY_KIND.values():
        assert validate_event(event) == []
    assert validate_record(RECORD) == []


@pytest.mark.parametrize("name", event_kinds.names())
def test_schemas_are_sound_and_every_property_says_what_to_write(name):
    content = load(name)
    jsonschema.Draft202012Validator.check_schema(content)

    def walk(node):
        if isinstance(node, dict):
            assert node.get("type") != "number", "decimals are text"
            for key, value in node.get("properties", {}).items():
                if value is False:  # what may not be there is not written
                    continue
                said = value.get("description")
                if "$ref" in value and not said:
                    said = schema._described(value)
                if not ("const" in value or name == "common-1" or key == "unit"):
                    assert said, (name, key)
            for value in node.values():
                walk(value)
        elif isinstance(node, list):
            for value in node:
                walk(value)

    walk(content)


@pytest.mark.parametrize("kind", sorted(BY_KIND))
def test_each_missing_member_is_named_with_a_mend(kind):
    required = load(f"event-{kind}-1")["required"]
    for name in required:
        event = {k: v for k, v in BY_KIND[kind].items() if k != name}
        (problem, *_) = validate_event(event)
        assert f'"{name}" is missing' in problem.message
        assert problem.what_to_do


@pytest.mark.parametrize(
    ("kind", "path", "value", "pointer", "said", "what_to_do"),
    [
        ("bench_test", "result.value", 14, "/result/value", "14 is a number", "text"),
        ("bench_test", "result.value", "014", "/result/value", "right form", "digits"),
        ("bench_test", "result.value", "1.5\n", "/result/value", "", ""),
        ("bench_test", "result.values", "1", "/result", "values", 'mean "value"'),
        ("bench_test", "limit", {"unit": "kPa"}, "/limit", "missing", ""),
        (
            "opening",
            "vehicle.ignition",
            "sparks",
            "/vehicle/ignition",
            "allowed",
            "mean",
        ),
        ("opening", "vehicle.vin", "I" * 17, "/vehicle/vin", "right form", "17"),
        ("opening", "vehicle.odometer.unit", "m", "/vehicle/odometer/unit", "", "km"),
        ("road_test", "distance.unit", "miles", "/distance/unit", "allowed", "mi"),
        ("opening", "complaint", "", "/complaint", "empty", "customer's words"),
        ("opening", "at", "2026-02-30T10:00:00Z", "/at", "calendar", ""),
        ("opening", "at", "2026-03-02 10:00:00", "/at", "right form", "offset"),
        ("opening", "by", "Tech A", "/by", "right form", "tech-a"),
        ("diagnosis", "codes", ["p0401"], "/codes/0", "right form", "P0401"),
        ("repair", "action", None, "/action", "allowed", "replaced"),
        ("readout", "raw", "x" * 45_001, "/raw", "too long", "capture fewer services"),
        ("opening", "complaint", {"_sd": []}, "/complaint", "", ""),
        ("caution", "preconditions", {"_sd": "x"}, "/preconditions", "", ""),
        ("amendment", "event.kind", "repair", "/event", "not known", ""),
        ("amendment", "event.kind", "verdict", "/event/kind", "cannot correct", ""),
    ],
)
def test_refused_with_pointer_and_mend(kind, path, value, pointer, said, what_to_do):  # noqa: PLR0913, PLR0917
    event = copy.deepcopy(BY_KIND[kind])
    *parents, last = path.split(".")
    place = event
    for name in parents:
        place = place[name]
    place[last] = value
    problems = validate_event(event)
    assert problems
    first = problems[0]
    assert first.pointer.startswith(pointer)
    assert said in first.message
    assert first.what_to_do
    assert what_to_do in first.what_to_do


def test_unknown_kind_has_near_name():
    (problem,) = validate_event({"kind": "bench-test", **HEAD})
    assert problem.pointer == "/kind"
    assert "bench_test" in problem.what_to_do
    assert validate_event([])[0].message == "[] is not an event"


@pytest.mark.parametrize("kind", ["verdict", "log_opened", "person_enrolled"])
def test_record_may_not_hold_what_the_software_writes(kind):
    record = {**RECORD, "events": [BY_KIND[kind]]}
    (problem,) = validate_record(record)
    assert problem.pointer == "/events/0/kind"
    assert "written by the software" in problem.message


def test_amendment_points_backwards():
    record = {**RECORD, "events": [BY_KIND["amendment"]]}
    assert validate_record(record)[0].pointer == "/events/0/corrects"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("{}", '"format" is missing'),
        ('{"format":"auditkit/repair-record@2","repair_order":"R","events":[]}', "not"),
        (
            '{"format":"auditkit/repair-record@1","repair_order":"R","events":[]}',
            "empty",
        ),
        (
            '{"format":"auditkit/repair-record@1","repair_order":"R","events":[1]}',
            "1 is",
        ),
        ("[]", "list"),
        ('{"a":1,"a":2}', "twice"),
    ],
)
def test_record_error_names_the_file(text, said):
    with pytest.raises(InputError, match=said) as caught:
        parse_record(text, CORE, where="r.json")
    assert caught.value.where.startswith("r.json")
    assert caught.value.what_to_do


def test_several_problems_are_counted():
    broken = copy.deepcopy(RECORD)
    del broken["events"][0]["shop"]
    del broken["events"][2]["codes"]
    with pytest.raises(InputError, match="and 1 more"):
        parse_record(json.dumps(broken), CORE)


VALUES = st.sampled_from(
    [
        None,
        True,
        0,
        -1,
        2**53,
        1.0,
        "",
        "x",
        "1.5",
        "1.5\n",
        "P0401",
        "P0401\n",
        TIME,
        "2026-13-01T00:00:00Z",
        "2026-02-30T00:00:00Z",
        "km",
        [],
        {},
        ["P0401"],
        Q,
        [Q],
        {"value": 1, "unit": "kPa"},
        "\u00e9",
        "x" * 50,
        float("nan"),
    ]
)


def places(value, path=()):
    yield path
    items = (
        value.items()
        if isinstance(value, dict)
        else (enumerate(value) if isinstance(value, list) else ())
    )
    for name, item in items:
        yield from places(item, (*path, name))


@cache
def oracles(kind):
    """Return two other validators of a kind of event: jsonschema-rs, jsonschema."""
    own, common = load(f"event-{kind}-1"), load("common-1")
    resource = referencing.jsonschema.DRAFT202012.create_resource(common)
    registry = referencing.Registry().with_resource(common["$id"], resource)
    return (
        jsonschema_rs.Draft202012Validator(
            own,
            registry=jsonschema_rs.Registry([(common["$id"], common)]),
            validate_formats=True,
        ),
        jsonschema.Draft202012Validator(own, registry=registry),
    )


@given(st.sampled_from(sorted(BY_KIND)), st.data())
def test_other_validators_agree(kind, data):
    """Each known difference is one that the stricter wins, and that is ours."""
    event = copy.deepcopy(BY_KIND[kind])
    path = data.draw(st.sampled_from([p for p in places(event) if p]))
    place = event
    for name in path[:-1]:
        place = place[name]
    value = data.draw(VALUES | st.just(DELETE))
    if value is DELETE:
        del place[path[-1]]
    else:
        place[path[-1]] = value
    if event.get("kind") != kind:
        return
    ours = event_kinds.decider_of(f"event-{kind}-1").fits(event)
    fast, slow = (oracle.is_valid(event) for oracle in oracles(kind))
    if isinstance(value, float) and path[0] != "event":
        # What a correction puts in an event's place is held to that kind's own schema.
        assert not ours, "no fraction is read, and 1.0 is one"
    else:
        assert ours == fast
    if fast != slow:
        # A newline after `$`, and formats.
        assert (fast, slow) == (False, True), (event, path)
    problems = validate_event(event)
    assert ours or problems
    assert all(p.message and p.what_to_do for p in problems)


@pytest.mark.parametrize("text", ["P0401\n", "1.5\n"])
def test_known_difference_trailing_newline(text):
    pattern = {"type": "string", "pattern": "^[P0-9.]+$"}
    assert jsonschema.Draft202012Validator(pattern).is_valid(text)
    assert not jsonschema_rs.Draft202012Validator(pattern).is_valid(text)


def test_plugin_may_add_a_kind_but_not_replace_one():
    added = {"type": "object", "required": ["kind", "at", "by", "colour"]}
    known = with_kinds({"paint": added})
    paint = {"kind": "paint", **HEAD}
    assert schema.validate_event({**paint, "colour": "grey"}, known) == []
    assert '"colour" is missing' in schema.validate_event(paint, known)[0].message
    with pytest.raises(InputError, match="known already"):
        with_kinds({"repair": added})
    with pytest.raises(InputError, match="no name of an event kind"):
        with_kinds({"Paint-job": added})
    reserved = schema.validate_event({**paint, "colour": [{"_sd": 1}]}, known)
    assert reserved[0].pointer == "/colour/0/_sd"
    assert "paint" in known.names
    # Nothing is kept beside the value: who was not given it does not know the kind.
    (problem,) = validate_event({**paint, "colour": "grey"})
    assert "'paint' is not a kind of event" in problem.message.replace('"', "'")


@pytest.mark.parametrize(
    ("added", "said", "where"),
    [
        ({"type": "object", "oneOf": [{}]}, "keyword 'oneOf'", "'paint', #"),
        (
            {"properties": {"at": {"pattern": r"\d"}}},
            "read differently",
            "'paint', #/properties/at",
        ),
    ],
)
def test_a_plugins_schema_that_is_not_known_whole_is_refused(added, said, where):
    with pytest.raises(InputError, match=said) as caught:
        with_kinds({"paint": added})
    assert caught.value.where == f"schema of the event kind {where}"


def test_an_added_kind_has_times_of_the_calendar():
    known = with_kinds({"paint": {"type": "object"}})
    event = {"kind": "paint", **HEAD, "at": "2026-02-30T09:00:00Z"}
    (problem,) = schema.validate_event(event, known)
    assert problem.pointer == "/at"
    assert "calendar" in problem.message


def test_every_time_of_our_own_kinds_is_of_the_calendar():
    """So that ``schema`` looks at the times of added kinds alone."""
    for kind in event_kinds.kinds():
        properties = load(f"event-{kind}-1")["properties"]
        for name in {"at", "captured", "start", "end"} & set(properties):
            assert properties[name]["$ref"].endswith("#/$defs/time"), (kind, name)


def test_no_library_decides_or_explains():
    """The same answer where neither is there, as in a verifier without libraries."""
    event = {**BY_KIND["bench_test"], "result": {"value": 14, "unt": "kPa"}}
    code = (
        "import json, sys\n"
        "sys.modules.update(jsonschema=None, jsonschema_rs=None, referencing=None)\n"
        "from auditkit.order.schema import validate_event\n"
        "from auditkit.order.event_kinds import OWN_KINDS\n"
        "for p in validate_event(json.load(sys.stdin), OWN_KINDS):\n"
        "    print(p.pointer, p.message, p.what_to_do, sep='; ')\n"
    )
    ran = subprocess.run(
        [sys.executable, "-c", code],
        input=json.dumps(event),
        capture_output=True,
        text=True,
        check=True,
    )
    digits = 'write the digits that were read as text, such as "14.0"'
    assert ran.stdout.splitlines() == [
        '/result; "unt" is not known here; did you mean "unit"?',
        f"/result/value; 14 is a number; {digits}",
    ]


@pytest.mark.parametrize(
    ("kind", "path", "value", "pointer", "said", "what_to_do"),
    [
        ("opening", "vehicle.model_year", 1959, "vehicle/model_year", "below 1960", ""),
        ("opening", "vehicle.model_year", 2101, "vehicle/model_year", "above 2100", ""),
        ("bench_test", "conditions.hold time", {}, "hold time", '"unit" is', "unit"),
        (
            "bench_test",
            "conditions.hold time",
            {"unit": "s"},
            "hold time",
            '"value" or "above" or "below" is missing',
            "digits",
        ),
        ("bench_test", "conditions.hold time", "", "hold time", "is empty", "seen"),
        (
            "bench_test",
            "conditions.hold time",
            {"value": "1", "above": "1", "unit": "s"},
            "hold time",
            "'above' and 'value' do not go together",
            'as "above", such as',
        ),
        (
            "bench_test",
            "readings",
            [{"name": "drop", "unit": "V"}],
            "readings/0",
            '"value" or "above" or "below" is missing',
            "shown",
        ),
        (
            "bench_test",
            "readings",
            [{"name": "drop", "above": "OL", "unit": "V"}],
            "readings/0/above",
            '"OL" is not of the right form',
            "digits",
        ),
        (
            "opening",
            "vehicle.odometer",
            {"above": "1", "unit": "km"},
            "odometer",
            '"above" is not known',
            "value",
        ),
        ("bench_test", "conditions.hold time", 1, "hold time", "none of the", "unit"),
        (
            "bench_test",
            "conditions.hold time",
            {"valu": "1", "unit": "s"},
            "hold time",
            '"valu" is not known',
            'mean "value"',
        ),
        ("bench_test", "conditions.Hold", "x", "conditions", '"Hold" is not of', ""),
        ("bench_test", "limit.minimum", DELETE, "limit", '"minimum" or "max', "limit"),
        ("opening", "vehicle.odometer.unit", "", "odometer/unit", "not allowed", "km"),
        (
            "opening",
            "complaint",
            ["\u202e\x1b"],
            "complaint",
            r'["<U+202E>\u001b"]',
            "",
        ),
        ("opening", "shop\x1b", "x", "", '"shop<U+001B>" is not known', '"shop"'),
    ],
)
def test_what_the_explanation_says(kind, path, value, pointer, said, what_to_do):  # noqa: PLR0913, PLR0917
    event = copy.deepcopy(BY_KIND[kind])
    *parents, last = path.split(".")
    place = event
    for name in parents:
        place = place[name]
    if value is DELETE:
        place.clear()
        place["unit"] = "kPa"
    else:
        place[last] = value
    first = validate_event(event)[0]
    assert first.pointer.endswith(pointer)
    assert said in first.message
    assert what_to_do in first.what_to_do


@pytest.mark.parametrize(
    ("member", "value"),
    [
        ("result", "above 40 Mohm"),
        ("result", {"value": "OL", "unit": "Mohm"}),
        ("result", {"above": "OL", "unit": "Mohm"}),
        ("result", {"over": "40", "unit": "Mohm"}),
        ("result", {"value": "40", "unit": "Mohm", "over_range": True}),
        ("readings", [{"name": "resistance", "value": "> 40", "unit": "Mohm"}]),
        ("readings", [{"name": "resistance", "unit": "Mohm"}]),
        ("readings", ["OL"]),
        ("conditions", {"hold time": {"value": "OL", "unit": "Mohm"}}),
    ],
)
def test_a_display_over_its_range_in_a_wrong_form_is_told_the_right_one(member, value):
    event = {**copy.deepcopy(BY_KIND["bench_test"]), member: value}
    told = validate_event(event)[0].what_to_do
    assert '"above": "40"' in told
    assert "over its range" in told


@pytest.mark.parametrize("side", ["value", "above", "below"])
def test_a_reading_is_a_value_or_a_bound(side):
    event = copy.deepcopy(BY_KIND["bench_test"])
    amount = {side: "40", "unit": "Mohm"}
    event["readings"] = [{"name": "resistance", **amount}]
    event["conditions"] = {"insulation": amount}
    event["result"] = amount
    event["known_good"] = {"part": "spare", "result": amount, "readings": []}
    assert validate_event(event) == []
    shown = displayed(event["readings"][0])
    assert str(shown) == ("40 Mohm" if side == "value" else f"{side} 40 Mohm")
    assert (quantity(amount) is not None) is (side == "value")
    assert displayed({**amount, "value": "1", "below": "2"}) is None


@pytest.mark.parametrize("place", ["result", "readings"])
@pytest.mark.parametrize(
    ("amount", "said"),
    [
        ({"value": "40", "above": "40"}, "'above' and 'value' do not go together"),
        ({"value": "40", "below": "40"}, "'below' and 'value' do not go together"),
        ({"above": "1", "below": "40"}, "'above' and 'below' do not go together"),
        ({"value": "1", "above": "1", "below": "1"}, "do not go together"),
        ({}, '"value" or "above" or "below" is missing'),
    ],
)
def test_a_measured_amount_is_exactly_one_of_value_above_and_below(place, amount, said):
    event = copy.deepcopy(BY_KIND["bench_test"])
    whole = {"name": "resistance", "unit": "Mohm", **amount}
    event[place] = whole if place == "result" else [whole]
    (problem,) = validate_event(event)
    assert problem.pointer == ("/result" if place == "result" else "/readings/0")
    assert said in problem.message
    assert 'write the digits that were shown as "value"' in problem.what_to_do
    assert '"above": "40"' in problem.what_to_do


def test_unknown_schema_name():
    with pytest.raises(InputError, match="no schema"):
        load("nope")


def test_a_readout_is_raw_or_typed_and_never_both():
    both = {**BY_KIND["readout"], "typed": {"modules": [{"module": "7E8"}]}}
    (problem,) = validate_event(both)
    assert '"raw"' in problem.message.replace("'", '"')
    assert "together" in problem.message
    typed = {k: v for k, v in both.items() if k not in {"raw", "protocol"}}
    assert validate_event(typed) == []
