"""What a compiled schema is made of: checks by type, misfits for what fails.

A check says by its truth whether a value of one Python type fits. A table holds one for
each type of which some value fits, so that alternatives fall away before a value is
seen. What was refused is told by a second, slower walk over the same checks.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any, NamedTuple

Schema = Mapping[str, Any]
Path = tuple[str | int, ...]
Check = Callable[[Any], object]
Table = dict[type, Check]

TYPES: dict[str, type] = {
    "object": dict,
    "array": list,
    "string": str,
    "integer": int,
    "boolean": bool,
    "null": type(None),
}


class Misfit(NamedTuple):
    """One thing that does not fit.

    ``path`` leads to the value (the steps of an RFC 6901 pointer); ``keyword`` of
    ``schema`` refused it, ``name`` being the member that is missing or not known. Where
    no alternative fits (``anyOf``), ``choices`` holds the misfits of each.
    """

    path: Path
    keyword: str
    value: object
    schema: Schema
    name: str = ""
    choices: tuple[tuple[Misfit, ...], ...] = ()


class SchemaPart(NamedTuple):
    """One keyword of a schema, or two that belong together.

    ``checks`` decides values of the types that it speaks of; ``misfits`` tells what it
    refuses in a value that it does not let pass.
    """

    checks: Table
    misfits: Callable[[Any, Path], Iterator[Misfit]]


class Decider:
    """A compiled schema: ``table`` holds its checks."""

    __slots__ = ("_parts", "table")

    def __init__(self, parts: Iterable[SchemaPart]) -> None:
        self._parts = tuple(parts)
        self.table: Table = {}
        for kind in TYPES.values():
            check = every(p.checks[kind] for p in self._parts if kind in p.checks)
            if check is not never:
                self.table[kind] = check

    def fits(self, value: object) -> bool:
        """Return whether the value fits the schema."""
        check = self.table.get(type(value))
        return check is not None and bool(check(value))

    def misfits(self, value: object, path: Path = ()) -> Iterator[Misfit]:
        """Yield what does not fit; for a text or a number only the first misfit."""
        kind = type(value)
        if kind not in TYPES.values():
            yield Misfit(path, "type", value, {})
        for part in self._parts:
            if kind in part.checks and not part.checks[kind](value):
                yield from part.misfits(value, path)
                if kind is not dict and kind is not list:
                    return


def always(_: object) -> bool:
    """Let any value pass."""
    return True


def never(_: object) -> bool:
    """Let no value pass."""
    return False


def every(checks: Iterable[Check]) -> Check:
    """Return the check that a value passes if it passes all of ``checks``."""
    some = [check for check in checks if check is not always]
    if never in some:
        return never
    if not some:
        return always
    if len(some) == 1:
        return some[0]
    if len(some) == 2:
        first, second = some
        return lambda value: first(value) and second(value)
    first, second, *more = some
    third = every(more)
    return lambda value: first(value) and second(value) and third(value)


def either(checks: Iterable[Check]) -> Check:
    """Return the check that a value passes if it passes one of ``checks``."""
    some = [check for check in checks if check is not never]
    if always in some:
        return always
    if not some:
        return never
    if len(some) == 1:
        return some[0]
    first, *more = some
    rest = either(more)
    return lambda value: first(value) or rest(value)


def leaf(keyword: str, checks: Table, schema: Schema) -> SchemaPart:
    """Return the part of a keyword that looks at the value itself, not into it."""

    def misfits(value: object, path: Path) -> Iterator[Misfit]:
        yield Misfit(path, keyword, value, schema)

    return SchemaPart(checks, misfits)


ANYTHING = Decider(())
"""The schema ``true``."""
NOTHING = Decider((leaf("false", dict.fromkeys(TYPES.values(), never), {}),))
"""The schema ``false``."""
