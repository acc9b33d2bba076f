"""Flow at pressure: the size of a leak from the flow that keeps a pressure up.

Source: effective leak diameter of 40 CFR 1066.985; equation, constants and units from
memory, held against a secondary source and one worked example. The equation is an
empirical one for nitrogen and small openings near the pressure of that test.
"""

from __future__ import annotations

from fractions import Fraction

from auditkit.bench.computed import Computation, Computed, Judged
from auditkit.bench.decision import guard_band
from auditkit.bench.inputs import PRESSURE_REFERENCE, HowKnown, Need
from auditkit.bench.kind import TestKind
from auditkit.bench.one_sided import Known
from auditkit.bench.physics import gas
from auditkit.bench.readings import BAROMETER, Readings
from auditkit.bench.uncertainty import (
    Uncertain,
    propagated,
    uncertainty_of,
    value_of,
)
from auditkit.bench.units import QuantityKind, Reference
from auditkit.errors import InputError

HOLE = Judged("effective leak diameter", QuantityKind.LENGTH, "in")
FLOW = Judged("flow", QuantityKind.FLOW, "cm3/min")
ORIFICE = Judged("orifice diameter", QuantityKind.LENGTH, "in")

COEFFICIENT = 7.844
EXPONENT = 0.5057
NITROGEN = 0.967
"""Specific gravity of nitrogen against air at the same conditions."""

INCH = 0.0254
LOWEST, HIGHEST = 2000.0, 4200.0
"""Pa above the air between which the equation is used: our own, near its test."""

FAR_BELOW = 3
"""Standard uncertainties that a flow may lie below that of the rig by chance."""

FARTHEST = 0.1
"""How far, as a part, the pressure may lie from the one that the limit speaks of."""


def effective_leak_diameter(
    flow: Uncertain,
    inlet_kpa: Uncertain,
    barometer_kpa: Uncertain,
    temperature: Uncertain,
    gravity: float = NITROGEN,
) -> Uncertain:
    """Return the diameter in inches from m3/s at standard conditions, kPa and K."""
    square = (inlet_kpa - barometer_kpa) * (inlet_kpa + barometer_kpa)
    root = (square / (gravity * temperature)) ** 0.5
    found: Uncertain = COEFFICIENT * (flow / root) ** EXPONENT
    return found


def _orifice(  # noqa: PLR0913, PLR0917  what a hole's size hangs on
    flow: float,
    inlet: float,
    air: float,
    temperature: float,
    coefficient: float,
    standard: float,
    gravity: float,
) -> float:
    """Return the diameter in m of a sharp-edged opening with this flow."""
    density = gas.STANDARD_PRESSURE * gravity / (gas.R_AIR * standard)
    per_area = gas.flow_per_area(inlet, air, temperature) * gravity**0.5
    return gas.diameter(flow * density / per_area, coefficient)


