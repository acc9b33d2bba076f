"""An event -> the answers that would make it, to correct it or to begin with. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import TYPE_CHECKING

from auditkit.bay.bench_rows import by_name
from auditkit.bay.field import HOW, NEVER_ASKED, Field, FieldKind
from auditkit.bay.fields import HEAD, every_field
from auditkit.bay.filling import NONE
from auditkit.bay.typed_values import NO, YES
from auditkit.text.values import Json, displayed

if TYPE_CHECKING:
    from auditkit.order.catalogue import Catalogue


def answers_of(event: Mapping[str, Json], catalogue: Catalogue) -> dict[str, str]:
    """Return answers by key; nothing of what a machine fills again.

    Of a bench test by a method they are by the names of its readings. Raises InputError
    for a kind of event that is not known.
    """
    kind = str(event.get("kind"))
    steering = {n: str(event[n]) for n in ("method", "caution") if n in event}
    every = every_field(kind, catalogue, steering)
    fields = [field for field in every if field.comes_from not in NEVER_ASKED]
    source = by_name(event, fields) if steering.get("method") else event
    made = dict(_all(fields, source, ""))
    corrected = event.get("event")
    if kind == "amendment" and isinstance(corrected, dict):
        inner = answers_of(corrected, catalogue)
        inner |= {name: str(corrected.get(name)) for name in sorted(HEAD)}
        made |= {f"event.{key}": text for key, text in inner.items()}
    return made


def kept_of(event: Mapping[str, Json], catalogue: Catalogue) -> dict[str, Json]:
    """Return by key what of an event no person typed: a correction lets it stand."""
    kept: dict[str, Json] = {}
    for asked in every_field(str(event["kind"]), catalogue):
        value: Json = dict(event)
        for name in asked.path:
            value = value.get(name) if isinstance(value, dict) else None
        if asked.comes_from in NEVER_ASKED and value is not None:
            kept[asked.key] = value
    return kept


def _all(
    fields: Iterable[Field], event: Mapping[str, Json], base: str
) -> Iterator[tuple[str, str]]:
    for asked in fields:
        if asked.path[-1:] == (HOW,):
            continue
        value: Json = dict(event)
        for name in asked.path[:-1] if asked.inline else asked.path:
            value = value.get(name) if isinstance(value, dict) else None
        if value is not None:
            yield from _of(asked, value, f"{base}{asked.key}")


def _of(asked: Field, value: Json, key: str) -> Iterator[tuple[str, str]]:
    if asked.kind is FieldKind.LIST:
        yield from _rows(asked, value, key)
    elif isinstance(value, list):  # read again and again
        for number, one in enumerate(value):
            yield from _of(asked, one, f"{key}.{number}" if number else key)
    else:
        yield key, text_of(value)
        if isinstance(value, dict) and "at" in value and not asked.inline:
            yield f"{key}.at", text_of(value["at"])


def _rows(asked: Field, value: Json, key: str) -> Iterator[tuple[str, str]]:
    if isinstance(value, dict):
        yield from ((f"{key}.{name}", text_of(one)) for name, one in value.items())
        return
    rows = value if isinstance(value, list) else []
    if not rows:
        yield key, NONE
    for number, row in enumerate(rows):
        if asked.fields[0].path:
            members = row if isinstance(row, dict) else {}
            yield from _all(asked.fields, members, f"{key}.{number}.")
        else:
            yield from _of(asked.fields[0], row, f"{key}.{number}")


def text_of(value: Json) -> str:
    """Return a value as a person types it."""
    if isinstance(value, bool):
        return YES if value else NO
    amount = displayed(value)
    return str(value if amount is None else amount)
