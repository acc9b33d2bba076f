"""What a caution asks before its step, as fields. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from auditkit.bay.field import Field, FieldKind, Problem, When
from auditkit.bay.unit_words import VACUUM, sign_of, units_of_kinds
from auditkit.bench.units import QuantityKind
from auditkit.order.cautions import Caution, Precondition, Stop
from auditkit.order.choice_words import SETUPS
from auditkit.order.preconditions import amiss
from auditkit.text.display_text import first_large
from auditkit.text.values import Json

PRECONDITIONS = "preconditions"


def caution_fields(caution: Caution) -> tuple[Field, ...]:
    """Return a caution's preconditions as fields.

    A sentence that stands for others is asked before them, and says so: with it they
    are not.
    """
    spared: dict[str, list[str]] = {}
    for asked in caution.preconditions:
        spared.setdefault(_instead(asked), []).append(asked.name)
    ordered = sorted(caution.preconditions, key=lambda p: p.name not in spared)
    return tuple(_field(asked, spared.get(asked.name, ())) for asked in ordered)


def problems_of_values(caution: Caution, given: Json) -> Iterator[Problem]:
    """Yield where what was recorded cannot be, or is a tick in place of a sentence."""
    recorded = given if isinstance(given, dict) else {}
    for asked in caution.preconditions:
        if asked.name in recorded and (told := amiss(asked, recorded[asked.name])):
            yield Problem((PRECONDITIONS, asked.name), told, asked.ask)


def _instead(asked: Precondition) -> str:
    """Return the sentence with which a precondition need not be asked, or nothing.

    That is also what lifts each of its stops, where it is asked for them alone.
    """
    lifts = {stop.unless for stop in asked.stops}
    lifted = lifts.pop() if asked.optional and len(lifts) == 1 else ""
    return asked.instead or lifted


def _stop(stop: Stop) -> str:
    """Return a stop in words, with the work that it is for where that is not all."""
    work = [f"{one} parts" for one in sorted(stop.systems)]
    work += [SETUPS.get(kind, kind) for kind in sorted(stop.in_steps)]
    only = f" ({', '.join(work)})" if work else ""
    *value, unit = str(stop).split(" ")
    return f"stop {' '.join([*value, sign_of(unit)])}{only}: {stop.limit_of}"


def _field(asked: Precondition, spared: Sequence[str]) -> Field:
    sentence = _instead(asked)
    instead = When((PRECONDITIONS, sentence), ("",)) if sentence else None
    units = [str(possible.unit) for possible in asked.possible]
    kinds = tuple(dict.fromkeys(possible.unit.kind for possible in asked.possible))
    told = "; ".join(map(_stop, asked.stops))
    if spared:
        told = f"where it is so, write only this, not: {', '.join(spared)}"
    return Field(
        (PRECONDITIONS, asked.name),
        first_large(asked.name),
        f"{asked.ask} ({told})" if told else asked.ask,
        FieldKind.QUANTITY if asked.possible else FieldKind.TEXT,
        units=units_of_kinds(
            kinds, units, VACUUM if QuantityKind.PRESSURE in kinds else ()
        ),
        kinds=kinds,
        required=not (asked.optional or asked.systems),
        when=instead,
    )
