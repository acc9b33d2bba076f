"""Words for people: counts, and texts that steer no screen."""

from __future__ import annotations

import re

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
    """Return a line that steers no terminal: a packet's texts are a stranger's."""
    return "".join(c if c.isprintable() else f"<U+{ord(c):04X}>" for c in line)


def not_text(text: str, *, one_line: bool = False) -> str:
    """Return what in a text is a control character, in words; empty where nothing is.

    With ``one_line`` whatever ends a line, or is half a character, is one too.
    """
    found = _CONTROL.search(text) or (_BREAKING.search(text) if one_line else None)
    if found is None:
        return ""
    return f"U+{ord(found[0]):04X} in it is a control character, not text"
