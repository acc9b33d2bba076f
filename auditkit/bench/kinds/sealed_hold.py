"""What the hold of a sealed volume reads, in SI units: pressures, air, loss, volume."""

from __future__ import annotations

import math
from fractions import Fraction

from auditkit.bench.decision import guard_band
from auditkit.bench.instrument import rectangular
from auditkit.bench.one_sided import Known
from auditkit.bench.physics import gas
from auditkit.bench.readings import BAROMETER, Readings
from auditkit.bench.source import Distribution, Source
from auditkit.bench.uncertainty import Origin, Uncertain, uncertainty_of, value_of
from auditkit.bench.units import Reference, absolute
from auditkit.errors import InputError

VOLUME = "vapour volume"
AT_END = f"{BAROMETER} at end"

FASTEST_WEATHER = 300 / 3600
"""Pa/s by which the air may change unread: 3 hPa an hour, common practice."""

_CLEAR = 3
"""Standard uncertainties beyond which a coarse barometer has told a change."""

BAROMETER_OWN = Fraction(10)
"""Half-width in Pa of what each reading of a barometer has for itself; our own."""

EXPANSION = ("reference volume", "reference pressure", "settled pressure")
BEFORE = "pressure before expansion"
POINTS = 4


class SealedHold:
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
        budget, own = (
            self.readings.budget,
            math.sqrt(2) * rectangular(float(BAROMETER_OWN)),
        )
        weather = rectangular(FASTEST_WEATHER * value_of(self.time))
        unread = math.hypot(own, weather)
        if self.readings.has(AT_END):
            read = self.readings.air(AT_END)
            told = uncertainty_of(read - self.air)
            if told <= unread or abs(value_of(read - self.air)) > _CLEAR * told:
                return read
        name = "change of the air during the hold"
        basis = "as fast as the weather changes it"
        source = Source(name, 0.0, unread, "Pa", Distribution.RECTANGULAR, basis)
        return self.air + budget.input(name, 0.0, unread, Origin.METHOD, source)

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
        if not all(r.has(name) for name in EXPANSION):
            return None
        reference, settled = r.pascals(EXPANSION[1]), r.pascals(EXPANSION[2])
        before = r.pascals(BEFORE) if r.has(BEFORE) else self.air
        if min(value_of(p) for p in (reference, settled, before)) < 0:
            raise _below_vacuum()
        if (
            not (value_of(reference) - value_of(settled))
            * (value_of(settled) - value_of(before))
            > 0
        ):
            raise InputError(
                "settled pressure does not lie between the two before",
                what_to_do="repeat the expansion",
            )
        return gas.volume_by_expansion(
            r.positive(EXPANSION[0]), reference, settled, before
        )


def _below_vacuum() -> InputError:
    message = "a pressure lies below a perfect vacuum"
    return InputError(message, what_to_do="look at the unit and what it is against")


def decay_law(hold: SealedHold) -> str:
    """Return which law the recorded decay follows: an opening, or a narrow path."""
    r = hold.readings
    times = [value_of(t) for t in r.series("time during hold")]
    pressures = [
        hold.sign
        * (value_of(r.absolute("pressure during hold", p)) - value_of(hold.air))
        for p in r.series("pressure during hold")
    ]
    if len(times) != len(pressures) or len(times) < POINTS:
        return (
            "whether the leak is an opening or a narrow path is not known: record the "
            f"pressure at {POINTS} times or more during the hold"
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
