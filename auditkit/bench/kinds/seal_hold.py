"""Seal hold: how fast a sealed volume loses pressure or vacuum.

Source: 40 CFR 1065.644 (pressure change, corrected for temperature). The diameter is
that of a round, sharp-edged opening which would leak as much; tubes, cracks and seals
are not such openings, and it means nothing without the volume.
"""

from __future__ import annotations

from fractions import Fraction

from auditkit.bench.computed import Computation, Computed, Held, Judged
from auditkit.bench.diagrams.hold import hold_diagram
from auditkit.bench.inputs import PRESSURE_REFERENCE, AskedAs, HowKnown, Need
from auditkit.bench.kind import TestKind
from auditkit.bench.kinds.sealed_hold import (
    AT_END,
    BAROMETER_OWN,
    BEFORE,
    EXPANSION,
    POINTS,
    VOLUME,
    SealedHold,
    decay_law,
)
from auditkit.bench.one_sided import Known
from auditkit.bench.physics import gas
from auditkit.bench.readings import BAROMETER, Readings
from auditkit.bench.uncertainty import (
    Uncertain,
    propagated,
    uncertainty_of,
    value_of,
)
from auditkit.bench.units import (
    QuantityKind,
    Reference,
    relative,
)

END = Judged("end pressure", QuantityKind.PRESSURE, "kPa")
LOSS = Judged("pressure loss", QuantityKind.PRESSURE, "kPa (differential)")
LEAK = Judged("leak rate", QuantityKind.LEAK_RATE, "Pa m3/s")
FLOW = Judged("standard leak flow", QuantityKind.FLOW, "cm3/min")
HOLE = Judged("equivalent diameter", QuantityKind.LENGTH, "mm")


def _compute(readings: Readings) -> Computation:
    hold = SealedHold(readings)
    volume = hold.volume()
    values = [*_pressures(hold)]
    notes = [
        (
            "pressures are corrected to the temperature at the start; readings of one "
            "instrument share its error"
        ),
        (
            f"without the correction the end pressure would differ by "
            f"{hold.by_temperature:.3g} Pa"
        ),
    ]
    if not readings.has(AT_END):
        notes.append(
            "the barometer is taken as unchanged during the hold, but for what the "
            "weather does at its fastest"
        )
    if not readings.has(VOLUME) and volume is not None and not readings.has(BEFORE):
        notes.append("before the expansion the volume is taken as at the barometer's")
    if volume is None:
        notes.append("no vapour volume: neither leak rate nor diameter is computed")
    else:
        values += _leaks(hold, volume, notes)
    notes.append(decay_law(hold))
    return Computation(
        tuple(values),
        tuple(notes),
        (
            "hold longer",
            "let the temperature settle, and read it at both ends",
            "show with a capped instrument that the set-up itself does not leak",
        ),
    )


def _pressures(hold: SealedHold) -> tuple[Computed, ...]:
    reference = hold.reference
    unit = hold.readings.unit("start pressure").symbol
    end = relative(hold.corrected, reference, hold.air)
    ends = [relative(p, reference, hold.air) for p in (hold.start, hold.air)]
    all_of_it = hold.sign * (hold.start - hold.air)
    short, long = _duration(hold)
    return tuple(
        Computed(
            judged,
            (value,),
            unit=f"{unit} ({against})",
            blocked=short,
            no_fault=long,
            held=Held(start, empty, hold.loss, hold.by_temperature),
        )
        for judged, value, against, start, empty in (
            (END, end, reference, *ends),
            (LOSS, hold.loss, Reference.DIFFERENTIAL, 0.0, all_of_it),
        )
    )


def _duration(hold: SealedHold) -> tuple[str, str]:
    """Return why the hold was too short for the limit, and why too long."""
    name = "required hold time"
    if not hold.readings.has(name):
        return "", ""
    required, held = value_of(hold.readings.one(name)), value_of(hold.time)
    said = f"held for {held:g} s, the limit speaks of {required:g} s"
    margin = 2 * uncertainty_of(hold.time)
    return (
        said if held < required else "",
        f"{said}: a loss in a longer time is no fault" * (held > required + margin),
    )


