"""A value fits where JSON Schema 2020-12 says so, or the schema is refused by name.

Authorities: jsonschema and jsonschema-rs, two validators of that standard, over schemas
and values that are made up and over the demo's events; the standard's clauses.
"""

import copy
import json
import re
from importlib.resources import files

import jsonschema
import jsonschema_rs
import pytest
import referencing
import referencing.jsonschema
from hypothesis import given
from hypothesis import strategies as st

from auditkit.errors import InputError
from auditkit.order import event_kinds as schemas
from auditkit.text.moment import is_time
from auditkit.text.schema_decider import ANNOTATIONS, DIALECT, KEYWORDS, compile_schema

OTHER = "urn:other"
NAMES = st.sampled_from(["a", "b", "c", "ab", "é", "kind"])
TIME = "2026-03-02T09:30:00Z"
NO_TIME = "2026-02-29T09:30:00Z"
TEXTS = st.sampled_from(
    ["", "a", "b", "ab", "aab", "a\n", "é", "\U0001d11e", "1", "true", TIME, NO_TIME]
)
NUMBERS = st.sampled_from([0, 1, 2, 3, -1, 2**53 - 1, -(2**53) + 1]) | st.integers(
    -(2**53) + 1, 2**53 - 1
)
SINGLE = st.none() | st.booleans() | NUMBERS | TEXTS | st.text(max_size=3)
VALUES = st.recursive(
    SINGLE,
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(NAMES, inner, max_size=3)
    ),
    max_leaves=6,
)
TYPES = st.sampled_from(["object", "array", "string", "integer", "boolean", "null"])
SIZES = st.integers(0, 3)
PATTERNS = st.sampled_from(
    ["^a", "b$", "^a+b?$", "^(a|b)*$", "[^a]", "^[é-ü]$", "^.$".replace(".", "[^b]")]
)


def keywords(inner):
    """Return what each keyword may say, the schemas within it being of ``inner``."""
    return {
        "type": TYPES | st.lists(TYPES, min_size=1, max_size=3, unique=True),
        "const": VALUES,
        "enum": st.lists(VALUES, min_size=1, max_size=3),
        "minLength": SIZES,
        "maxLength": SIZES,
        "pattern": PATTERNS,
        "format": st.just("date-time"),
        "minItems": SIZES,
        "maxItems": SIZES,
        "items": inner,
        "maxProperties": SIZES,
        "propertyNames": inner,
        "properties": st.dictionaries(NAMES, inner, max_size=3),
        "additionalProperties": inner,
        "required": st.lists(NAMES, max_size=2, unique=True),
        "minimum": NUMBERS,
        "maximum": NUMBERS,
        "anyOf": st.lists(inner, min_size=1, max_size=3),
        "allOf": st.lists(inner, min_size=1, max_size=2),
        "title": st.just("a title"),
        "description": st.just("write it"),
    }


def made(inner, also=()):
    """Return schemas of up to four keywords."""
    each = {**keywords(inner), **dict(also)}
    names = st.lists(st.sampled_from(sorted(each)), max_size=4, unique=True)
    return st.booleans() | names.flatmap(
        lambda some: st.fixed_dictionaries({name: each[name] for name in some})
    )


PLAIN = made(st.booleans())
REFERENCES = {"$ref": st.sampled_from(["#/$defs/x", f"{OTHER}#/$defs/y"])}
SCHEMAS = st.recursive(PLAIN, lambda inner: made(inner, REFERENCES), max_leaves=6)


@st.composite
def whole(draw):
    """Draw a schema with definitions, and another to which it may refer."""
    root = draw(SCHEMAS.filter(lambda s: isinstance(s, dict)))
    own = {"$id": "urn:own", "$schema": DIALECT, "$defs": {"x": draw(PLAIN)}, **root}
    inner = draw(PLAIN)
    other = {"$id": OTHER, "$defs": {"y": {"$ref": "#/$defs/x"}, "x": inner}}
    return own, other


def likely(schema, depth=3):
    """Return values of which many fit a schema."""
    if isinstance(schema, bool) or depth == 0:
        return VALUES
    if "const" in schema:
        return st.just(schema["const"]) | VALUES
    if "enum" in schema:
        return st.sampled_from(schema["enum"]) | VALUES
    ways = [VALUES]
    if "properties" in schema or "required" in schema:
        inner = schema.get("properties", {})
        names = {*inner, *schema.get("required", ())}
        each = {name: likely(inner.get(name, True), depth - 1) for name in names}
        ways += [st.fixed_dictionaries(each), st.fixed_dictionaries({}, optional=each)]
    if "items" in schema:
        ways.append(st.lists(likely(schema["items"], depth - 1), max_size=3))
    ways += [
        likely(s, depth - 1) for k in ("anyOf", "allOf") for s in schema.get(k, ())
    ]
    return st.one_of(ways)


