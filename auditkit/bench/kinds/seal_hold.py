"""Seal hold: how fast a sealed volume loses pressure or vacuum.

Source: 40 CFR 1065.644 (pressure change, corrected for temperature). The diameter is
that of a round, sharp-edged opening which would leak as much; tubes, cracks and seals
are not such openings, and it means nothing without the volume.
"""

from __future__ import annotations

import math
from fractions import Fraction

from auditkit.bench.computed import Computation, Computed, Held, Judged
from auditkit.bench.decision import guard_band
from auditkit.bench.diagrams.hold import hold_diagram
from auditkit.bench.inputs import PRESSURE_REFERENCE, HowKnown, Need
from auditkit.bench.instrument import rectangular
from auditkit.bench.kind import TestKind
from auditkit.bench.one_sided import Known
from auditkit.bench.physics import gas
from auditkit.bench.readings import BAROMETER, Readings
from auditkit.bench.uncertainty import (
    Origin,
    Uncertain,
    propagated,
    uncertainty_of,
    value_of,
)
from auditkit.bench.units import (
    QuantityKind,
    Reference,
    absolute,
    relative,
)
from auditkit.errors import InputError

END = Judged("end pressure", QuantityKind.PRESSURE, "kPa")
LOSS = Judged("pressure loss", QuantityKind.PRESSURE, "kPa (differential)")
LEAK = Judged("leak rate", QuantityKind.LEAK_RATE, "Pa m3/s")
FLOW = Judged("standard leak flow", QuantityKind.FLOW, "cm3/min")
HOLE = Judged("equivalent diameter", QuantityKind.LENGTH, "mm")

VOLUME = "vapour volume"
AT_END = f"{BAROMETER} at end"

FASTEST_WEATHER = 300 / 3600
"""Pa/s by which the air may change unread: 3 hPa an hour, common practice."""

_CLEAR = 3
"""Standard uncertainties beyond which a coarse barometer has told a change."""

_OWN = Fraction(10)
"""Half-width in Pa of what each reading of a barometer has for itself; our own."""

_EXPANSION = ("reference volume", "reference pressure", "settled pressure")
_BEFORE = "pressure before expansion"
_POINTS = 4


class _Hold:
    """One hold in SI units; a loss is positive, be it of pressure or of vacuum."""

    def __init__(self, readings: Readings) -> None:
        self.readings = readings
        self.air = readings.air()
        self.time = readings.positive("hold time")
        self.start = readings.pascals("start pressure")
        reference = readings.unit("end pressure").reference
        end = readings.one("end pressure")
        self.end = absolute(end, reference, self._air_at_end())
        self.t1 = readings.positive("start temperature")
        self.t2 = readings.positive("end temperature")
        if min(value_of(self.start), value_of(self.end)) <= 0:
            raise _below_vacuum()
        self.sign = 1 if value_of(self.start) > value_of(self.air) else -1
        self.corrected = self.end * self.t1 / self.t2
        self.loss: Uncertain = self.sign * (self.start - self.corrected)

    def _air_at_end(self) -> Uncertain:
        """Return the pressure of the air at the end, in Pa.

        Unread, it is taken as unchanged within what the weather does. A reading counts
        where it is sharper than that, or tells a clear change.
        """
        budget, own = self.readings.budget, math.sqrt(2) * rectangular(float(_OWN))
        weather = rectangular(FASTEST_WEATHER * value_of(self.time))
        unread = math.hypot(own, weather)
        if self.readings.has(AT_END):
            read = self.readings.air(AT_END)
            told = uncertainty_of(read - self.air)
            if told <= unread or abs(value_of(read - self.air)) > _CLEAR * told:
                return read
        name = "change of the air during the hold"
        return self.air + budget.input(name, 0.0, unread, Origin.METHOD)

    @property
    def reference(self) -> Reference:
        """What the start pressure was measured against."""
        return self.readings.unit("start pressure").reference or Reference.ABSOLUTE

    @property
    def by_temperature(self) -> float:
        """How far the temperature alone moved the pressure, in Pa."""
        return abs(value_of(self.end) - value_of(self.corrected))

    def for_diameter(self) -> tuple[Uncertain, Known]:
        """Return the end pressure, at the start temperature, that a diameter rests on.

        Where the loss does not differ from zero, it is the lowest pressure that may
        have been left; where what was left does not differ from zero, the highest.
        """
        left = self.sign * (self.corrected - self.air)
        held = value_of(self.sign * (self.start - self.air))
        most_lost, most_left = (self._most(x) for x in (self.loss, left))
        none_lost, none_left = most_lost is not None, most_left is not None
        if most_lost is not None and most_lost < held and not none_left:
            return self.start - self.sign * most_lost, "below"
        if most_left is not None and most_left < held and not none_lost:
            return self.air + self.sign * most_left, "above"
        return self.corrected, "neither" if none_lost or none_left else ""

    def _most(self, number: Uncertain) -> float | None:
        """Return the largest value behind one that may be zero, else None."""
        band = guard_band(uncertainty_of(number), self.readings.alpha)
        if value_of(number) > band:
            return None
        return max(value_of(number), 0.0) + band

    def volume(self) -> Uncertain | None:
        """Return the vapour volume, given or measured by expansion.

        The pressures of the expansion are taken as absolute, whatever each was
        measured against; without one before it, the volume was at the barometer's.
        """
        r = self.readings
        if r.has(VOLUME):
            return r.positive(VOLUME)
        if not all(r.has(name) for name in _EXPANSION):
            return None
        reference, settled = r.pascals(_EXPANSION[1]), r.pascals(_EXPANSION[2])
        before = r.pascals(_BEFORE) if r.has(_BEFORE) else self.air
        if min(value_of(p) for p in (reference, settled, before)) < 0:
            raise _below_vacuum()
        if (
            not (value_of(reference) - value_of(settled))
            * (value_of(settled) - value_of(before))
            > 0
        ):
            message = "settled pressure does not lie between the two before"
            raise InputError(message, what_to_do="repeat the expansion")
        return gas.volume_by_expansion(
            r.positive(_EXPANSION[0]), reference, settled, before
        )


