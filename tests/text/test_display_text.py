"""Texts that would steer a screen are told; all versions of Python show texts alike."""

import re
import unicodedata
from datetime import UTC, datetime

import pytest

from auditkit.text.display_text import (
    is_shown,
    json_line,
    not_text,
    printable,
    quoted,
    says_something,
)
from auditkit.text.moment import rfc3339

TURNING = "\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"  # Unicode UAX #9


@pytest.mark.parametrize("one_line", [True, False])
def test_every_character_by_its_unicode_category(one_line):
    """The standard library's Unicode database says which are control characters."""
    breaking = {"Cc", "Cs", "Zl", "Zp"} if one_line else {"Cc"}
    kept = "" if one_line else "\t\n\r"
    for c in map(chr, range(0x3100)):
        wrong = (unicodedata.category(c) in breaking and c not in kept) or c in TURNING
        assert bool(not_text(f"a{c}b", one_line=one_line)) is wrong, hex(ord(c))
    assert bool(not_text("\ud800", one_line=one_line)) is one_line


def test_the_character_is_named():
    assert not_text("a\x1b[2J").startswith("U+001B in it")
    assert printable("a\x1b\u202eb") == "a<U+001B><U+202E>b"


# Categories of Unicode that steer, hide or stand for nothing.
HIDDEN = {"Cc", "Cf", "Cs", "Co", "Zl", "Zp", "Zs"}


def test_what_hides_or_steers_is_spelled_out():
    """Against this Python's own Unicode, as far as it knows a character."""
    for number in range(0x110000):
        letter = chr(number)
        category = unicodedata.category(letter)
        if category == "Cn":  # not known here: for another version it may be a letter
            continue
        assert is_shown(letter) == (category not in HIDDEN or letter == " "), number
    assert printable("a\u202eb\n") == "a<U+202E>b<U+000A>"
    assert printable("\U000e0001\ufffe\U0001ffff") == "<U+E0001><U+FFFE><U+1FFFF>"
    assert printable("Zündspule 0,4 Ω 🔧") == "Zündspule 0,4 Ω 🔧"


def test_characters_that_are_not_assigned_yet_are_shown():
    """So that a version that knows them answers alike: U+1FAE9 came with Unicode 16."""
    assert printable("\U0001fae9") == "\U0001fae9"


@pytest.mark.parametrize(
    "text", ["", " \t", "-", "...", "\u00a0\u2063", "\u3164", "\u2800 \uffa0", "n/a"]
)
def test_what_is_drawn_as_nothing_says_nothing(text):
    assert says_something(text) == (text == "n/a")
    assert says_something(f"{text}é") is True


def test_quotes_and_values():
    assert quoted("it's \x00") == "'it's <U+0000>'"
    assert json_line("text") == "text"
    assert json_line([1, None, {"a": True}]) == '[1, null, {"a": true}]'


@pytest.mark.parametrize(
    "text",
    [
        "2026-03-02T24:00:00Z",
        "2026-03-02T09:60:00Z",
        "2026-03-02T09:00:60Z",
        "2026-02-30T09:00:00Z",
        "20260302T090000Z",
        "2026-03-02",
        "2026-W10-1T09:00:00Z",
        "2026-03-02T09:00Z",
        "\uff12026-03-02T09:00:00Z",
        "2026-03-02T09:00:00+0100",
        "",
    ],
)
def test_what_rfc_3339_does_not_write_is_no_time(text):
    with pytest.raises(ValueError, match=re.compile("")):
        rfc3339(text)


def test_times_of_rfc_3339():
    """Section 5.8, the examples that are no leap seconds."""
    assert rfc3339("1985-04-12T23:20:50.52Z") == datetime(
        1985, 4, 12, 23, 20, 50, 520000, UTC
    )
    assert rfc3339("1996-12-19T16:39:57-08:00") == datetime(
        1996, 12, 20, 0, 39, 57, tzinfo=UTC
    )
    assert rfc3339("1937-01-01t12:00:27.87+00:20").utcoffset().seconds == 1200
    assert rfc3339("2026-03-02T09:00:00").tzinfo is None
