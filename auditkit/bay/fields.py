"""What each kind of event asks of the person who records it. Pure."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import TYPE_CHECKING

from auditkit.bay.field import NEVER_ASKED, ComesFrom, Field, FieldKind, Path, When
from auditkit.bay.schema_fields import fields_in
from auditkit.order.event_kinds import schema_of
from auditkit.order.schema import WRITTEN_BY_SOFTWARE

if TYPE_CHECKING:
    from auditkit.order.catalogue import Catalogue

__all__ = [
    "ComesFrom",
    "Field",
    "FieldKind",
    "Path",
    "When",
    "fields_of",
    "kinds_asked",
]
_HEAD = frozenset({"kind", "at", "by"})


def kinds_asked(catalogue: Catalogue) -> tuple[str, ...]:
    """Return the kinds of event that a person can record, plugins' too."""
    return tuple(k for k in catalogue.events.names if k not in WRITTEN_BY_SOFTWARE)


def fields_of(kind: str, catalogue: Catalogue) -> tuple[Field, ...]:
    """Return what an event of a kind asks, in order: nothing that a machine fills."""
    return _asked(every_field(kind, catalogue))


def _asked(fields: Iterable[Field]) -> tuple[Field, ...]:
    return tuple(
        replace(f, fields=_asked(f.fields))
        for f in fields
        if f.comes_from not in NEVER_ASKED
    )


def every_field(kind: str, catalogue: Catalogue) -> tuple[Field, ...]:
    """Return all that an event of a kind holds beside its kind, time and person."""
    schema = schema_of(kind, catalogue.events)
    return tuple(f for f in fields_in(schema) if f.path[0] not in _HEAD)
