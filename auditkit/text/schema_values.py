"""JSON Schema's keywords that look at a value alone, each made into a part.

Sections are those of JSON Schema 2020-12's validation vocabulary. ``place`` is where
the schema stands: an ``$id``, #, a pointer; an InputError names it.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Iterable, Iterator
from typing import Any, NoReturn

from auditkit.errors import InputError
from auditkit.text.moment import is_time
from auditkit.text.schema_parts import (
    TYPES,
    Check,
    Misfit,
    Path,
    Schema,
    SchemaPart,
    Table,
    leaf,
    never,
)
from auditkit.text.schema_pattern import compile_pattern


def refuse(place: str, message: str, what_to_do: str = "") -> NoReturn:
    """Raise InputError for the schema at a place: an ``$id``, #, a pointer."""
    known = "what is known stands in auditkit.text.schema_decider"
    raise InputError(message, where=place, what_to_do=what_to_do or known)


def some(keyword: str, schema: Schema, place: str) -> list[Any]:
    """Return the list that a keyword holds; refuse an empty one and what is no list."""
    said = schema[keyword]
    if not isinstance(said, list) or not said:
        refuse(place, f"its {keyword} is not a list that holds something")
    return said


def type_(_: object, schema: Schema, place: str) -> SchemaPart:
    """Section 6.1.1; true is no integer, and 1.0 does not occur."""
    asked = schema["type"]
    names = [asked] if isinstance(asked, str) else some("type", schema, place)
    for name in names:
        if name not in TYPES:
            refuse(place, f"the type {name!r} is not one that is decided here")
    others = (kind for name, kind in TYPES.items() if name not in names)
    return leaf("type", dict.fromkeys(others, never), schema)


def enum(_: object, schema: Schema, place: str) -> SchemaPart:
    """Section 6.1.2."""
    return leaf("enum", _equal(some("enum", schema, place), place), schema)


def const(_: object, schema: Schema, place: str) -> SchemaPart:
    """Section 6.1.3."""
    return leaf("const", _equal([schema["const"]], place), schema)


def _equal(values: Iterable[object], place: str) -> Table:
    """Return what equals one of the values as JSON (core, section 4.2.2)."""
    allowed: dict[type, set[object]] = {}
    for value in values:
        _check_plain(value, place)
        mark = _written(value) if isinstance(value, (dict, list)) else value
        allowed.setdefault(type(value), set()).add(mark)
    made: Table = dict.fromkeys(TYPES.values(), never)
    for kind, marks in allowed.items():
        is_nested = kind is dict or kind is list
        made[kind] = _written_in(marks) if is_nested else marks.__contains__
    return made


def _written_in(marks: set[object]) -> Check:
    return lambda value: _written(value) in marks


def _check_plain(value: object, place: str) -> None:
    if type(value) not in TYPES.values():
        refuse(place, f"{value!r} in it is no value that could fit")
    if isinstance(value, (dict, list)):
        for item in value.values() if isinstance(value, dict) else value:
            _check_plain(item, place)


def _written(value: object) -> str:
    """Return the same text for equal values only: JSON tells true from 1."""
    return json.dumps(value, sort_keys=True)


def between(
    low: str, high: str, kind: type, size: Callable[[Any], int]
) -> Callable[[object, Schema, str], SchemaPart]:
    """Sections 6.2 to 6.5: bounds of a number, or of a length, in code points."""

    def build(_: object, schema: Schema, place: str) -> SchemaPart:
        for keyword in {low, high} & schema.keys():
            bound = schema[keyword]
            if type(bound) is not int or (bound < 0 and kind is not int):
                refuse(place, f"its {keyword} is not a whole number that can bound it")
        least, most = schema.get(low, -math.inf), schema.get(high, math.inf)
        checks = {
            (True, True): lambda value: least <= size(value) <= most,
            (True, False): lambda value: least <= size(value),
            (False, True): lambda value: size(value) <= most,
        }

        def misfits(value: object, path: Path) -> Iterator[Misfit]:
            keyword = low if size(value) < least else high
            yield Misfit(path, keyword, value, schema)

        return SchemaPart({kind: checks[low in schema, high in schema]}, misfits)

    return build


def pattern(_: object, schema: Schema, place: str) -> SchemaPart:
    """Section 6.3.3, in the subset of ``schema_pattern``."""
    if not isinstance(schema["pattern"], str):
        refuse(place, "its pattern is not a text")
    try:
        search = compile_pattern(schema["pattern"]).search
    except InputError as error:
        error.where = place
        raise
    return leaf("pattern", {str: search}, schema)


def format_(_: object, schema: Schema, place: str) -> SchemaPart:
    """Section 7.2.2: it decides."""
    if schema["format"] != "date-time":
        asked = schema["format"]
        refuse(place, f"the format {asked!r} is not one that is decided here")
    return leaf("format", {str: is_time}, schema)


def required(_: object, schema: Schema, place: str) -> SchemaPart:
    """Section 6.5.3."""
    names = schema["required"]
    if not (isinstance(names, list) and all(isinstance(n, str) for n in names)):
        refuse(place, "its required is not a list of names")
    asked = frozenset(names)

    def check(value: dict[str, object]) -> bool:
        return asked <= value.keys()

    def misfits(value: dict[str, object], path: Path) -> Iterator[Misfit]:
        for name in names:
            if name not in value:
                yield Misfit(path, "required", value, schema, name)

    return SchemaPart({dict: check}, misfits)
