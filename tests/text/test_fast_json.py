"""What the native library reads is what the standard library reads, or is not taken.

Authorities: the standard library's ``json`` (RFC 8259), ``rfc8785`` for canonical text.
"""

import dataclasses
import datetime as dt
import decimal
import json
import sys
import uuid
from json.encoder import encode_basestring

import orjson
import pytest
import rfc8785
from hypothesis import example, given
from hypothesis import strategies as st
from sampling import count, sampled
from web_corpus import Forge, corpus, packet_text

from auditkit.errors import AuditkitError, InputError
from auditkit.proof.check_packet import parse_packet, verify_packet
from auditkit.text import fast_json
from auditkit.text.fast_json import any_value, canonical_text, canonical_value
from auditkit.text.strict_json import canonical, parse, parse_canonical
from auditkit.text.values import MAX_DEPTH

ASCII = st.text(st.characters(max_codepoint=127), max_size=8)
TEXT = st.text(st.characters(exclude_categories=["Cs"]), max_size=8)
PLAIN = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**53) + 1, 2**53 - 1) | ASCII,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(ASCII, inner),
    max_leaves=12,
)


@pytest.fixture(params=[True, False], ids=["native", "plain"])
def native(request, monkeypatch):
    monkeypatch.setattr(fast_json, "NATIVE", request.param)
    return request.param


def test_the_library_is_there():
    assert fast_json.NATIVE, "the extra 'fast' is part of 'test'"


def without_the_library(function, *given):
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(fast_json, "NATIVE", False)
        return function(*given)


def exact(value):
    """Return a value in which true differs from 1, and 1 from 1.0."""
    return repr(value)


@given(st.dictionaries(ASCII, PLAIN))
def test_canonical_text_is_taken_and_read_alike(value):
    """rfc8785, an independent canonicaliser, writes; json reads."""
    text = rfc8785.dumps(value).decode()
    assert exact(canonical_value(text)) == exact(json.loads(text))


@given(PLAIN)
def test_a_plain_value_is_written_as_others_write_it(value):
    text = canonical_text(value)
    assert text is not None
    assert text.encode() == rfc8785.dumps(value)


@given(PLAIN | TEXT)
def test_a_value_is_written_alike_with_the_library_and_without(value):
    assert canonical(value) == without_the_library(canonical, value)
    assert canonical(value).encode() == rfc8785.dumps(value)


class Word(str):
    """A text that is not quite one."""

    __slots__ = ()


@dataclasses.dataclass
class Pair:
    """What the library would write as an object."""

    a: int = 1


@pytest.mark.parametrize(
    "odd",
    [
        1.0,
        -0.0,
        float("nan"),
        float("inf"),
        2**53,
        -(2**53),
        2**64,
        (1, 2),
        b"a",
        {1: 2},
        {None: 2},
        Pair(),
        uuid.UUID(int=1),
        dt.datetime(2026, 3, 2, tzinfo=dt.UTC),
        dt.date(2026, 3, 2),
        decimal.Decimal("1.5"),
        {1, 2},
        "\ud800",
        {"é": 1},
    ],
    ids=repr,
)
@pytest.mark.usefixtures("native")
def test_what_json_does_not_hold_is_not_written(odd):
    """The library writes many of these, in a form of its own."""
    for placed in (odd, [odd], {"a": [odd]}):
        with pytest.raises(InputError) as refused:
            canonical(placed)
        assert refused.value.what_to_do


@pytest.mark.usefixtures("native")
def test_a_kind_of_text_is_written_as_text():
    assert canonical({"a": Word("b"), Word("c"): 1}) == '{"a":"b","c":1}'


@pytest.mark.usefixtures("native")
def test_no_circle_is_followed():
    circle = []
    circle.append(circle)
    with pytest.raises(InputError, match="nests deeper"):
        canonical(circle)


@pytest.mark.parametrize("opened", ["[", '{"a":'])
def test_depth_ends_at_the_same_place_either_way(native, opened):
    closed = "]" if opened == "[" else "}"

    def nested(depth):
        return opened * depth + "1" + closed * depth

    deepest, too_deep = nested(MAX_DEPTH), nested(MAX_DEPTH + 1)
    assert (canonical_value(deepest) is not None) == native
    assert canonical(parse_canonical(deepest)) == deepest
    assert canonical_value(too_deep) is None
    for refused in (lambda: parse(too_deep), lambda: parse_canonical(too_deep)):
        with pytest.raises(InputError, match="nests deeper"):
            refused()
    with pytest.raises(InputError, match="nests deeper"):
        canonical(json.loads(too_deep))


@given(
    st.dictionaries(ASCII, PLAIN, max_size=4) | PLAIN,
    st.integers(0, 300),
    st.sampled_from(list('0.-e1E":,[]{} \\u')),
    ASCII,
)
@example({"a": 12}, 6, ".", "")
@example(12, 1, ".", "")
def test_whatever_is_taken_is_canonical(value, place, piece, more):
    text = rfc8785.dumps(value).decode()
    at = place % (len(text) + 1)
    for changed in (text[:at] + piece + text[at:], text[:at] + more + text[at + 1 :]):
        found = canonical_value(changed) if changed.isascii() else None
        if found is not None:
            strict = without_the_library(parse_canonical, changed)
            assert exact(strict) == exact(found)


FRACTIONS = st.floats(allow_nan=False, allow_infinity=False)
PLACES = [
    '{{"a":{}}}',
    '{{"a":[{}]}}',
    '{{"a":[1,{}]}}',
    '{{"a":[{{"b":{}}}]}}',
    '{{"a":"b","c":{}}}',
    "{}",
]


