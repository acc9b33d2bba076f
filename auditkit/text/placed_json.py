"""Strict JSON that a person wrote: what is refused is told with its place."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator

from auditkit.errors import InputError
from auditkit.text.strict_json import MAX_BYTES, parse
from auditkit.text.values import MAX_DEPTH, Json


def parse_placed(text: str | bytes, *, where: str = "") -> Json:
    """Return the value of a strict JSON text that a person wrote.

    As ``strict_json.parse``, whose InputError names a line where the text is no JSON at
    all. Here it also names line, column and JSON pointer of a value or name that JSON
    has and this project refuses; they are looked for only once there is an error.
    """
    try:
        return parse(text, where=where)
    except InputError as error:
        found = None
        if not error.message.startswith("it is not JSON") and len(text) <= MAX_BYTES:
            plain = text if isinstance(text, str) else text.decode("utf-8", "replace")
            if "\0" not in plain:  # UTF-16, which has no place that could be shown
                found = _place(plain, error.message)
        if found is not None:
            at, pointer = found
            error.message += f" at line {at[0]} column {at[1]}"
            error.where = f"{where}#{pointer}"
        raise


_TOKEN = re.compile(
    r'"(?:[^"\\]|\\.)*"|-?Infinity|NaN|-?[0-9][0-9.eE+-]*|[][{}:,]|[a-z]+', re.DOTALL
)


def _place(text: str, message: str) -> tuple[tuple[int, int], str] | None:
    """Return line and column, and pointer, of the first token that an error tells of.

    None where no token alone is at fault: then the error names its place itself.
    """
    for start, pointer, lone in _tokens(text):
        if message in _faults(lone):
            line = text.count("\n", 0, start) + 1
            return (line, start - text.rfind("\n", 0, start)), pointer
    return None


def _faults(texts: tuple[str, ...]) -> Iterator[str]:
    for text in texts:
        try:
            parse(text)
        except InputError as error:
            yield error.message


def _tokens(text: str) -> Iterator[tuple[int, str, tuple[str, ...]]]:
    """Yield start, pointer and texts of JSON to try, for each name, value and depth."""
    path: list[int | str] = []
    names: list[set[str] | None] = []  # of each open object; None for a list
    is_name = False
    for found in _TOKEN.finditer(text):
        piece, start = found[0], found.start()
        if piece in "{[":
            names.append(set() if piece == "{" else None)
            path.append("" if piece == "{" else 0)
            is_name = piece == "{"
            if len(names) == MAX_DEPTH + 1:
                deep = "[" * len(names) + "]" * len(names)
                yield start, _pointer(path[:-1]), (deep,)
        elif piece in "}]":
            if not names:
                return
            names.pop()
            path.pop()
            is_name = False
        elif piece == ",":
            if not names:
                return
            is_name = names[-1] is not None
            place = path[-1]
            path[-1] = place + 1 if isinstance(place, int) else ""
        elif piece == ":":
            is_name = False
        elif is_name and names and (seen := names[-1]) is not None:
            path[-1] = name = _read(piece)
            once = f"{{{piece}:0}}"
            twice = f"{{{piece}:0,{piece}:0}}"
            yield start, _pointer(path), (once, twice) if name in seen else (once,)
            seen.add(name)
        else:
            yield start, _pointer(path), (piece,)


def _read(piece: str) -> str:
    try:
        return str(json.loads(piece))
    except ValueError:  # what follows the error need not be JSON
        return piece[1:-1]


def _pointer(path: list[int | str]) -> str:
    return "".join(
        f"/{str(step).replace('~', '~0').replace('/', '~1')}" for step in path
    )
