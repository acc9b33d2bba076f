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

from auditkit.bench.computed import Computation, Computed
from auditkit.bench.inputs import PRESSURE_REFERENCE, Need
from auditkit.bench.kind import TestKind
from auditkit.bench.kinds import limit_conditions
from auditkit.bench.kinds.quantities import (
    QUANTITIES,
    needs_of_quantities,
    quantity_given,
)
from auditkit.bench.leads import LEADS, without_leads
from auditkit.bench.readings import Readings
from auditkit.bench.units import QuantityKind, Reference
from auditkit.errors import InputError

CONNECTION = "connection"


def _compute(readings: Readings) -> Computation:
    judged = quantity_given(readings)
    value = readings.one(judged.name)
    notes = list(limit_conditions.conditions_said(readings))
    is_ohms = judged.kind is QuantityKind.RESISTANCE
    if readings.has(LEADS):
        if not is_ohms:
            raise InputError(
                f"{LEADS} goes with a resistance, not with a {judged.name}",
                what_to_do=f"leave {LEADS} out",
            )
        value = without_leads(readings, value, notes)
    elif is_ohms and "above" in readings.bounds(judged.name):
        notes.append("the leads were not shorted: a broken one reads as an open part")
    connection = readings.word(CONNECTION)
    if connection:
        notes.append(f"read {connection}")
    if is_ohms and connection in {"connected", "under load"}:
        notes.append("what lies beside the part in the circuit was measured with it")
    if judged.kind is QuantityKind.VOLTAGE and connection == "unplugged":
        notes.append("without load a poor contact shows the full voltage")
    outside = limit_conditions.why_outside(readings)
    unit = str(readings.unit(judged.name))
    return Computation(
        (Computed(judged, (value,), unit=unit, blocked=outside),),
        tuple(notes),
        (limit_conditions.WHAT_TO_DO,) if outside else (),
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
        *limit_conditions.NEEDS,
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
