"""What no person types, and what an event takes from the rest of itself. Pure."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from auditkit.bay.field import ComesFrom, Field, Path
from auditkit.text.values import Json

if TYPE_CHECKING:
    from auditkit.bench import TestKind
    from auditkit.order.catalogue import Catalogue

_LONGEST_ID = 60


def by_machine(
    fields: Iterable[Field],
    event: dict[str, Json],
    catalogue: Catalogue,
    base: Path = (),
) -> None:
    """Fill in what an event lacks and what follows from the rest of it.

    ``base`` leads to it where it lies in another event, a correction.
    """
    for asked in fields:  # the clock says no other moment than the event's own
        is_now = asked.comes_from is ComesFrom.CLOCK and asked.required
        if is_now and asked.path[:-1] == base:
            event.setdefault(asked.path[-1], event.get("at"))
    if event.get("kind") == "caution":
        caution = catalogue.cautions.get(str(event.get("caution")))
        if caution is not None:
            event.setdefault("version", caution.version)
            event.setdefault("text_sha256", caution.sha256)
        event.setdefault("preconditions", {})
    elif event.get("kind") == "bench_test":
        method = catalogue.bench_tests.get(str(event.get("method")))
        if method is not None:
            event.setdefault("test", method.title)
            _name_what_is_limited(event, method)
    elif event.get("kind") == "diagnosis":
        _name_parts(event.get("suspect_parts"))


def _name_what_is_limited(event: Mapping[str, Json], method: TestKind) -> None:
    """Name in a limit the one thing that was read, where a kind limits what it reads.

    Readings lie by name, or as the list that an event has.
    """
    limit, given = event.get("limit"), event.get("readings")
    named = given if isinstance(given, dict) else {}
    rows = given if isinstance(given, list) else []
    names = {*named, *(str(row.get("name")) for row in rows if isinstance(row, dict))}
    one_of = {need.name for need in method.readings if need.asked.one_of}
    limited = {judged.name for judged in method.judges}
    read = names & one_of
    if isinstance(limit, dict) and limited <= one_of and len(read) == 1:
        limit.setdefault("of", read.pop())


def _name_parts(parts: Json) -> None:
    """Give each suspect part that has no short name one of its name's words."""
    rows = [
        p for p in (parts if isinstance(parts, list) else []) if isinstance(p, dict)
    ]
    taken = {part.get("id") for part in rows}
    for part in rows:
        if "id" in part or "name" not in part:
            continue
        name = short_name(str(part["name"])) or "part"  # of another script than Latin
        more = (f"{name}-{number}" for number in range(2, len(rows) + 2))
        part["id"] = next(one for one in (name, *more) if one not in taken)
        taken.add(part["id"])


def short_name(name: str) -> str:
    """Return a name as an id: ``EGR valve`` is egr-valve."""
    words = re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")
    return words[:_LONGEST_ID].strip("-")


def place(event: dict[str, Json], path: Path, value: Json) -> None:
    """Put a value at its place in an event; members come to those that are there."""
    if value is None:
        return
    node = event
    for name in path[:-1]:
        inner = node.setdefault(name, {})
        if not isinstance(inner, dict):
            return
        node = inner
    there = node.get(path[-1])
    if isinstance(there, dict) and isinstance(value, dict):
        there.update(value)
    else:
        node[path[-1]] = value