def _below_vacuum() -> InputError:
    message = "a pressure lies below a perfect vacuum"
    return InputError(message, what_to_do="look at the unit and what it is against")


def _compute(readings: Readings) -> Computation:
    hold = _Hold(readings)
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
    if not readings.has(VOLUME) and volume is not None and not readings.has(_BEFORE):
        notes.append("before the expansion the volume is taken as at the barometer's")
    if volume is None:
        notes.append("no vapour volume: neither leak rate nor diameter is computed")
    else:
        values += _leaks(hold, volume, notes)
    notes.append(_shape(hold))
    return Computation(
        tuple(values),
        tuple(notes),
        (
            "hold longer",
            "let the temperature settle, and read it at both ends",
            "show with a capped instrument that the set-up itself does not leak",
        ),
    )


def _pressures(hold: _Hold) -> tuple[Computed, ...]:
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


def _duration(hold: _Hold) -> tuple[str, str]:
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


def _leaks(hold: _Hold, volume: Uncertain, notes: list[str]) -> list[Computed]:
    """Return leak rate, standard flow and diameter, as far as they can be computed."""
    lost = hold.sign * gas.moles_lost(
        volume, (hold.start, hold.t1), (hold.end, hold.t2)
    )
    rate = lost / hold.time
    notes.append(
        f"the leak rate counts the gas at the start temperature, "
        f"{value_of(hold.t1):.2f} K; the volume is "
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
        notes.append(f"standard flow: at 101.325 kPa and {standard:.2f} K")
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


def _shape(hold: _Hold) -> str:
    """Return which law the recorded decay follows: an opening, or a narrow path."""
    r = hold.readings
    times = [value_of(t) for t in r.series("time during hold")]
    pressures = [
        hold.sign
        * (value_of(r.absolute("pressure during hold", p)) - value_of(hold.air))
        for p in r.series("pressure during hold")
    ]
    if len(times) != len(pressures) or len(times) < _POINTS:
        return (
            "whether the leak is an opening or a narrow path is not known: record the "
            f"pressure at {_POINTS} times or more during the hold"
        )
    span = times[-1] - times[0]
    if min(pressures) <= 0 or span <= 0 or pressures[0] <= pressures[-1]:
        return "the recorded decay does not fall steadily: no law fits it"
    parts = [(t - times[0]) / span for t in times]
    orifice, laminar = gas.misfits(parts, pressures)
    law, better, worse = (
        ("an opening (square-root law)", orifice, laminar)
        if orifice <= laminar
        else (
            "a narrow path (exponential law): the diameter is a figure only",
            laminar,
            orifice,
        )
    )
    return (
        f"the recorded decay is more like {law}; misfit {better:.3g} Pa against "
        f"{worse:.3g} Pa"
    )


_PRESSURE = (QuantityKind.PRESSURE,)
_TIME = (QuantityKind.TIME,)
_STATED, _EXACT = HowKnown.STATED, HowKnown.EXACT

SEAL_HOLD = TestKind(
    name="seal-hold",
    title="Seal hold, pressure or vacuum",
    readings=(
        Need("start pressure", _PRESSURE),
        Need("end pressure", _PRESSURE),
        Need("hold time", _TIME, given=_STATED, slack=Fraction(1)),
        Need("pressure during hold", _PRESSURE, required=False, at_least=_POINTS),
        Need(
            "time during hold",
            _TIME,
            required=False,
            at_least=_POINTS,
            given=_STATED,
            slack=Fraction(1),
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
            own=_OWN,
        ),
        Need(
            AT_END,
            _PRESSURE,
            required=False,
            given=_STATED,
            reference=Reference.ABSOLUTE,
            slack=Fraction(500),
            own=_OWN,
            like=BAROMETER,
        ),
        Need("required hold time", _TIME, required=False, given=_EXACT),
        Need(VOLUME, (QuantityKind.VOLUME,), required=False, given=_STATED),
        Need(_EXPANSION[0], (QuantityKind.VOLUME,), required=False, given=_STATED),
        Need(_EXPANSION[1], _PRESSURE, required=False),
        Need(_EXPANSION[2], _PRESSURE, required=False),
        Need(_BEFORE, _PRESSURE, required=False),
        Need(
            "standard temperature",
            (QuantityKind.TEMPERATURE,),
            required=False,
            given=_EXACT,
        ),
        Need(
            "discharge coefficient",
            (QuantityKind.RATIO,),
            required=False,
            given=_STATED,
            default="0.7",
            slack=Fraction("0.1"),
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