@given(FRACTIONS, st.sampled_from(PLACES))
@example(1e16, PLACES[0])
@example(1.5e-7, PLACES[1])
@example(-0.0, PLACES[2])
def test_no_fraction_is_taken(number, place):
    """However the library itself, or ECMAScript's rules (RFC 8785), would spell it."""
    for spelt in (orjson.dumps(number).decode(), rfc8785.dumps(number).decode()):
        text = place.format(spelt)
        if "." in spelt or "e" in spelt:
            assert canonical_value(text) is None
            with pytest.raises(AuditkitError):
                parse_canonical(text)


@pytest.mark.parametrize(
    "number",
    ["-0", "01", "1E5", "1e5", "1.0", "+1", "NaN", "Infinity", "-Infinity", "1e999"]
    + [str(sign * (2**power)) for sign in (1, -1) for power in (53, 63, 64, 200)],
)
def test_no_number_outside_the_profile_is_taken(number):
    assert {canonical_value(place.format(number)) for place in PLACES} == {None}


@pytest.mark.parametrize("number", [0, -1, 7, 2**53 - 1, -(2**53) + 1])
def test_whole_numbers_are_taken(number):
    assert canonical_value(f'{{"a":{number}}}') == {"a": number}


@pytest.mark.parametrize(
    "text",
    [
        '{"a":1,"a":1}',
        '{"b":1,"a":1}',
        '{"a": 1}',
        '{"a":"\\/"}',
        '{"a":"\\u0041"}',
        '{"a":1}\n',
        ' {"a":1}',
        '{"a":"\\u001F"}',
        '{"a":"\\ud800"}',
        "",
        "{",
        "[" * 999,
    ],
)
def test_no_other_spelling_is_taken(text):
    assert canonical_value(text) is None


def test_every_character_is_written_as_the_standard_library_writes_it():
    """In both forms: RFC 8259 section 7 leaves a choice of escapes."""
    letters = [
        c for c in map(chr, range(sys.maxunicode + 1)) if not c.isspace() or c < "\x80"
    ]
    every = "".join(c for c in letters if not "\ud800" <= c <= "\udfff")
    assert orjson.dumps(every).decode() == encode_basestring(every)
    for code in range(128):
        text = rfc8785.dumps({"a": chr(code)}).decode()
        assert canonical_value(text) == {"a": chr(code)}


@given(
    st.lists(st.dictionaries(ASCII, PLAIN, max_size=3), max_size=3),
    st.sampled_from([None, 0, 2]),
)
def test_a_text_in_any_layout_is_taken_as_json_reads_it(value, indent):
    text = json.dumps(value, ensure_ascii=False, indent=indent)
    assert exact(any_value(text.encode())) == exact(value)
    assert any_value(text.encode("utf-16")) is None


@pytest.mark.parametrize("text", ["1.0", '{"a":[1e2]}', "[" * 65 + "]" * 65, "[1,]"])
def test_what_has_no_place_in_the_profile_is_not_taken(text):
    assert any_value(text.encode()) is None


def test_every_packet_of_the_corpus_is_answered_alike(monkeypatch):
    """With the library and without: the same packet, report or refusal to the word."""
    every = corpus(Forge().enrol().work().verdict().packet(earlier=[1]))
    cases = sampled(every, len(every), "packets that are answered alike")
    taken = 0
    for case in cases:
        answers = []
        for native in (True, False):
            monkeypatch.setattr(fast_json, "NATIVE", native)
            try:
                answers.append((parse_packet(case.raw), verify_packet(case.raw)))
            except AuditkitError as error:
                answers.append(str(error))
        assert answers[0] == answers[1]
        taken += not isinstance(answers[0], str)
    assert count(300, 300) < taken < len(cases)


@given(st.integers(0, 10**9), st.sampled_from([*' \n"\\,:[]{}0-.eé', "\ud800"]))
def test_a_packet_with_one_place_changed_is_answered_alike(place, piece):
    text = PACKET
    at = place % len(text)
    for changed in (text[:at] + piece + text[at:], text[:at] + piece + text[at + 1 :]):
        answers = []
        for native in (True, False):
            with pytest.MonkeyPatch.context() as patch:
                patch.setattr(fast_json, "NATIVE", native)
                try:
                    answers.append(parse_packet(changed))
                except AuditkitError as error:
                    answers.append(str(error))
        assert answers[0] == answers[1]


PACKET = Forge().enrol().work().verdict().packet(earlier=[1])


def test_a_good_packet_is_taken_at_once(closed, monkeypatch):
    """Else the quick way would be no way at all."""
    packet = closed.packet("RO-1")
    for item in json.loads(packet)["entries"]:
        assert json.dumps(item["payload"], ensure_ascii=False).isascii()

    def never(*_, **__):
        pytest.fail("the strict reader was asked")

    monkeypatch.setattr("auditkit.proof.packet.parse", never)
    monkeypatch.setattr("auditkit.text.strict_json.parse", never)
    assert verify_packet(packet).verified


def test_sequence_numbers_keep_to_the_profile(native):
    """2^53 is no integer of it (RFC 8785 section 3.2.2.3), and refused either way."""
    for number in (2**53, 2**64, True, 1.0):
        content = json.loads(PACKET)
        content["entries"][0]["seq"] = number
        text = packet_text(content)
        with pytest.raises(AuditkitError) as refused:
            parse_packet(text)
        if number == 2**53:
            with pytest.raises(AuditkitError) as strict:
                parse(text)
            assert refused.value.message == strict.value.message
