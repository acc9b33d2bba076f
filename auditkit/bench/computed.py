"""What a kind of test computes, and in which unit it is held against a limit."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from auditkit.bench.decision import BenchOutcome
from auditkit.bench.inputs import Limit
from auditkit.bench.one_sided import Known, joint_side
from auditkit.bench.result import StatedQuantity, stated
from auditkit.bench.uncertainty import Uncertain, uncertainty_of, value_of
from auditkit.bench.units import QuantityKind, Unit, unit_of
from auditkit.errors import InputError


@dataclass(frozen=True, slots=True)
class Judged:
    """A quantity that a kind can hold against a limit; ``unit`` is its usual one."""

    name: str
    kind: QuantityKind
    unit: str


@dataclass(frozen=True, slots=True)
class Held:
    """What a hold knows of a quantity, in the SI unit of the quantity.

    ``start`` is what it is where nothing is lost, ``empty`` where all is (None: without
    end), ``drift`` how far the temperature alone moved it. ``loss`` is what was lost,
    in whatever unit.
    """

    start: Uncertain
    empty: Uncertain | None
    loss: Uncertain
    drift: float = 0.0


@dataclass(frozen=True, slots=True)
class Computed:
    """A computed quantity in SI: one value, or one value per point with its label.

    ``unit`` instead of that of the judged quantity; ``blocked`` says why it may not be
    judged, ``no_fault`` why it may not be called faulty. ``known``, one per value, says
    where only one side of it is known. ``held`` is that of a hold. ``comparisons``
    counts what could have shown a fault by chance, where that is not each value once.
    """

    judged: Judged
    values: tuple[Uncertain, ...]
    labels: tuple[str, ...] = ()
    unit: str = ""
    blocked: str = ""
    no_fault: str = ""
    known: tuple[Known, ...] = ()
    held: Held | None = None
    comparisons: int = 0

    @property
    def chances(self) -> int:
        """How many comparisons could show a fault by chance."""
        return self.comparisons or len(self.values)

    @property
    def name(self) -> str:
        """The name of the judged quantity."""
        return self.judged.name

    def known_at(self, place: int) -> Known:
        """Return what is known of one of the values."""
        return self.known[place] if self.known else ""

    def with_bounds(self, of: Callable[[Uncertain], Known]) -> Computed:
        """Return the same with what is known by ``of`` each value too."""
        known = tuple(
            joint_side((self.known_at(place), of(value)))
            for place, value in enumerate(self.values)
        )
        known = known if any(known) else ()
        return self if known == self.known else replace(self, known=known)

    def unit_against(self, limit: Limit | None) -> Unit:
        """Return the unit of the result: the limit's, where the two can be compared."""
        own = unit_of(self.unit or self.judged.unit, self.judged.kind)
        if limit is None:
            return own
        unit = unit_of(limit.unit, self.judged.kind)
        if unit.reference not in {None, own.reference}:
            raise InputError(
                f"the limit is in {unit}, the {self.name} is in {own}",
                what_to_do="give the limit as the result is measured",
            )
        return replace(unit, reference=own.reference)

    def stated(self, place: int, unit: Unit) -> StatedQuantity:
        """Return one of the values in words and digits."""
        label = f", {self.labels[place]}" if self.labels else ""
        return stated(
            f"{self.name}{label}",
            *in_unit(self.values[place], unit),
            str(unit),
            self.known_at(place),
        )


@dataclass(frozen=True, slots=True)
class Decided:
    """What a kind decides by a rule of its own, which asks for no limit.

    ``rule`` states it (ISO/IEC 17025:2017, 7.8.6) and ``risk`` is its risk of a wrong
    verdict; ``reason`` and ``settles`` where it decides nothing.
    """

    outcome: BenchOutcome
    rule: str
    result: StatedQuantity
    risk: float = 0.0
    reason: str = ""
    settles: str = ""


@dataclass(frozen=True, slots=True)
class Computation:
    """All that a kind computed, with what it assumed and what would make it surer."""

    values: tuple[Computed, ...]
    notes: tuple[str, ...] = ()
    settles: tuple[str, ...] = ()
    decided: Decided | None = None

    def with_bounds(self, of: Callable[[Uncertain], Known]) -> Computation:
        """Return the same with what is known by ``of`` each value too."""
        return replace(self, values=tuple(c.with_bounds(of) for c in self.values))

    def named(self, name: str) -> Computed:
        """Return a computed quantity; InputError where it could not be computed."""
        for computed in self.values:
            if computed.name == name:
                return computed
        message = f"{name} could not be computed from what was given"
        found = ", ".join(computed.name for computed in self.values)
        raise InputError(
            message,
            what_to_do="; ".join((*self.notes, f"what was computed is {found}")),
        )


def in_unit(value: Uncertain, unit: Unit) -> tuple[float, float]:
    """Return value and standard uncertainty of an SI number in a unit."""
    return number_in(value, unit), uncertainty_of(value) / float(unit.factor)


def number_in(value: Uncertain, unit: Unit) -> float:
    """Return the value of an SI number in a unit."""
    return value_of(value) / float(unit.factor) - float(unit.zero)
