"""The conditions under which a limit holds, and whether a reading was taken so."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from auditkit.bench.inputs import AskedAs, HowKnown, Need
from auditkit.bench.readings import Readings
from auditkit.bench.uncertainty import value_of
from auditkit.bench.units import QuantityKind

_NAMED = AskedAs(group="Conditions that the limit names")


@dataclass(frozen=True, slots=True)
class _Condition:
    """A condition under which a limit holds; ``slack`` in the SI unit of its kind."""

    name: str
    kind: QuantityKind
    slack: Fraction

    @property
    def least(self) -> str:
        return f"least {self.name}"

    @property
    def greatest(self) -> str:
        return f"greatest {self.name}"

    @property
    def needs(self) -> tuple[Need, ...]:
        kinds = (self.kind,)
        stated, exact = HowKnown.STATED, HowKnown.EXACT
        return (
            Need(
                self.name,
                kinds,
                required=False,
                given=stated,
                slack=self.slack,
                asked=_NAMED,
            ),
            Need(self.least, kinds, required=False, given=exact, asked=_NAMED),
            Need(self.greatest, kinds, required=False, given=exact, asked=_NAMED),
        )


_CONDITIONS = (
    _Condition("part temperature", QuantityKind.TEMPERATURE, Fraction(2)),
    _Condition("supply voltage", QuantityKind.VOLTAGE, Fraction("0.1")),
    _Condition("engine speed", QuantityKind.ROTATION, Fraction(50)),
    _Condition("load current", QuantityKind.CURRENT, Fraction("0.5")),
)


WHAT_TO_DO = "read it under the conditions that the limit names"

NEEDS = tuple(need for condition in _CONDITIONS for need in condition.needs)
"""What a kind asks for whose limits hold under conditions."""


def why_outside(readings: Readings) -> str:
    """Return why a reading was not taken as its limit asks; empty where it was."""
    return "; ".join(_outside(readings))


def _outside(readings: Readings) -> Iterator[str]:
    for condition in _CONDITIONS:
        low, high = readings.has(condition.least), readings.has(condition.greatest)
        if not (low or high):
            continue
        if not readings.has(condition.name):
            yield f"{condition.name} is missing, and the limit holds only within it"
            continue
        found = value_of(readings.one(condition.name))
        said = readings.written(condition.name)[0]
        if low and found < value_of(readings.one(condition.least)):
            (least,) = readings.written(condition.least)
            yield f"{condition.name} {said}: the limit holds from {least} on"
        if high and found > value_of(readings.one(condition.greatest)):
            (greatest,) = readings.written(condition.greatest)
            yield f"{condition.name} {said}: the limit holds up to {greatest}"


def conditions_said(readings: Readings) -> tuple[str, ...]:
    """Return the conditions of a reading, as they were written."""
    return tuple(
        f"{condition.name} {readings.written(condition.name)[0]}"
        for condition in _CONDITIONS
        if readings.has(condition.name)
    )
