r"""Patterns that mean the same in ECMA-262 and in Python.

JSON Schema's patterns are ECMA-262's (section 22.2, with the flag u). Only this subset
is taken, in which both agree on every text: characters, ``\`` before a sign of the
syntax, ``\uXXXX``, classes of characters and ranges, groups, ``|``, one of
``* + ? {n} {n,} {n,m}``, and ``^`` and ``$``, which mean the text's start and end.
"""

from __future__ import annotations

import re
from functools import lru_cache
from typing import NoReturn

from auditkit.errors import InputError

_SYNTAX = "^$\\.*+?()[]{}|/"
_MOST_REPEATS = 1000
_COUNT = re.compile(r"\{([0-9]{1,9})(?:(,)([0-9]{1,9})?)?\}", re.ASCII)
_HEX4 = re.compile(r"u([0-9A-Fa-f]{4})")
_SET_OPERATORS = ("&&", "~~", "--")  # of some dialects; two characters to the others
_WHAT_TO_DO = "write the characters out in [...], with ( ), |, * + ? {n,m}, ^ and $"


@lru_cache(maxsize=256)
def compile_pattern(pattern: str) -> re.Pattern[str]:
    r"""Return a pattern of the common subset as Python's; raise InputError for another.

    It is to be used with ``search``. Its ``$`` became ``\Z``: Python's own also means
    the place before a line end that ends the text.
    """
    try:
        return re.compile(_Reader(pattern).read())
    except (re.error, OverflowError, RecursionError):  # brackets that are not closed
        _refuse(pattern, "its brackets are not in order")


class _Reader:
    """One walk through a pattern, which writes it as Python means it."""

    def __init__(self, pattern: str) -> None:
        self.pattern = pattern
        self.at = 0

    def read(self) -> str:
        written: list[str] = []
        repeatable = False  # whether something stands before that * could repeat
        while self.at < len(self.pattern):
            sign = self.pattern[self.at]
            if sign == "[":
                written.append(self._class())
                repeatable = True
            elif sign in "*+?{":
                if not repeatable:
                    self._refuse("repeats what cannot be repeated")
                written.append(self._repeat())
                repeatable = False
            elif sign in "^$|(":
                if self.pattern.startswith("(?", self.at):
                    self._refuse("holds a group of a special kind")
                written.append(r"\Z" if sign == "$" else sign)
                self.at += 1
                repeatable = False
            elif sign == ")":
                written.append(sign)
                self.at += 1
                repeatable = True
            elif sign in ".]}":
                self._refuse(f"holds a bare {sign}")
            else:
                written.append(re.escape(self._character(_SYNTAX)))
                repeatable = True
        return "".join(written)

    def _repeat(self) -> str:
        start = self.at
        if self.pattern[start] != "{":
            self.at += 1
            return self.pattern[start]
        found = _COUNT.match(self.pattern, start)
        if found is None:
            self._refuse("holds a bare {")
        least, most = int(found[1]), int(found[3] or found[1])
        if not least <= most <= _MOST_REPEATS:
            self._refuse(f"repeats otherwise than from 0 to {_MOST_REPEATS} times")
        self.at = found.end()
        return found[0]

    def _class(self) -> str:
        self.at += 1
        negated = self.pattern.startswith("^", self.at)
        self.at += negated
        start = self.at
        parts: list[str] = []
        while not self.pattern.startswith("]", self.at):
            low = self._member(dash=self.at == start)
            if self._is_range():
                self.at += 1
                high = self._member()
                if low > high:
                    self._refuse("holds a range that runs backwards")
                parts.append(f"{re.escape(low)}-{re.escape(high)}")
            else:
                parts.append(re.escape(low))
        if self.at == start:
            self._refuse("holds an empty class")
        self.at += 1
        return f"[{'^' if negated else ''}{''.join(parts)}]"

    def _is_range(self) -> bool:
        rest = self.pattern[self.at : self.at + 2]
        return len(rest) == 2 and rest[0] == "-" and rest[1] != "]"

    def _member(self, *, dash: bool = False) -> str:
        """Return one member of a class; a bare dash only at its start or end."""
        pair = self.pattern[self.at : self.at + 2]
        is_dash = pair[:1] == "-" and not (dash or pair == "-]")
        if is_dash or pair[:1] == "[" or pair in _SET_OPERATORS:
            self._refuse(f"holds a bare {pair[:1]} in a class")
        return self._character(_SYNTAX + "-")

    def _character(self, escapable: str) -> str:
        """Return the character that stands here, and move past it."""
        if self.at >= len(self.pattern):
            self._refuse("ends within a class")
        sign = self.pattern[self.at]
        self.at += 1
        if sign != "\\":
            return self._whole(sign)
        escaped = self.pattern[self.at : self.at + 1]
        if found := _HEX4.match(self.pattern, self.at):
            self.at = found.end()
            return self._whole(chr(int(found[1], 16)))
        if not escaped or escaped not in escapable:
            self._refuse(f"holds \\{escaped}")
        self.at += 1
        return escaped

    def _whole(self, character: str) -> str:
        if "\ud800" <= character <= "\udfff":
            self._refuse("holds half a character")
        return character

    def _refuse(self, what: str) -> NoReturn:
        _refuse(self.pattern, what)


def _refuse(pattern: str, what: str) -> NoReturn:
    raise InputError(
        f"the pattern {pattern!r} {what}, which programs read differently",
        what_to_do=_WHAT_TO_DO,
    )
