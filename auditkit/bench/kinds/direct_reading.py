"""Direct reading: what an instrument shows, held against the limit of the part.

A resistance, voltage, current, pressure, temperature, length (a gap, a wear), torque,
time, frequency, flow, angle, speed or ratio: nothing is computed but the error of the
instrument (GUM 4.3.7) and, of several readings, their mean (GUM 4.2). The lead
resistance is taken off a resistance.

A limit holds under conditions: at a temperature of the part, a supply voltage, an
engine speed. Where the limit says between what they lie, a reading outside decides
nothing: a part that fails only hot is judged hot, and a dead supply reads like a bad
part. What the conditions were stands beside the reading.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from auditkit.bench.computed import Computation, Computed
from auditkit.bench.inputs import PRESSURE_REFERENCE, HowKnown, Need
from auditkit.bench.kind import TestKind
from auditkit.bench.kinds.quantities import (
    QUANTITIES,
    needs_of_quantities,
    quantity_given,
)
from auditkit.bench.readings import Readings
from auditkit.bench.uncertainty import value_of
from auditkit.bench.units import QuantityKind, Reference
from auditkit.errors import InputError

LEADS, CONNECTION = "lead resistance", "connection"

MOST_LEADS = 0.5
"""Ohm that good leads show shorted; common practice, no published source."""


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
            Need(self.name, kinds, required=False, given=stated, slack=self.slack),
            Need(self.least, kinds, required=False, given=exact),
            Need(self.greatest, kinds, required=False, given=exact),
        )


CONDITIONS = (
    _Condition("part temperature", QuantityKind.TEMPERATURE, Fraction(2)),
    _Condition("supply voltage", QuantityKind.VOLTAGE, Fraction("0.1")),
    _Condition("engine speed", QuantityKind.ROTATION, Fraction(50)),
    _Condition("load current", QuantityKind.CURRENT, Fraction("0.5")),
)


def why_outside(readings: Readings) -> str:
    """Return why a reading was not taken as its limit asks; empty where it was."""
    return "; ".join(_outside(readings))


def _outside(readings: Readings) -> Iterator[str]:
    for condition in CONDITIONS:
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
        for condition in CONDITIONS
        if readings.has(condition.name)
    )


def _compute(readings: Readings) -> Computation:
    judged = quantity_given(readings)
    value = readings.one(judged.name)
    notes = list(conditions_said(readings))
    is_ohms = judged.kind is QuantityKind.RESISTANCE
    if readings.has(LEADS):
        if not is_ohms:
            message = f"{LEADS} goes with a resistance, not with a {judged.name}"
            raise InputError(message, what_to_do=f"leave {LEADS} out")
        leads = readings.one(LEADS)
        value -= leads
        if value_of(leads) > MOST_LEADS:
            notes.append(f"the leads have more than {MOST_LEADS:g} ohm: look at them")
    elif is_ohms and "above" in readings.bounds(judged.name):
        notes.append("the leads were not shorted: a broken one reads as an open part")
    connection = readings.word(CONNECTION)
    if connection:
        notes.append(f"read {connection}")
    if is_ohms and connection in {"connected", "under load"}:
        notes.append("what lies beside the part in the circuit was measured with it")
    if judged.kind is QuantityKind.VOLTAGE and connection == "unplugged":
        notes.append("without load a poor contact shows the full voltage")
    return Computation(
        (
            Computed(
                judged,
                (value,),
                unit=str(readings.unit(judged.name)),
                blocked=why_outside(readings),
            ),
        ),
        tuple(notes),
        ("read it under the conditions that the limit names",)
        if why_outside(readings)
        else (),
    )


DIRECT_READING = TestKind(
    name="direct-reading",
    title="Direct reading against a limit",
    readings=(
        *needs_of_quantities(),
        Need(LEADS, (QuantityKind.RESISTANCE,), required=False),
    ),
    conditions=(
        Need(
            CONNECTION, required=False, words=("unplugged", "connected", "under load")
        ),
        *(need for condition in CONDITIONS for need in condition.needs),
        Need(PRESSURE_REFERENCE, required=False, words=tuple(Reference)),
    ),
    judges=tuple(QUANTITIES.values()),
    refuses=(
        "two quantities in one test",
        "a reading under other conditions than its limit holds for",
    ),
    source="GUM (JCGM 100:2008) 4.2 and 4.3.7; limits are given by whoever tests",
    compute=_compute,
)
