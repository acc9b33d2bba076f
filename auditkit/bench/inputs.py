"""What a bench test is given: readings, conditions, instruments, a limit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from enum import StrEnum
from fractions import Fraction

from auditkit.bench.decision import ALPHA
from auditkit.bench.instrument import Instrument
from auditkit.bench.units import (
    QuantityKind,
    Reference,
    Unit,
    against,
    exact,
    to_si,
    unit_of,
)
from auditkit.errors import InputError
from auditkit.text.values import Quantity

PRESSURE_REFERENCE = "pressure reference"
"""Condition that says what pressures written with a bare unit are measured against."""


class HowKnown(StrEnum):
    """How a value comes to be known.

    Measured: by an instrument. Stated: with its standard uncertainty
    beside it, as the condition ``uncertainty of NAME``. Exact: a specification.
    """

    MEASURED = "measured"
    STATED = "stated"
    EXACT = "exact"


@dataclass(frozen=True, slots=True)
class AskedAs:
    """How a form asks for a need, where its name and kind do not say it all.

    ``units`` are those that are offered. ``group`` is a title under which it is folded
    away; what need not be given is folded away without one too, unless it is asked
    ``up_front``. Needs with the same ``row`` are columns of one table of that title. Of
    needs with the same ``one_of`` one is given: that is the title of the choice between
    them. With ``only`` it is needed, and only where the word, or the choice, of that
    title is one of these. ``timed`` names what is read where this time begins and ends.
    """

    label: str = ""
    units: tuple[str, ...] = ()
    group: str = ""
    row: str = ""
    one_of: str = ""
    only: tuple[str, tuple[str, ...]] | None = None
    timed: tuple[str, str] | None = None
    up_front: bool = False


@dataclass(frozen=True, slots=True)
class Need:
    """One value that a kind of test asks for.

    ``kinds`` are the kinds of quantity it may have; ``words`` instead are the texts
    from which it is chosen. ``at_least`` above 1 asks for a series; one value may be
    repeated, and the mean is taken. ``reference`` is what a bare pressure unit means,
    ``slack`` the half-width, in the SI unit, where no instrument is named, ``default``
    the value in that unit where none is given. ``own`` is the part of the half-width
    that each such value has for itself; the rest it shares with the values that are
    read ``like`` it.
    """

    name: str
    kinds: tuple[QuantityKind, ...] = ()
    required: bool = True
    at_least: int = 1
    given: HowKnown = HowKnown.MEASURED
    reference: Reference | None = None
    slack: Fraction | None = None
    words: tuple[str, ...] = ()
    default: str = ""
    own: Fraction | None = None
    like: str = ""
    asked: AskedAs = AskedAs()


@dataclass(frozen=True, slots=True)
class Limit:
    """The limit that a result is held against; it counts as good itself.

    ``of`` names the quantity where a kind can judge several of the same unit.
    """

    unit: str
    source: str
    minimum: str | None = None
    maximum: str | None = None
    of: str = ""

    def __str__(self) -> str:
        sides = (("minimum", self.minimum), ("maximum", self.maximum))
        told = (
            f"{word} {side} {self.unit}" for word, side in sides if side is not None
        )
        return ", ".join(told)


@dataclass(frozen=True, slots=True)
class KnownGood:
    """A good part measured the same way: which one, and what was read.

    ``conditions`` are those that differed from the test of the suspect part.
    """

    part: str
    readings: Mapping[str, Quantity | Sequence[Quantity]]
    conditions: Mapping[str, Quantity | str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class BenchInput:
    """Everything one bench test was given.

    ``instruments`` are by id; ``measured_with`` maps a reading or condition to one,
    needed only where two instruments measure the same kind of quantity, or to one of
    the ``unstated``: ids of instruments that state no specification.
    """

    readings: Mapping[str, Quantity | Sequence[Quantity]]
    conditions: Mapping[str, Quantity | str]
    instruments: Mapping[str, Instrument]
    tested_on: date
    limit: Limit | None = None
    known_good: KnownGood | None = None
    measured_with: Mapping[str, str] = field(default_factory=dict)
    alpha: float = ALPHA
    unstated: frozenset[str] = frozenset()

    def of_known_good(self, good: KnownGood) -> BenchInput:
        """Return the input of the same test on the good part."""
        conditions = {**self.conditions, **good.conditions}
        return replace(self, readings=good.readings, conditions=conditions)

    def quantities(self, name: str) -> tuple[Quantity, ...]:
        """Return the values read or given under a name; none where it is absent."""
        found = self.readings.get(name)
        if found is None:
            condition = self.conditions.get(name)
            found = condition if isinstance(condition, Quantity) else ()
        return (found,) if isinstance(found, Quantity) else tuple(found)

    def word(self, name: str) -> str:
        """Return the condition ``name`` as text; empty where it is absent."""
        found = self.conditions.get(name)
        return found if isinstance(found, str) else ""


def unit_for(inputs: BenchInput, need: Need, quantity: Quantity) -> Unit:
    """Return the unit of a value, with what a pressure is measured against.

    The unit says it, else the need, else a condition. Raises InputError for a unit of
    another kind, and for a pressure where none of them says it.
    """
    unit = unit_of(quantity.unit, *need.kinds)
    if unit.kind is not QuantityKind.PRESSURE or unit.reference:
        return unit
    if need.reference:
        return against(unit, need.reference)
    said = inputs.word(PRESSURE_REFERENCE)
    if said not in tuple(Reference):
        raise InputError(
            (
                f"{need.name}: {quantity} does not say what it is measured against"
                if not said
                else f"{PRESSURE_REFERENCE}: {said!r} is not known"
            ),
            what_to_do=f"write the unit as {unit.symbol} (gauge), (vacuum) or "
            f"(absolute), or give the condition {PRESSURE_REFERENCE!r}",
        )
    return against(unit, Reference(said))


def instrument_for(
    inputs: BenchInput, need: Need, unit: Unit
) -> tuple[str, Instrument] | None:
    """Return the id and the specification of the instrument that measured a value.

    The one that ``measured_with`` names, else, for what has to be measured, the only
    one for that kind of quantity; None where there is none, or it
    states no specification. Raises InputError where more than one could be meant.
    """
    named = inputs.measured_with.get(need.name)
    if named in inputs.unstated:
        return None
    if named is not None:
        if named not in inputs.instruments:
            raise InputError(
                f"{need.name}: there is no instrument {named!r}",
                what_to_do="list it among the instruments",
            )
        return named, inputs.instruments[named]
    if need.given is not HowKnown.MEASURED:
        return None
    fitting = [
        (name, instrument)
        for name, instrument in inputs.instruments.items()
        if _measures(instrument, unit)
    ]
    if len(fitting) > 1:
        names = " or ".join(name for name, _ in fitting)
        raise InputError(
            f"{need.name}: it is not said which instrument measured it",
            what_to_do=f"say {names}",
        )
    return fitting[0] if fitting else None


def readings_of_instruments(
    inputs: BenchInput, needs: Sequence[Need]
) -> dict[str, list[str]]:
    """Return by instrument id which readings and conditions it measured.

    What cannot be told of a value is left out: it is what makes its test not valid.
    """
    found: dict[str, list[str]] = {}
    for need in needs:
        quantities = inputs.quantities(need.name)
        if not quantities or need.given is HowKnown.EXACT:
            continue
        try:
            used = instrument_for(inputs, need, unit_for(inputs, need, quantities[0]))
        except InputError:
            continue
        if used is not None:
            found.setdefault(used[0], []).append(need.name)
    return found


def _measures(instrument: Instrument, unit: Unit) -> bool:
    """Return whether an instrument shows quantities of a unit's kind."""
    shown = unit_of(instrument.unit)
    return shown.kind is unit.kind and (
        shown.reference is None or shown.reference is unit.reference
    )


def instrument_unit(instrument: Instrument, unit: Unit) -> Unit:
    """Return the unit in which an instrument shows what was written in ``unit``.

    Raises InputError where the instrument measures something else.
    """
    shown = unit_of(instrument.unit, unit.kind)
    if shown.reference not in {None, unit.reference}:
        raise InputError(
            f"the instrument shows {shown}, the reading is written in {unit}",
            what_to_do="write the reading as the instrument shows it",
        )
    return shown


def si_exact(quantity: Quantity, unit: Unit) -> Fraction:
    """Return the exact SI value of a quantity whose unit is resolved."""
    return to_si(exact(quantity.text), unit)
