"""What a caution asks before its step, as fields. Pure."""

from __future__ import annotations

from auditkit.bay.field import Field, FieldKind, When
from auditkit.bay.unit_words import units_of_kinds
from auditkit.order.cautions import Caution, Precondition

PRECONDITIONS = "preconditions"


def caution_fields(caution: Caution) -> tuple[Field, ...]:
    """Return a caution's preconditions as fields.

    A sentence that stands for others is asked before them: with it they are not.
    """
    stands_for = {asked.instead for asked in caution.preconditions}
    ordered = sorted(caution.preconditions, key=lambda p: p.name not in stands_for)
    return tuple(map(_field, ordered))


def _field(asked: Precondition) -> Field:
    instead = When((PRECONDITIONS, asked.instead), ("",)) if asked.instead else None
    units = [str(possible.unit) for possible in asked.possible]
    kinds = dict.fromkeys(possible.unit.kind for possible in asked.possible)
    told = "; ".join(f"stop {stop}: {stop.limit_of}" for stop in asked.stops)
    return Field(
        (PRECONDITIONS, asked.name),
        f"{asked.name[:1].upper()}{asked.name[1:]}",
        f"{asked.ask} ({told})" if told else asked.ask,
        FieldKind.QUANTITY if asked.possible else FieldKind.TEXT,
        units=units_of_kinds(kinds, units),
        required=not (asked.optional or asked.systems),
        when=instead,
    )
