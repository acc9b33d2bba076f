"""JSON in: what is refused. JSON out: what RFC 8785 would write."""

import json
import struct
from pathlib import Path

import hypothesis.strategies as st
import pytest
import rfc8785
from hypothesis import given

from auditkit.errors import InputError
from auditkit.text.strict_json import MAX_BYTES, canonical, parse, parse_canonical
from auditkit.text.values import MAX_DEPTH

VECTORS = json.loads(
    (Path(__file__).parent.parent / "vectors" / "log.json").read_text()
)
NAMES = st.text(st.characters(max_codepoint=127, exclude_categories=["Cs"]), max_size=8)
VALUES = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**53) + 1, 2**53 - 1)
    | st.text(st.characters(exclude_categories=["Cs"]), max_size=12),
    lambda inner: (
        st.lists(inner, max_size=4) | st.dictionaries(NAMES, inner, max_size=4)
    ),
    max_leaves=12,
)


@given(VALUES)
def test_canonical_is_rfc_8785(value):
    """rfc8785, an independent canonicaliser from the package registry."""
    assert canonical(value).encode() == rfc8785.dumps(value)
    assert parse(canonical(value)) == value


@pytest.mark.parametrize("vector", VECTORS["jcs_numbers"], ids=lambda v: v[0])
def test_rfc_8785_appendix_b_holds_for_that_library(vector):
    """Our profile has no fractions; this shows that the second opinion is sound."""
    (number,) = struct.unpack(">d", bytes.fromhex(vector[0]))
    assert rfc8785.dumps(number).decode() == vector[1]
    with pytest.raises(InputError):
        canonical(number)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('{"a":1,"a":2}', "stands twice"),
        ("NaN", "NaN"),
        ("[-Infinity]", "-Infinity"),
        ("14.0", "14.0"),
        ("1e400", "1e400"),
        ("9007199254740992", "outside"),
        ("-9007199254740992", "outside"),
        ("9" * 5000, "outside"),
        ("-0", "outside"),
        (r'"\ud800"', "surrogate"),
        (r'{"\udfff":1}', "name"),
        ('"\ud800"', "surrogate"),
        ('{"é":1}', "ASCII"),
        ("[" * (MAX_DEPTH + 1) + "]" * (MAX_DEPTH + 1), "deeper"),
        ("[" * 100_000, "deeper"),
        ("[" * (MAX_DEPTH + 1) + "1.5", "deeper"),
        ('["' + "[" * 100_000, "not JSON"),
        (r'["\"' + "[" * 100_000, "not JSON"),
        ("\ufeff{}", "byte-order"),
        ("{} x", "not JSON"),
        ("", "not JSON"),
        ('"tab\there"', "not JSON"),
        (b'"\xff"', "UTF-8"),
        ('"' + "x" * MAX_BYTES + '"', "long"),
    ],
)
def test_refused_with_reason_and_mend(text, said):
    with pytest.raises(InputError, match=said) as caught:
        parse(text, where="file.json")
    assert caught.value.where == "file.json"
    assert caught.value.what_to_do


def deepest(text):
    """Return how deep a text nests, character by character."""
    depth = most = 0
    inside = escaped = False
    for character in text:
        if escaped:
            escaped = False
        elif inside:
            escaped = character == "\\"
            inside = character != '"'
        elif character == '"':
            inside = True
        elif character in "[{":
            depth += 1
            most = max(most, depth)
        elif character in "]}":
            depth -= 1
    return most


@given(st.text('[]{}"\\a,:1', max_size=40), st.integers(0, MAX_DEPTH + 1))
def test_depth_is_refused_before_whatever_else_is_wrong(text, depth):
    whole = "[" * depth + text
    is_deep = deepest(whole) > MAX_DEPTH
    try:
        parse(whole)
    except InputError as error:
        assert ("deeper" in error.message) == is_deep
    else:
        assert not is_deep


def test_brackets_within_text_are_not_depth():
    text = json.dumps(["[" * 200 + '\\"' + "{" * 200])
    assert parse(text) == ["[" * 200 + '\\"' + "{" * 200]


@given(st.binary(max_size=60) | st.text(max_size=60))
def test_nothing_else_is_raised(text):
    try:
        value = parse(text)
    except InputError:
        return
    assert parse(canonical(value)) == value


@pytest.mark.parametrize(
    "text",
    [
        '{"a":1,"a":1}',
        '{"b":1,"a":1}',
        '{"a": 1}',
        r'"\u0041"',
        r'"\ud800"',
        "1.5",
        "NaN",
        '{"é":1}',
        r'{"\u00e9":1}',
        "[" * 65 + "]" * 65,
        "9007199254740992",
        '"' + "x" * 50 + '"',
    ],
)
def test_text_that_is_not_canonical_is_refused(text):
    with pytest.raises(InputError):
        parse_canonical(text, limit=50 if "xxx" in text else 400)


@given(VALUES)
def test_canonical_text_is_read_the_same_either_way(value):
    assert parse_canonical(canonical(value)) == parse(canonical(value)) == value


@pytest.mark.parametrize("value", [1.5, float("nan"), {"é": 1}, {1: 2}, 2**53, b"x"])
def test_canonical_refuses_what_has_no_place(value):
    with pytest.raises(InputError):
        canonical(value)


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "utf-16-be", "utf-32"])
def test_another_encoding_than_utf8_is_named(encoding):
    with pytest.raises(InputError, match="saved as UTF-16 or UTF-32") as caught:
        parse('{"a": "\u00e9"}'.encode(encoding))
    assert caught.value.what_to_do == "save the file as UTF-8"
