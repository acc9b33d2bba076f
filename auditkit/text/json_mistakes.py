"""Where a text stops being JSON (RFC 8259), and what to do, in words of our own.

Parsers word this in their own ways, and differently from version to version. Whoever
reads a packet gets the same answer wherever it is checked.
"""

from __future__ import annotations

import re
from typing import NamedTuple

_TOKEN = re.compile(
    r"""[ \t\n\r]*(?:
    (?P<text>"(?:[^"\\\x00-\x1f]|\\(?:["\\/bfnrt]|u[0-9a-fA-F]{4}))*")
    | (?P<plain>true|false|null|NaN|-?Infinity  # the last two are refused elsewhere
      |-?(?:0|[1-9][0-9]*)(?:\.[0-9]+)?(?:[eE][-+]?[0-9]+)?)
    | (?P<mark>[][{}:,])
    | (?P<odd>.) | (?P<end>\Z))""",
    re.VERBOSE | re.DOTALL,
)
_SOUND_TEXT = re.compile(r'"(?:[^"\\\x00-\x1f]|\\(?:["\\/bfnrt]|u[0-9a-fA-F]{4}))*')
_QUOTES = frozenset("'\u2018\u2019\u201a\u201c\u201d\u201e\u00ab\u00bb")
_SPACES = frozenset("\u00a0\u2002\u2003\u2009\u200b\u202f\u2060\u3000\ufeff")
_COMMENT = re.compile(r"//|/\*|#")
_WORD = re.compile(r"[A-Za-z_$][A-Za-z0-9_$]*")
_SPELT = {"True": "true", "False": "false", "None": "null", "nil": "null"}
_RUNS_ON = re.compile(r"[0-9][.0-9A-Za-z_]")
_NO_NUMBER = (
    "a number is written in a way that JSON does not know",
    'write the digits that were read as text, such as "14.0"',
)
_CLOSING = {"[": "]", "{": "}"}

_VALUE = frozenset({"text", "plain", "[", "{"})
_NAME = frozenset({"text"})
_EXPECTED = {
    _VALUE: ("a value is missing", "write a text in double quotes, a number or null"),
    _VALUE | {"]"}: ("a value is missing", "write one, or close the list"),
    _NAME: ("a name is missing", "write a name in double quotes"),
    _NAME | {"}"}: ("a name is missing", "write a name in double quotes"),
    frozenset({":"}): ("a colon is missing after the name", "write one"),
    frozenset({",", "]"}): ("a comma is missing", "write one between two values"),
    frozenset({",", "}"}): ("a comma is missing", "write one between two members"),
    frozenset({"end"}): ("there is more after the value", "keep one value"),
}


class JsonMistake(NamedTuple):
    """What is wrong, what to do, and where: line and column, counted from 1."""

    what: str
    what_to_do: str
    line: int
    column: int


def mistake_of(text: str) -> JsonMistake | None:
    """Return the first thing that keeps a text from being JSON, None where it is."""
    opened: list[str] = []
    wanted, at, last = _VALUE, 0, ""
    while True:
        found = _TOKEN.match(text, at)
        if found is None or found.lastgroup is None:  # the pattern takes any text
            return None
        kind, token = found.lastgroup, found[found.lastgroup]
        start, at = found.start(kind), found.end()
        kind = token if kind == "mark" else kind
        if kind not in wanted:
            what, what_to_do, place = _told(text, start, wanted, last)
            line_start = text.rfind("\n", 0, place) + 1
            line = text.count("\n", 0, place) + 1
            return JsonMistake(what, what_to_do, line, place - line_start + 1)
        if kind == "end":
            return None
        wanted, last = _next(kind, wanted, opened), kind


def _next(kind: str, wanted: frozenset[str], opened: list[str]) -> frozenset[str]:
    """Return what may follow a token; ``opened`` are the brackets open before it."""
    if kind in _CLOSING:
        opened.append(kind)
        return (_VALUE if kind == "[" else _NAME) | {_CLOSING[kind]}
    if kind == ",":
        return _VALUE if opened[-1] == "[" else _NAME
    if kind == ":":
        return _VALUE
    if kind in ("]", "}"):
        opened.pop()
    elif wanted <= _NAME | {"}"}:
        return frozenset({":"})
    return frozenset({",", _CLOSING[opened[-1]]}) if opened else frozenset({"end"})


def _told(
    text: str, start: int, wanted: frozenset[str], last: str
) -> tuple[str, str, int]:
    """Return what is wrong at a token that is not wanted, what to do, and where."""
    mark = text[start : start + 1]
    if mark == "":
        if not text.strip(" \t\n\r"):
            return "there is nothing in it", "write what belongs there", start
        return "it is broken off", "ask for the whole file", start
    if mark == '"' and "text" in wanted:
        return _in_text(text, start)
    said = _of_mark(mark, last) or _of_spelling(text, start, wanted, last)
    return *(said or _EXPECTED[wanted]), start


def _of_mark(mark: str, last: str) -> tuple[str, str] | None:
    """Return what is wrong with one character that is not wanted, and what to do."""
    if mark in _QUOTES:
        return "a curly or single quote stands here", 'write the double one, "'
    if mark in "]}" and last == ",":
        return "a comma stands before the closing bracket", "leave it out"
    if mark in _SPACES:
        what = f"an odd space (U+{ord(mark):04X}) stands between values"
        return what, "write a plain space"
    return None


def _of_spelling(
    text: str, start: int, wanted: frozenset[str], last: str
) -> tuple[str, str] | None:
    """Return what is wrong with what other languages would read, and what to do."""
    if _COMMENT.match(text, start):
        return "a comment stands here, and JSON has none", "leave it out"
    if last == "plain" and _RUNS_ON.match(text, start - 1):
        return _NO_NUMBER
    if found := _WORD.match(text, start):
        return _of_word(found[0], wanted)
    if text[start] in "+-.0123456789":
        return _of_number(wanted)
    return None


def _of_word(word: str, wanted: frozenset[str]) -> tuple[str, str] | None:
    """Return what is wrong with a word that stands without quotes, and what to do."""
    if "plain" in wanted and word in _SPELT:
        return f"{word} is not spelt as JSON spells it", f"write {_SPELT[word]}"
    if "text" in wanted:
        what = "a name" if "plain" not in wanted else "a word"
        return f"{what} stands without quotes", 'write it in double quotes, "'
    return None


def _of_number(wanted: frozenset[str]) -> tuple[str, str] | None:
    """Return what is wrong with a number, or what looks like one, and what to do."""
    if "plain" in wanted:
        return _NO_NUMBER
    if "text" in wanted:
        what = "a number stands where a name belongs"
        return what, 'write 14,0 as "14.0", and a name in double quotes'
    return None


def _in_text(text: str, start: int) -> tuple[str, str, int]:
    """Return what is wrong in a text that opens at ``start`` and does not close."""
    found = _SOUND_TEXT.match(text, start)
    place = found.end() if found else start
    mark = text[place : place + 1]
    if mark == "":
        return "a text has no closing quote", 'close it with "', start
    if mark in "\n\r":
        what_to_do = r"write \n for it, or close the text before it"
        return "a line break stands inside a text", what_to_do, place
    if mark == "\\":
        what_to_do = r"write \\ for a backslash"
        return "a backslash begins nothing that JSON knows", what_to_do, place
    what_to_do = f"write \\u{ord(mark):04x} for it"
    return "a control character stands inside a text", what_to_do, place