def rust(schema, *others):
    registry = jsonschema_rs.Registry([(other["$id"], other) for other in others])
    return jsonschema_rs.Draft202012Validator(
        schema, registry=registry, validate_formats=True
    ).is_valid


def python(schema, *others):
    """Return the other oracle, whose ``format`` and ``$`` decide otherwise."""
    make = referencing.jsonschema.DRAFT202012.create_resource
    registry = referencing.Registry().with_resources(
        [(other["$id"], make(other)) for other in others]
    )
    return jsonschema.Draft202012Validator(schema, registry=registry).is_valid


@given(st.data())
def test_two_other_validators_decide_alike(data):
    own, other = data.draw(whole())
    decider = compile_schema(own, {OTHER: other})
    value = data.draw(likely(own))
    fits = decider.fits(value)
    assert fits == rust(own, other)(value)
    if "format" not in json.dumps((own, other)) and "\\n" not in json.dumps(value):
        assert fits == python(own, other)(value)
    misfits = list(decider.misfits(value))
    assert fits == (not misfits)
    for misfit in misfits:
        place = value
        for step in misfit.path:
            place = place[step]
        if misfit.keyword == "required":
            assert misfit.name not in place
        elif misfit.keyword == "additionalProperties":
            assert misfit.name in place
        elif misfit.value is not place:
            assert misfit.value in place, "a name, held against propertyNames"


def named(schema):
    """Yield each keyword of a schema and of all within it."""
    if isinstance(schema, dict):
        for keyword, value in schema.items():
            yield keyword
            if keyword in {"properties", "$defs"}:
                for inner in value.values():
                    yield from named(inner)
            elif keyword not in {"const", "enum", *ANNOTATIONS}:
                yield from named(value)
    elif isinstance(schema, list):
        for item in schema:
            yield from named(item)


def test_the_known_keywords_are_those_that_the_schemas_use():
    used = {k for name in schemas.names() for k in named(schemas.load(name))}
    assert used == KEYWORDS


def events():
    for path in sorted(files("auditkit_demo").iterdir()):
        if path.name.startswith("RO-"):
            yield from json.loads(path.read_text("utf-8"))["events"]


def places(value, path=()):
    yield path
    if isinstance(value, dict):
        for name, item in value.items():
            yield from places(item, (*path, name))
    elif isinstance(value, list):
        for index, item in enumerate(value):
            yield from places(item, (*path, index))


COMMON = schemas.load("common-1")
DECIDERS = {
    name: (
        compile_schema(schemas.load(name), {COMMON["$id"]: COMMON}),
        rust(schemas.load(name), COMMON),
    )
    for name in schemas.names()
}


@given(st.sampled_from(list(events())), st.data())
def test_a_changed_event_is_decided_alike(event, data):
    event = copy.deepcopy(event)
    ours, other = DECIDERS[f"event-{event['kind']}-1"]
    assert ours.fits(event)
    assert other(event)
    path = data.draw(st.sampled_from([p for p in places(event) if p]))
    place = event
    for step in path[:-1]:
        place = place[step]
    what = data.draw(st.sampled_from(["other", "gone", "longer", "more"]))
    if what == "gone":
        del place[path[-1]]
    elif what == "longer" and isinstance(place[path[-1]], str):
        place[path[-1]] += data.draw(st.sampled_from(["\n", " ", "0", "é", "x" * 60]))
    elif what == "more" and isinstance(place, dict):
        place[data.draw(NAMES | st.sampled_from(list(COMMON["$defs"])))] = "1"
    else:
        place[path[-1]] = data.draw(VALUES)
    assert ours.fits(event) == other(event) == (not list(ours.misfits(event)))