def _compute(readings: Readings) -> Computation:
    readings.together("flow", "inlet pressure")
    air = readings.air()
    inlet = readings.pascals("inlet pressure")
    temperature = readings.positive("gas temperature")
    flow = readings.one("flow")
    notes = ["flow is counted at the standard conditions of the flow meter"]
    if readings.has("blank flow"):
        flow -= readings.one("blank flow")
        notes.append("the leak of the rig (blank flow) is taken off")
    if value_of(flow) < -FAR_BELOW * uncertainty_of(flow):
        raise InputError(
            "the flow lies below that of the rig alone",
            what_to_do="read both again at the same pressure",
        )
    above = value_of(inlet) - value_of(air)
    if above <= 0:
        raise InputError(
            "the inlet pressure does not lie above the air's",
            what_to_do="look at the units and the pressure reference",
        )
    at_pressure, off = _at_specified(readings, flow, inlet - air)
    values = [Computed(FLOW, (at_pressure,), blocked=off)]
    known: tuple[Known, ...] = ()
    least = readings.budget.known(flow) in {"above", "neither"}
    if least and value_of(flow) <= 0:
        notes.append("no diameter: the flow is only known to lie above none")
        return Computation(tuple(values), tuple(notes), _SETTLES)
    if not least and value_of(flow) <= guard_band(uncertainty_of(flow), readings.alpha):
        flow, known = _most(flow, readings.alpha), ("below",)
        notes.append(
            "no flow beyond that of the rig: the diameter is that of the largest flow "
            "that may have been missed"
        )
        if flow == 0:
            return Computation(tuple(values), tuple(notes), _SETTLES)
    nitrogen = readings.word("gas") == "nitrogen"
    if nitrogen:
        inches = effective_leak_diameter(flow, inlet / 1000, air / 1000, temperature)
        hole = Computed(HOLE, (inches * INCH,), blocked=_outside(above), known=known)
        values.insert(0, hole)
        notes.append("effective leak diameter: empirical equation, nitrogen")
    else:
        notes.append("no effective leak diameter: its equation is one for nitrogen")
    standard = value_of(readings.positive("standard temperature"))
    coefficient = readings.positive("discharge coefficient")
    gravity = NITROGEN if nitrogen else 1.0
    opening = propagated(
        _orifice, flow, inlet, air, temperature, coefficient, standard, gravity
    )
    written = readings.written("standard temperature")[0]
    notes.append(
        f"orifice diameter: discharge coefficient {value_of(coefficient):.2g}, "
        f"standard temperature {written}; another model, about a tenth apart"
    )
    values.append(Computed(ORIFICE, (opening,), known=known))
    return Computation(tuple(values), tuple(notes), _SETTLES)


def _most(flow: Uncertain, alpha: float) -> float:
    """Return the largest flow behind one that does not differ from zero."""
    return max(value_of(flow), 0.0) + guard_band(uncertainty_of(flow), alpha)


def _at_specified(
    readings: Readings, flow: Uncertain, above: Uncertain
) -> tuple[Uncertain, str]:
    """Return the flow at the limit's pressure, and why that pressure is too far off."""
    name = "specified pressure"
    if not readings.has(name):
        return flow, ""
    ratio = readings.positive(name) / above
    far = abs(value_of(ratio) - 1) > FARTHEST
    said = f"the pressure was not within {FARTHEST:.0%} of the one specified"
    return flow * ratio**0.5, said if far else ""


def _outside(above: float) -> str:
    if LOWEST <= above <= HIGHEST:
        return ""
    return (
        f"the equation holds near its own test pressure, {LOWEST / 1000:g} to "
        f"{HIGHEST / 1000:g} kPa above the air; it was {above / 1000:.3g} kPa"
    )


_SETTLES = (
    "measure the blank flow of the rig and take it off",
    "use a flow meter of a lower range",
)
_EXACT = HowKnown.EXACT

FLOW_AT_PRESSURE = TestKind(
    name="flow-at-pressure",
    title="Flow at pressure",
    readings=(
        Need("flow", (QuantityKind.FLOW,)),
        Need("inlet pressure", (QuantityKind.PRESSURE,)),
        Need("blank flow", (QuantityKind.FLOW,), required=False),
    ),
    conditions=(
        Need("gas temperature", (QuantityKind.TEMPERATURE,)),
        Need(
            BAROMETER,
            (QuantityKind.PRESSURE,),
            given=HowKnown.STATED,
            reference=Reference.ABSOLUTE,
            slack=Fraction(500),
        ),
        Need("gas", words=("nitrogen", "air")),
        Need("standard temperature", (QuantityKind.TEMPERATURE,), given=_EXACT),
        Need(
            "specified pressure",
            (QuantityKind.PRESSURE,),
            required=False,
            given=_EXACT,
            reference=Reference.GAUGE,
        ),
        Need(
            "discharge coefficient",
            (QuantityKind.RATIO,),
            required=False,
            given=HowKnown.STATED,
            default="0.7",
            slack=Fraction("0.1"),
        ),
        Need(PRESSURE_REFERENCE, required=False, words=("gauge", "absolute")),
    ),
    judges=(HOLE, FLOW, ORIFICE),
    refuses=(
        "an effective leak diameter from air, or away from its test pressure",
        "a flow whose standard temperature is not given",
    ),
    source="40 CFR 1066.985 (equation from memory, secondary source)",
    compute=_compute,
    hazards=("pressurised-part",),
)
