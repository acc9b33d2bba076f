"""Texts that would steer a screen are told; what people write is not."""

import unicodedata

import pytest

from auditkit.text.display_text import not_text, printable

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