@pytest.mark.parametrize(
    ("schema", "value", "fits"),
    [
        ({"const": 1}, True, False),  # core 4.2.2: equality is JSON's
        ({"const": 0}, False, False),
        ({"enum": [True]}, 1, False),
        ({"enum": [[1, {"a": True, "b": 0}]]}, [1, {"b": 0, "a": True}], True),
        ({"enum": [[1, {"a": True, "b": 0}]]}, [1, {"a": 1, "b": 0}], False),
        ({"enum": [[1]]}, [True], False),
        ({"const": "1"}, 1, False),
        ({"const": None}, None, True),
        ({"const": None}, False, False),
        ({"type": "integer"}, True, False),
        ({"type": "boolean"}, 1, False),
        ({"type": ["integer", "null"]}, None, True),
        ({"minimum": 1}, True, True),  # validation 6.2: of numbers alone
        ({"minimum": 1}, "0", True),
        ({"maximum": 9007199254740991}, 9007199254740991, True),
        ({"maximum": 9007199254740990}, 9007199254740991, False),
        (
            {"minimum": 9007199254740991},
            9007199254740990,
            False,
        ),  # equal as doubles + 1
        ({"maxLength": 1}, "\U0001d11e", True),  # validation 6.3.1: characters
        ({"maxLength": 1}, "e\u0301", False),
        ({"minLength": 1}, [], True),
        ({"pattern": "a"}, "bab", True),  # validation 6.3.3: not anchored
        ({"pattern": "^a$"}, "a\n", False),
        ({"pattern": "^a$"}, 1, True),
        ({"properties": {"a": False}}, {}, True),
        ({"properties": {"a": False}}, {"a": 1}, False),
        ({"required": ["a"]}, [], True),
        ({"additionalProperties": False}, {"a": 1}, False),
        ({"additionalProperties": False}, {}, True),
        ({"propertyNames": {"pattern": "^a"}}, {"b": 1}, False),
        ({"propertyNames": {"type": "object"}}, {}, True),
        ({"propertyNames": {"type": "object"}}, {"b": 1}, False),
        ({"items": {"type": "string"}}, "a", True),
        ({"items": False}, [], True),
        ({}, None, True),
    ],
)
def test_decided_as_the_standard_says(schema, value, fits):
    decider = compile_schema(schema, {})
    assert decider.fits(value) is fits
    assert rust(schema)(value) is fits
    assert (not list(decider.misfits(value))) is fits


@pytest.mark.parametrize("value", [1.0, float("nan"), b"a", (1,), {1}, 2.5], ids=repr)
def test_what_has_no_place_in_the_profile_fits_nothing(value):
    decider = compile_schema({"items": {}, "properties": {"a": True}}, {})
    for whole_ in (value, [value], {"a": value}, {"b": value}):
        assert not decider.fits(whole_)
        (misfit,) = decider.misfits(whole_)
        assert misfit.value is value


@pytest.mark.parametrize(
    ("schema", "said", "where"),
    [
        ({"oneOf": [{}]}, "keyword 'oneOf'", "#"),
        ({"uniqueItems": True}, "keyword 'uniqueItems'", "#"),
        ({"properties": {"a": {"not": {}}}}, "keyword 'not'", "#/properties/a"),
        ({"items": {"anyOf": [{}, {"if": {}}]}}, "keyword 'if'", "#/items/anyOf/1"),
        ({"$defs": {"x": {"$anchor": "x"}}}, "keyword '$anchor'", "#/$defs/x"),
        (
            {"$ref": "urn:other#/$defs/bad"},
            "keyword 'contains'",
            "urn:other#/$defs/bad",
        ),
        ({"additionalProperties": {"x-own": 1}}, "keyword 'x-own'", "additional"),
        ({"items": {"$id": "urn:inner"}}, "keyword '$id'", "#/items"),
        ({"items": {"$defs": {}}}, "keyword '$defs'", "#/items"),
        ({"$schema": "http://json-schema.org/draft-07/schema#"}, "schema", "#"),
        ({"type": "number"}, "type 'number'", "#"),
        ({"type": []}, "type", "#"),
        ({"type": ["string", 1]}, "type 1", "#"),
        ({"type": None}, "type", "#"),
        ({"format": "date"}, "format 'date'", "#"),
        ({"pattern": r"\d"}, r"\\d", "#"),
        ({"items": {"pattern": 1}}, "pattern", "#/items"),
        ({"minLength": -1}, "minLength", "#"),
        ({"maxItems": 1.0}, "maxItems", "#"),
        ({"maximum": True}, "maximum", "#"),
        ({"minimum": "1"}, "minimum", "#"),
        ({"required": "a"}, "required", "#"),
        ({"required": [1]}, "required", "#"),
        ({"properties": []}, "properties", "#"),
        ({"properties": {"a": None}}, "not a schema", "#/properties/a"),
        ({"items": [{}]}, "not a schema", "#/items"),
        ({"anyOf": []}, "anyOf", "#"),
        ({"allOf": {}}, "allOf", "#"),
        ({"enum": 1}, "enum", "#"),
        ({"const": 1.5}, "1.5", "#"),
        ({"enum": [[{"a": 1.0}]]}, "1.0", "#"),
        ({"$ref": "#/$defs/none"}, "leads to no entry", "#"),
        ({"$ref": "#"}, "leads to no entry", "#"),
        ({"$ref": "#/properties/a"}, "leads to no entry", "#"),
        ({"$ref": "urn:none#/$defs/x"}, "leads to no entry", "#"),
        ({"$ref": 1}, "leads to no entry", "#"),
        ({"$defs": {"x": {"$ref": "#/$defs/x"}}}, "leads back", "#/$defs/x"),
        (
            {
                "$defs": {
                    "x": {"items": {"$ref": "#/$defs/y"}},
                    "y": {"$ref": "#/$defs/x"},
                }
            },
            "leads back",
            "#/$defs/y",
        ),
        ({"$defs": []}, r"\$defs", "#"),
        ({"title": 1}, "title", "#"),
        ({"description": None}, "description", "#"),
    ],
)
def test_a_schema_that_is_not_known_whole_is_refused_with_its_place(
    schema, said, where
):
    other = {"$defs": {"bad": {"contains": {}}}}
    with pytest.raises(InputError, match=said.replace("'$", r"'\$")) as caught:
        compile_schema(schema, {OTHER: other})
    assert where in caught.value.where
    assert caught.value.what_to_do


