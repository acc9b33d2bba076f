"""What a caution asks before its step, as fields. Pure."""

from __future__ import annotations

from collections.abc import Iterator

from auditkit.bay.field import Field, FieldKind, Problem, When
from auditkit.bay.unit_words import units_of_kinds
from auditkit.order.cautions import Caution, Precondition
from auditkit.order.preconditions import amiss
from auditkit.text.values import Json

PRECONDITIONS = "preconditions"


def caution_fields(caution: Caution) -> tuple[Field, ...]:
    """Return a caution's preconditions as fields.

    A sentence that stands for others is asked before them: with it they are not.
    """
    stands_for = {asked.instead for asked in caution.preconditions}
    ordered = sorted(caution.preconditions, key=lambda p: p.name not in stands_for)
    return tuple(map(_field, ordered))


def problems_of_values(caution: Caution, given: Json) -> Iterator[Problem]:
    """Yield where what was recorded cannot be, or is a tick in place of a sentence."""
    recorded = given if isinstance(given, dict) else {}
    for asked in caution.preconditions:
        if asked.name in recorded and (told := amiss(asked, recorded[asked.name])):
            yield Problem((PRECONDITIONS, asked.name), told, asked.ask)


def _field(asked: Precondition) -> Field:
    instead = When((PRECONDITIONS, asked.instead), ("",)) if asked.instead else None
    units = [str(possible.unit) for possible in asked.possible]
    kinds = tuple(dict.fromkeys(possible.unit.kind for possible in asked.possible))
    told = "; ".join(f"stop {stop}: {stop.limit_of}" for stop in asked.stops)
    return Field(
        (PRECONDITIONS, asked.name),
        f"{asked.name[:1].upper()}{asked.name[1:]}",
        f"{asked.ask} ({told})" if told else asked.ask,
        FieldKind.QUANTITY if asked.possible else FieldKind.TEXT,
        units=units_of_kinds(kinds, units),
        kinds=kinds,
        required=not (asked.optional or asked.systems),
        when=instead,
    )
