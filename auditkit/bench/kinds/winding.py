"""Winding: resistance at a reference temperature, and current against the expected.

Source: temperature coefficient of copper 0.00393 /K at 20 degC, IEC 60028 and NBS
Handbook 100 (from memory). For copper between -50 and 150 degC. A heater of ceramic or
platinum is not a copper winding: its maker's curve applies.
"""

from __future__ import annotations

from auditkit.bench.computed import Computation, Computed, Judged
from auditkit.bench.decision import guard_band
from auditkit.bench.inputs import HowKnown, Need
from auditkit.bench.kind import TestKind
from auditkit.bench.leads import LEADS, without_leads
from auditkit.bench.readings import Readings
from auditkit.bench.uncertainty import Uncertain, uncertainty_of, value_of
from auditkit.bench.units import QuantityKind
from auditkit.errors import InputError

RESISTANCE = Judged(
    "resistance at reference temperature", QuantityKind.RESISTANCE, "ohm"
)
CURRENT = Judged("current", QuantityKind.CURRENT, "A")

ALPHA_20 = 0.00393
T_20 = 293.15
COLDEST, HOTTEST = 223.15, 423.15
"""K; the range in which the coefficient of copper is used."""

SAME_TEMPERATURE = 2.0
"""K within which a winding of another metal needs no correction; our own."""


def copper_at(
    resistance: Uncertain, temperature: Uncertain, reference: float = T_20
) -> Uncertain:
    """Return a copper resistance at ``reference``; temperatures in K."""
    corrected: Uncertain = (
        resistance
        * (1 + ALPHA_20 * (reference - T_20))
        / (1 + ALPHA_20 * (temperature - T_20))
    )
    return corrected


def _compute(readings: Readings) -> Computation:
    r = readings
    resistance, temperature = r.one("resistance"), r.one("winding temperature")
    notes: list[str] = []
    if r.has(LEADS):
        resistance = without_leads(r, resistance, notes)
        notes.append("the resistance of the test leads is taken off")
    if value_of(resistance) < -guard_band(uncertainty_of(resistance)):
        raise InputError(
            "resistance lies below that of the leads", what_to_do="read both again"
        )
    name = "reference temperature"
    reference = value_of(r.one(name)) if r.has(name) else T_20
    values = [_resistance(r, resistance, temperature, reference, notes)]
    if r.has("current"):
        values.append(Computed(CURRENT, (r.one("current"),)))
    if r.has("supply voltage") and not readings.budget.known(resistance):
        notes.append(_expected_current(r, resistance))
    return Computation(
        tuple(values),
        tuple(notes),
        ("let the winding take on the temperature of the room, and read it there",),
    )


def _resistance(
    readings: Readings,
    resistance: Uncertain,
    temperature: Uncertain,
    reference: float,
    notes: list[str],
) -> Computed:
    if readings.word("conductor") == "copper":
        ends = (value_of(temperature), reference)
        inside = min(ends) >= COLDEST and max(ends) <= HOTTEST
        notes.append(
            f"corrected to {_written_reference(readings)}, copper, {ALPHA_20} of it a "
            "degree Celsius, at 20 degC"
        )
        return Computed(
            RESISTANCE,
            (copper_at(resistance, temperature, reference),),
            blocked=""
            if inside
            else "copper is corrected between -50 and 150 degC only",
        )
    read_at = readings.written("winding temperature")[0]
    far = abs(value_of(temperature) - reference)
    notes.append("not copper: resistance as read, without correction")
    return Computed(
        RESISTANCE,
        (resistance,),
        blocked=""
        if far <= SAME_TEMPERATURE
        else f"not copper, and read at {read_at}, away "
        f"from {_written_reference(readings)}: the maker's curve is needed",
    )


def _written_reference(readings: Readings) -> str:
    written = readings.written("reference temperature")
    return written[0] if written else "20 degC"


def _expected_current(readings: Readings, resistance: Uncertain) -> str:
    """Return how the current agrees with supply voltage over resistance."""
    if value_of(resistance) <= 0:
        return "no expected current: no resistance above that of the leads"
    supply = readings.one("supply voltage")
    if readings.has("driver voltage"):
        supply -= readings.one("driver voltage")
    expected = supply / resistance
    said = f"expected current {value_of(expected):.4g} A, supply over resistance"
    if not readings.has("current"):
        return said
    measured = readings.one("current")
    apart = abs(value_of(measured - expected))
    if apart <= 2 * uncertainty_of(measured - expected):
        return f"{said}: the current agrees with it"
    return f"{said}: the current does not agree; look at supply, driver and heating"


_STATED = HowKnown.STATED

WINDING = TestKind(
    name="winding",
    title="Winding resistance and current",
    readings=(
        Need("resistance", (QuantityKind.RESISTANCE,)),
        Need(LEADS, (QuantityKind.RESISTANCE,), required=False),
        Need("current", (QuantityKind.CURRENT,), required=False),
        Need("supply voltage", (QuantityKind.VOLTAGE,), required=False),
        Need("driver voltage", (QuantityKind.VOLTAGE,), required=False),
    ),
    conditions=(
        Need("winding temperature", (QuantityKind.TEMPERATURE,)),
        Need("conductor", words=("copper", "other")),
        Need(
            "reference temperature",
            (QuantityKind.TEMPERATURE,),
            required=False,
            given=HowKnown.EXACT,
        ),
    ),
    judges=(RESISTANCE, CURRENT),
    refuses=(
        "a hot resistance against a limit for 20 degC, uncorrected",
        "a correction of anything but copper",
    ),
    source="IEC 60028; NBS Handbook 100 (from memory)",
    compute=_compute,
)
