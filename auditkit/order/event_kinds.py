"""The schemas that come with auditkit, and the kinds of event that are known.

A plugin adds kinds of event: only whoever is given the value knows them.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from types import MappingProxyType
from typing import Any

from auditkit.errors import InputError
from auditkit.text.display_text import nearest, quoted
from auditkit.text.schema_decider import Decider, compile_schema
from auditkit.text.tables import table_names, table_text

_SUFFIX = ".schema.json"


@lru_cache(maxsize=1)
def names() -> tuple[str, ...]:
    """Return the names of the schemas that come with auditkit."""
    found = table_names("auditkit_schemas")
    return tuple(n.removesuffix(_SUFFIX) for n in found if n.endswith(_SUFFIX))


@lru_cache(maxsize=64)
def load(name: str) -> dict[str, Any]:
    """Return a schema by name; raise InputError where there is none."""
    if name not in names():
        raise InputError(
            f"no schema is called {quoted(name)}",
            what_to_do=f"the schemas are {', '.join(names())}",
        )
    text = table_text("auditkit_schemas", f"{name}{_SUFFIX}")
    schema: dict[str, Any] = json.loads(text)
    return schema


@lru_cache(maxsize=1)
def kinds() -> tuple[str, ...]:
    """Return the kinds of event that come with auditkit."""
    events = (n for n in names() if n.startswith("event-"))
    return tuple(sorted(n.removeprefix("event-").removesuffix("-1") for n in events))


@dataclass(frozen=True, slots=True, eq=False)
class EventKinds:
    """The kinds of event that are known: auditkit's own, and those that are added.

    ``added`` maps a kind to what decides on its events, ``schemas`` to what was given
    for it. See ``with_kinds``.
    """

    added: Mapping[str, Decider] = field(repr=False)
    schemas: Mapping[str, Mapping[str, Any]] = field(repr=False)

    @property
    def names(self) -> tuple[str, ...]:
        """All kinds by name."""
        return tuple(sorted({*kinds(), *self.added}))


OWN_KINDS = EventKinds(MappingProxyType({}), MappingProxyType({}))
"""The kinds of event that come with auditkit, and no other."""


def with_kinds(schemas: Mapping[str, Mapping[str, object]]) -> EventKinds:
    """Return auditkit's own kinds of event and more: kind -> JSON Schema 2020-12.

    Raises InputError for a name that is no lower-case word or is one of auditkit's own,
    and for a schema that cannot be decided, with the place in it.
    """
    made: dict[str, Decider] = {}
    for kind, schema in schemas.items():
        where = f"schema of the event kind {quoted(kind)}"
        if not re.fullmatch(r"[a-z][a-z0-9_]*", kind):
            raise InputError(
                f"{quoted(kind)} is no name of an event kind",
                where=where,
                what_to_do="write lower-case words joined by '_'",
            )
        if kind in kinds():
            raise InputError(
                f"the event kind {quoted(kind)} is known already",
                where=where,
                what_to_do="choose another name",
            )
        try:
            made[kind] = _compiled(schema)
        except InputError as error:
            error.where = f"{where}, {error.where}"
            raise
    return EventKinds(MappingProxyType(made), MappingProxyType(dict(schemas)))


def schema_of(kind: str, known: EventKinds) -> Mapping[str, Any]:
    """Return the schema of a kind of event; raise InputError where it is not known."""
    if kind in known.schemas:
        return known.schemas[kind]
    if kind not in kinds():
        near = nearest(kind, known.names)
        raise InputError(
            f"{quoted(kind)} is not a kind of event",
            what_to_do=f"did you mean {near[0]!r}?"
            if near
            else f"the kinds are {', '.join(known.names)}",
        )
    return load(f"event-{kind}-1")


@lru_cache(maxsize=64)
def decider_of(name: str) -> Decider:
    """Return what decides on the schema ``name``; InputError where there is none."""
    return _compiled(load(name))


def _compiled(schema: Mapping[str, object]) -> Decider:
    common = load("common-1")
    return compile_schema(schema, {common["$id"]: common})
