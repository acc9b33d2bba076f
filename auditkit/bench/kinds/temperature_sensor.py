"""Temperature sensor: the error of its curve at two or more known temperatures."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from auditkit.bench.computed import Computation, Computed, Judged
from auditkit.bench.diagram import ChartDiagram
from auditkit.bench.diagrams.points_and_line import MeasuredSeries, points_and_line
from auditkit.bench.inputs import AskedAs, HowKnown, Limit, Need
from auditkit.bench.kind import TestKind
from auditkit.bench.one_sided import Known
from auditkit.bench.physics import sensor_curves as curves
from auditkit.bench.readings import Readings
from auditkit.bench.uncertainty import Uncertain, propagated, value_of
from auditkit.bench.units import QuantityKind
from auditkit.errors import InputError

ERROR = Judged("temperature error", QuantityKind.TEMPERATURE_DIFFERENCE, "K")

MARGIN = 10.0
"""K that a curve through points is used beyond them; common practice."""
APART = 10.0
"""K that two temperatures differ by at least, to be two; our choice."""


@dataclass(frozen=True, slots=True)
class _Curve:
    """Resistance in ohm -> temperature in K; where it is used, and where it ends.

    ``span`` is in K, ``ends`` are resistances, lowest first; beyond them only the side
    of the temperature is known.
    """

    name: str
    at: Callable[[float], float]
    span: tuple[float, float] | None = None
    ends: tuple[float, float] = (0.0, math.inf)


def _points(readings: Readings) -> tuple[tuple[float, float], ...]:
    return tuple(
        (
            value_of(readings.one(f"curve temperature {i}")),
            value_of(readings.one(f"curve resistance {i}")),
        )
        for i in (1, 2, 3)
    )


def _curve(readings: Readings) -> _Curve:
    """Return the specified curve."""
    name = readings.word("curve")
    if name == "beta":
        at_25 = value_of(readings.one("resistance at 25 celsius"))
        beta = value_of(readings.one("beta"))
        _positive(at_25, beta)
        return _Curve(name, lambda r: curves.beta_temperature(r, at_25, beta))
    if name == "steinhart-hart":
        points = _points(readings)
        _positive(*(number for point in points for number in point))
        abc = curves.steinhart_hart(points)
        span = [t for t, _ in points]
        return _Curve(
            f"{name} through three points",
            lambda r: curves.steinhart_hart_temperature(r, *abc),
            (min(span) - MARGIN, max(span) + MARGIN),
        )
    at_0 = value_of(readings.one("resistance at 0 celsius"))
    _positive(at_0)
    low, high = (at_0 * curves.platinum_ratio(t) for t in curves.PLATINUM_RANGE)
    return _Curve(
        name, lambda r: curves.platinum_temperature(r, at_0), ends=(low, high)
    )


def _temperature(curve: _Curve, resistance: Uncertain) -> tuple[Uncertain, Known]:
    """Return the temperature by the curve, or its end and on which side it lies."""
    low, high = curve.ends
    if value_of(resistance) < low:
        return curve.at(low), "below"
    if value_of(resistance) > high:
        return curve.at(high), "above"
    return propagated(curve.at, resistance), ""


def _positive(*numbers: float) -> None:
    if min(numbers) <= 0:
        raise InputError(
            "the curve holds a number that is not above zero",
            what_to_do="give resistances in ohm, temperatures with unit",
        )


def _compute(readings: Readings) -> Computation:
    resistances = readings.series("sensor resistance")
    baths = readings.series("bath temperature")
    if len(resistances) != len(baths):
        raise InputError(
            f"{len(resistances)} resistances and {len(baths)} temperatures do not pair",
            what_to_do="give one of each a point, in the same order",
        )
    degrees = [value_of(bath) for bath in baths]
    if max(degrees) - min(degrees) < APART:
        raise InputError(
            f"all baths lie within {APART:g} K: that is one temperature",
            what_to_do="read the sensor in a warmer or a colder bath, too",
        )
    if min(map(value_of, resistances)) <= 0:
        raise InputError(
            "a sensor resistance is not above zero",
            what_to_do="write a short as below the smallest value that could be shown",
        )
    curve = _curve(readings)
    span = curve.span
    written = readings.written("bath temperature")
    outside = [
        text
        for text, t in zip(written, baths, strict=True)
        if span and not span[0] <= value_of(t) <= span[1]
    ]
    far = ", ".join(outside)
    blocked = (
        f"{far}: more than {MARGIN:g} degC outside the points of the curve"
        if outside
        else ""
    )
    sensor = [_temperature(curve, r) for r in resistances]
    errors = tuple(s - t for (s, _), t in zip(sensor, baths, strict=True))
    return Computation(
        (
            Computed(
                ERROR,
                errors,
                unit=readings.unit("bath temperature").symbol,
                labels=tuple(f"at {text}" for text in written),
                blocked=blocked,
                known=tuple(known for _, known in sensor),
            ),
        ),
        (f"temperature by the curve {curve.name}, minus that of the bath",),
        (
            "wait until sensor and bath agree, and stir",
            "add a point near the temperature at which it misbehaves",
        ),
    )


def _draw(
    readings: Readings, computation: Computation, judged: Computed, limit: Limit | None
) -> ChartDiagram:
    """Return the temperature by the sensor against that of the bath."""
    del computation
    name = "bath temperature"
    unit, baths = readings.unit(name), readings.series(name)
    sensor = tuple(e + t for e, t in zip(judged.values, baths, strict=True))
    across = MeasuredSeries(name, unit, baths)
    up = MeasuredSeries("temperature by the sensor", unit, sensor)
    return points_and_line(across, up, judged, limit, "specified line")


def _spec(name: str, kind: QuantityKind, curve: str) -> Need:
    only = ("curve", (curve,))
    asked = AskedAs(name.replace(" celsius", " °C"), only=only)
    return Need(name, (kind,), required=False, given=HowKnown.EXACT, asked=asked)


_BATH = AskedAs(row="In the bath")
TEMPERATURE_SENSOR = TestKind(
    name="temperature-sensor",
    title="Temperature sensor against its curve",
    readings=(
        Need("sensor resistance", (QuantityKind.RESISTANCE,), at_least=2, asked=_BATH),
        Need("bath temperature", (QuantityKind.TEMPERATURE,), at_least=2, asked=_BATH),
    ),
    conditions=(
        Need("curve", words=("beta", "steinhart-hart", "IEC 60751")),
        _spec("resistance at 25 celsius", QuantityKind.RESISTANCE, "beta"),
        _spec("beta", QuantityKind.TEMPERATURE_DIFFERENCE, "beta"),
        *(
            _spec(f"curve {name} {i}", kind, "steinhart-hart")
            for i in (1, 2, 3)
            for name, kind in (
                ("temperature", QuantityKind.TEMPERATURE),
                ("resistance", QuantityKind.RESISTANCE),
            )
        ),
        _spec("resistance at 0 celsius", QuantityKind.RESISTANCE, "IEC 60751"),
    ),
    judges=(ERROR,),
    refuses=(
        "one temperature alone",
        "a curve through points, more than 10 K beyond them",
        "a sensor read as a voltage: its circuit is not part of it",
    ),
    source="Steinhart and Hart 1968; IEC 60751:2022",
    compute=_compute,
    draw=_draw,
)