def _leaks(hold: SealedHold, volume: Uncertain, notes: list[str]) -> list[Computed]:
    """Return leak rate, standard flow and diameter, as far as they can be computed."""
    lost = hold.sign * gas.moles_lost(
        volume, (hold.start, hold.t1), (hold.end, hold.t2)
    )
    rate = lost / hold.time
    notes.append(
        f"the leak rate counts the gas at the start temperature, "
        f"{hold.readings.written('start temperature')[0]}; the volume is "
        f"{1000 * value_of(volume):.4g} L"
    )
    drift = value_of(volume) * hold.by_temperature / value_of(hold.time)
    end, known = hold.for_diameter()
    # A volume that was empty before the end leaked faster than its mean rate says.
    faster: tuple[Known, ...] = ("above",) if known == "above" else ()
    values = [
        Computed(
            LEAK,
            (rate * gas.R * hold.t1,),
            known=faster,
            held=Held(0.0, None, hold.loss, drift),
        )
    ]
    if hold.readings.has("standard temperature"):
        standard = value_of(hold.readings.positive("standard temperature"))
        flow = gas.standard_flow(rate, standard)
        drift *= standard / value_of(hold.t1) / gas.STANDARD_PRESSURE
        held = Held(0.0, None, hold.loss, drift)
        values.append(Computed(FLOW, (flow,), known=faster, held=held))
        (written,) = hold.readings.written("standard temperature")
        notes.append(f"standard flow: at 101.325 kPa and {written}")
    if known:
        notes.append(_ONE_SIDED[known])
    if known == "neither":
        return values
    coefficient = hold.readings.positive("discharge coefficient")
    hole = propagated(
        _diameter,
        *(volume, hold.time, hold.start, end),
        *(hold.air, hold.t1, coefficient),
    )
    notes.append(
        f"equivalent diameter: sharp-edged opening, discharge coefficient "
        f"{value_of(coefficient):.2g}, isothermal"
    )
    held = Held(0.0, None, hold.loss)
    return [*values, Computed(HOLE, (hole,), known=(known,), held=held)]


_ONE_SIDED: dict[Known, str] = {
    "below": "nothing was lost that could be read: the diameter is that of the largest "
    "loss that may have been missed",
    "above": "everything was lost before the end: leak rate and diameter are the least "
    "that do that",
    "neither": "no diameter: too little pressure to tell nothing lost from all lost",
}


def _diameter(  # noqa: PLR0913, PLR0917  what a hole's size hangs on
    volume: float,
    time: float,
    start: float,
    end: float,
    air: float,
    temperature: float,
    coefficient: float,
) -> float:
    integral = gas.hold_integral(start, end, air, temperature)
    return gas.diameter(gas.effective_area(volume, time, integral), coefficient)


_PRESSURE = (QuantityKind.PRESSURE,)
_TIME = (QuantityKind.TIME,)
_STATED, _EXACT = HowKnown.STATED, HowKnown.EXACT
_DURING = AskedAs(group="Readings during the hold", row="During the hold")
_LEAK = AskedAs(group="For a leak rate")

SEAL_HOLD = TestKind(
    name="seal-hold",
    title="Seal hold, pressure or vacuum",
    readings=(
        Need("start pressure", _PRESSURE),
        Need("end pressure", _PRESSURE),
        Need(
            "hold time",
            _TIME,
            given=_STATED,
            slack=Fraction(1),
            asked=AskedAs(timed=("start pressure", "end pressure")),
        ),
        Need(
            "pressure during hold",
            _PRESSURE,
            required=False,
            at_least=POINTS,
            asked=_DURING,
        ),
        Need(
            "time during hold",
            _TIME,
            required=False,
            at_least=POINTS,
            given=_STATED,
            slack=Fraction(1),
            asked=_DURING,
        ),
    ),
    conditions=(
        Need("start temperature", (QuantityKind.TEMPERATURE,)),
        Need("end temperature", (QuantityKind.TEMPERATURE,)),
        Need(
            BAROMETER,
            _PRESSURE,
            given=_STATED,
            reference=Reference.ABSOLUTE,
            slack=Fraction(500),
            own=BAROMETER_OWN,
        ),
        Need(
            AT_END,
            _PRESSURE,
            required=False,
            given=_STATED,
            reference=Reference.ABSOLUTE,
            slack=Fraction(500),
            own=BAROMETER_OWN,
            like=BAROMETER,
        ),
        Need("required hold time", _TIME, required=False, given=_EXACT),
        Need(
            VOLUME,
            (QuantityKind.VOLUME,),
            required=False,
            given=_STATED,
            asked=_LEAK,
        ),
        Need(
            EXPANSION[0],
            (QuantityKind.VOLUME,),
            required=False,
            given=_STATED,
            asked=_LEAK,
        ),
        Need(EXPANSION[1], _PRESSURE, required=False, asked=_LEAK),
        Need(EXPANSION[2], _PRESSURE, required=False, asked=_LEAK),
        Need(BEFORE, _PRESSURE, required=False, asked=_LEAK),
        Need(
            "standard temperature",
            (QuantityKind.TEMPERATURE,),
            required=False,
            given=_EXACT,
            asked=_LEAK,
        ),
        Need(
            "discharge coefficient",
            (QuantityKind.RATIO,),
            required=False,
            given=_STATED,
            default="0.7",
            slack=Fraction("0.1"),
            asked=_LEAK,
        ),
        Need(
            PRESSURE_REFERENCE,
            required=False,
            words=("gauge", "vacuum", "absolute"),
        ),
    ),
    judges=(END, LOSS, LEAK, FLOW, HOLE),
    refuses=(
        "a leak rate or a diameter without the vapour volume and its uncertainty",
        "gauge and absolute pressures together without the barometer",
        "a hold in which the temperature moved the pressure more than the limit allows",
        (
            "fuel vapour that forms during the hold: it raises the pressure, and no "
            "correction is known"
        ),
    ),
    source="40 CFR 1065.644; one-dimensional compressible flow through an opening",
    compute=_compute,
    draw=hold_diagram,
    hazards=("pressurised-part",),
)