def test_a_schema_is_compiled_alone_whatever_else_the_registry_holds():
    """What is not reached need not be known."""
    assert compile_schema({}, {OTHER: {"$defs": {"bad": {"contains": {}}}}}).fits(1)


FAULTY = {
    "type": "object",
    "properties": {
        "a": {"type": "string", "minLength": 2, "pattern": "^b"},
        "list": {"items": {"type": "integer"}, "maxItems": 2},
    },
    "additionalProperties": False,
    "required": ["a", "c"],
    "propertyNames": {"maxLength": 5},
}


def test_faults_name_the_place_and_the_keyword():
    value = {"a": "x", "list": [1, "2", 3], "unknown": 1}
    misfits = list(compile_schema(FAULTY, {}).misfits(value))
    assert {(f.path, f.keyword, f.name) for f in misfits} == {
        ((), "maxLength", ""),
        ((), "additionalProperties", "unknown"),
        (("a",), "minLength", ""),  # the pattern too, but that is no more news
        (("list",), "maxItems", ""),
        (("list", 1), "type", ""),
        ((), "required", "c"),
    }


def test_alternatives_tell_what_each_lacks():
    schema = {"anyOf": [{"required": ["a"]}, {"required": ["b"]}]}
    (misfit,) = compile_schema(schema, {}).misfits({})
    assert [[f.name for f in choice] for choice in misfit.choices] == [["a"], ["b"]]


TIMES = st.from_regex(
    r"[0-9]{4}-[0-9]{2}-[0-9]{2}[Tt ][0-9]{2}:[0-9]{2}:[0-9]{2}(\.[0-9]{1,9})?"
    r"([Zz]|[+-][0-9]{2}:[0-9]{2})?",
    fullmatch=True,
)
NEAR = st.builds(
    "{:04}-{:02}-{:02}T{:02}:{:02}:{:02}{}".format,
    st.sampled_from([0, 1, 1900, 2000, 2023, 2024, 9999]),
    st.integers(0, 13),
    st.sampled_from([0, 1, 28, 29, 30, 31, 32]),
    st.integers(0, 24),
    st.sampled_from([0, 59, 60]),
    st.sampled_from([0, 59, 60, 61]),
    st.sampled_from(
        ["Z", "z", "+00:00", "-00:00", "+23:59", "-24:00", "+01:60", "+1:00", "", "\n"]
    ),
)


@given(TIMES | NEAR)
def test_a_time_is_rfc_3339s(text):
    """jsonschema-rs reads section 5.6 whole; here small letters, leap seconds and the
    year 0 are left out, which Python's calendar does not have."""
    whole_ = rust({"format": "date-time"})(text)
    left_out = re.search(r"[tz]|:60[^:]*$|^0000", text) is not None
    assert is_time(text) == (whole_ and not left_out)


@pytest.mark.parametrize(
    ("text", "sound"),
    [
        ("1985-04-12T23:20:50.52Z", True),  # RFC 3339 section 5.8, as the next three
        ("1996-12-19T16:39:57-08:00", True),
        ("1937-01-01T12:00:27.87+00:20", True),
        ("1990-12-31T23:59:60Z", False),  # a leap second
        ("2024-02-29T00:00:00Z", True),
        ("2023-02-29T00:00:00Z", False),
        ("2026-03-02T24:00:00Z", False),
        ("2026-03-02T09:30:00+24:00", False),
        ("2026-03-02T09:30:00\u0660Z", False),
        ("2026-03-0\u0662T09:30:00Z", False),
        ("2026-03-02T09:30:00Z\n", False),
        ("20260302T093000Z", False),  # ISO 8601, not RFC 3339
        ("2026-W10-1T09:30:00Z", False),
        ("2026-03-02T09:30:00,5Z", False),
        ("2026-03-02T09:30:00", False),
    ],
)
def test_times_of_the_standard(text, sound):
    assert is_time(text) is sound
