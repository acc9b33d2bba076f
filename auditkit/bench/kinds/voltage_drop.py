"""Voltage drop of a circuit under load, brought to its rated current.

Ohm's law. There is no published limit: the usual figures (0.1 V for a ground, 0.2 V for
a cable, 0.3 V for a switch) are common practice, no published source. The limit is
given.
"""

from __future__ import annotations

from auditkit.bench.computed import Computation, Computed, Judged
from auditkit.bench.inputs import HowKnown, Need
from auditkit.bench.kind import TestKind
from auditkit.bench.readings import Readings
from auditkit.bench.uncertainty import uncertainty_of, value_of
from auditkit.bench.units import QuantityKind
from auditkit.errors import InputError

DROP = Judged("voltage drop at rated current", QuantityKind.VOLTAGE, "V")
RESISTANCE = Judged("resistance of the path", QuantityKind.RESISTANCE, "mohm")

LEAST_LOAD = 0.5
"""Part of the rated current that has to flow; our own, against far extrapolation."""


def _compute(readings: Readings) -> Computation:
    readings.together("voltage drop", "load current")
    drop, load = readings.one("voltage drop"), readings.one("load current")
    rated = value_of(readings.positive("rated current"))
    if value_of(load) <= 2 * uncertainty_of(load) or "below" in readings.bounds(
        "load current"
    ):
        raise InputError(
            "no load current flowed beyond what the instrument can tell",
            what_to_do="load the circuit, and give both as positive",
        )
    few = value_of(load) < LEAST_LOAD * rated
    blocked = (
        f"{value_of(load):g} A is less than half the rated {rated:g} A" if few else ""
    )
    resistance = drop / load
    return Computation(
        (
            Computed(DROP, (resistance * rated,), blocked=blocked),
            Computed(RESISTANCE, (resistance,)),
        ),
        (f"brought from {value_of(load):g} A to {rated:g} A: the path is ohmic",),
        ("load the circuit nearer to its rated current",),
    )


VOLTAGE_DROP = TestKind(
    name="voltage-drop",
    title="Voltage drop under load",
    readings=(
        Need("voltage drop", (QuantityKind.VOLTAGE,)),
        Need("load current", (QuantityKind.CURRENT,)),
    ),
    conditions=(Need("rated current", (QuantityKind.CURRENT,), given=HowKnown.EXACT),),
    judges=(DROP, RESISTANCE),
    refuses=("a drop without load current, or with less than half of the rated one",),
    source="Ohm's law; limits are given by whoever tests",
    compute=_compute,
    hazards=("battery",),
)
