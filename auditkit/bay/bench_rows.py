"""Readings by name, as they are asked, and the list that an event has. Pure.

By name lies an amount, a list of amounts that were read one after the other, or, under
the title of a table, a list of rows with an amount by name each.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from itertools import zip_longest

from auditkit.bay.field import Field, FieldKind
from auditkit.text.values import Json

Source = tuple[str, ...]
"""Names, and numbers of rows, that lead to an amount among those by name."""
READINGS, CONDITIONS, GOOD = "readings", "conditions", "known_good"


def listed(given: Mapping[str, Json]) -> list[tuple[Source, dict[str, Json]]]:
    """Return each reading as an event has it, with where it comes from."""
    return [(source, {"name": name, **amount}) for source, name, amount in _each(given)]


def _each(given: Mapping[str, Json]) -> Iterator[tuple[Source, str, dict[str, Json]]]:
    for name, value in given.items():
        for number, one in enumerate(value if isinstance(value, list) else [value]):
            source = (name, str(number)) if isinstance(value, list) else (name,)
            is_row = isinstance(one, dict) and any(
                isinstance(inner, dict) for inner in one.values()
            )
            if isinstance(one, dict) and is_row:
                for column, amount in one.items():
                    yield (*source, column), column, _amount(amount)
            else:
                yield source, name, _amount(one)


def _amount(value: Json) -> dict[str, Json]:
    """Return an amount; a text that is none stays in it, for its schema to refuse."""
    return value if isinstance(value, dict) else {"value": value}


def by_name(event: Mapping[str, Json], fields: Iterable[Field]) -> dict[str, Json]:
    """Return a bench test with its readings by name, where ``fields`` ask for them.

    A value may lie among the readings of an event or among its conditions.
    """
    made = dict(event)
    asked = [field for field in fields if len(field.path) > 1]
    made |= _placed(event, [field for field in asked if field.path[0] != GOOD])
    good = event.get(GOOD)
    if isinstance(good, dict):
        below = [field for field in asked if field.path[:2] == (GOOD, READINGS)]
        below += [field for field in asked if field.path[:2] == (GOOD, CONDITIONS)]
        cut = [Field(f.path[1:], f.label, kind=f.kind, fields=f.fields) for f in below]
        made[GOOD] = {**good, **_placed(good, cut)}
    return made


def _placed(event: Mapping[str, Json], fields: Iterable[Field]) -> dict[str, Json]:
    read = _values(event)
    made: dict[str, dict[str, Json]] = {READINGS: {}, CONDITIONS: {}}
    for field in fields:
        member, name = field.path[0], field.path[-1]
        if member not in made:
            continue
        columns = [row.path[-1] for row in field.fields if row.path]
        if columns:
            many = [read.pop(column, []) for column in columns]
            rows: list[Json] = [
                {n: v for n, v in zip(columns, row, strict=True) if v is not None}
                for row in zip_longest(*many)
            ]
            if rows:
                made[member][name] = rows
        elif name in read:
            values = read.pop(name)
            is_list = field.kind is FieldKind.LIST or len(values) > 1
            made[member][name] = values if is_list else values[0]
    for name, values in read.items():
        made[CONDITIONS][name] = values[0] if len(values) == 1 else values
    return {member: found for member, found in made.items() if found}


def _values(event: Mapping[str, Json]) -> dict[str, list[Json]]:
    """Return all that was read or was so, by name."""
    found: dict[str, list[Json]] = {}
    rows = event.get(READINGS)
    for row in rows if isinstance(rows, list) else []:
        if isinstance(row, dict):
            amount = {n: v for n, v in row.items() if n != "name"}
            found.setdefault(str(row.get("name")), []).append(amount)
    conditions = event.get(CONDITIONS)
    for name, value in (conditions if isinstance(conditions, dict) else {}).items():
        found.setdefault(name, []).append(value)
    return found
