"""Words for people: counts, and texts that cannot control a screen.

What can be shown is a table of our own: a Python of another version knows another
Unicode, and readers get the same words from every one.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable

from auditkit.text.values import Json

# Unicode 17.0, general categories Cc, Cf, Cs, Co, Zl, Zp, and Zs but the space; what is
# no character for ever; and what is kept for characters that are not seen.
_NO_LETTERS = (0xFFFE, 0xFFFF)
_UNSHOWN = re.compile(
    "[\x00-\x1f\x7f-\xa0\xad\u0600-\u0605\u061c\u06dd\u070f\u0890\u0891\u08e2"
    "\u1680\u180e\u2000-\u200f\u2028-\u202f\u205f-\u206f\u3000\ud800-\uf8ff"
    "\ufdd0-\ufdef\ufeff\ufff9-\ufffb\ufffe\uffff\U000110bd\U000110cd"
    "\U00013430-\U0001343f\U0001bca0-\U0001bca3\U0001d173-\U0001d17a"
    + "".join(
        chr(0x10000 * plane + end) for plane in range(1, 14) for end in _NO_LETTERS
    )
    + "\U000e0000-\U000e00ff\U000e01f0-\U0010ffff]"
)

# What is drawn as nothing, though Unicode calls it a letter or a sign; and what names
# nothing: space and ASCII's own punctuation.
_SAYS_NOTHING = re.compile(
    rf"{_UNSHOWN.pattern}|[\u115f\u1160\u2800\u3164\uffa0 !-/:-@\[-`{{-~]"
)

# Unicode's control characters but tab and line ends, and those that turn the direction
# of writing.
_CONTROL = re.compile(
    r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]"
)
# What is no plain text on one line: tab, line and paragraph ends, half characters.
_BREAKING = re.compile(r"[\t\n\r\u2028\u2029\ud800-\udfff]")


def plural(count: int, one: str, many: str) -> str:
    """Return a count with its word."""
    return f"{count} {one if count == 1 else many}"


def printable(line: str) -> str:
    """Return a line that cannot control a terminal: a stranger wrote it."""
    return _UNSHOWN.sub(lambda found: f"<U+{ord(found[0]):04X}>", line)


def is_shown(text: str) -> bool:
    """Return whether every character of a text can be seen for what it is."""
    return _UNSHOWN.search(text) is None


def says_something(text: str) -> bool:
    """Return whether a text has more in it than blanks, dashes and dots."""
    return bool(_SAYS_NOTHING.sub("", text))


def first_large(text: str) -> str:
    """Return a text that begins with a capital letter; the others stay as they are."""
    return f"{text[:1].upper()}{text[1:]}"


def quoted(text: str) -> str:
    """Return a text in quotes, as it is named in a message."""
    return f"'{printable(text)}'"


def json_line(value: Json) -> str:
    """Return a JSON value on one line: a text as it is, anything else as JSON."""
    return value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)


def not_text(text: str, *, one_line: bool = False) -> str:
    """Return what in a text is a control character, in words; empty where nothing is.

    With ``one_line`` whatever ends a line, or is half a character, is one too.
    """
    found = _CONTROL.search(text) or (_BREAKING.search(text) if one_line else None)
    if found is None:
        return ""
    return f"U+{ord(found[0]):04X} in it is a control character, not text"


def nearest(word: str, known: Iterable[str], most: int = 1) -> list[str]:
    """Return known words that are near to a mistyped one, the nearest first."""
    import difflib

    return difflib.get_close_matches(word, list(known), most)
