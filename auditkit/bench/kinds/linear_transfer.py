"""Linear transfer: a sensor's output at three or more stimuli, against its line."""

from __future__ import annotations

from auditkit.bench.computed import Computation, Computed, Judged
from auditkit.bench.diagram import ChartDiagram
from auditkit.bench.diagrams.points_and_line import MeasuredSeries, points_and_line
from auditkit.bench.inputs import PRESSURE_REFERENCE, AskedAs, HowKnown, Limit, Need
from auditkit.bench.kind import TestKind
from auditkit.bench.physics.straight_line import line_through
from auditkit.bench.readings import BAROMETER, Readings
from auditkit.bench.uncertainty import Uncertain, value_of
from auditkit.bench.units import QuantityKind, Reference
from auditkit.errors import InputError

ERROR = Judged("output error", QuantityKind.VOLTAGE, "V")
BEND = Judged("departure from a straight line", QuantityKind.VOLTAGE, "V")

_STIMULI = (
    QuantityKind.PRESSURE,
    QuantityKind.ANGLE,
    QuantityKind.LENGTH,
    QuantityKind.RATIO,
)
_ENDS = ("specified stimulus low", "specified stimulus high")


def _compute(readings: Readings) -> Computation:
    kinds = {readings.unit(name).kind for name in ("stimulus", *_ENDS)}
    if len(kinds) != 1:
        raise InputError(
            f"stimulus and its specification differ: {', '.join(sorted(kinds))}",
            what_to_do="give all three in units of one kind",
        )
    stimuli = tuple(_like(readings, "stimulus", s) for s in readings.series("stimulus"))
    outputs = readings.series("output")
    if len(stimuli) != len(outputs):
        raise InputError(
            f"{len(stimuli)} stimuli and {len(outputs)} outputs do not pair",
            what_to_do="give one of each a point, in the same order",
        )
    low, high = (value_of(_like(readings, n, readings.one(n))) for n in _ENDS)
    if low == high:
        raise InputError(
            "the specified line has one point only",
            what_to_do="give two different stimuli",
        )
    bottom = value_of(readings.one("specified output low"))
    top = value_of(readings.one("specified output high"))
    slope = (top - bottom) / (high - low)
    errors = tuple(
        v - (bottom + slope * (s - low)) for s, v in zip(stimuli, outputs, strict=True)
    )
    line = line_through(stimuli, outputs)
    scale = float(readings.unit("stimulus").factor)
    symbol = readings.unit("stimulus").symbol
    labels = tuple(f"point {i}" for i in range(1, len(errors) + 1))
    return Computation(
        (Computed(ERROR, errors, labels), Computed(BEND, line.residuals, labels)),
        (
            (
                f"best line: {value_of(line.slope) * scale:.5g} V/{symbol}, "
                f"specified {slope * scale:.5g} V/{symbol}"
            ),
            "the points share the errors of their instruments",
        ),
        ("measure the stimulus better", "repeat each point, up and down"),
    )


def _like(readings: Readings, name: str, value: Uncertain) -> Uncertain:
    """Return a stimulus so that it compares: pressures that differ, as absolute."""
    if readings.unit(name).kind is not QuantityKind.PRESSURE:
        return value
    references = {readings.unit(n).reference for n in ("stimulus", *_ENDS)}
    return value if len(references) == 1 else readings.absolute(name, value)


def _draw(
    readings: Readings, computation: Computation, judged: Computed, limit: Limit | None
) -> ChartDiagram:
    del computation
    across, up = (
        MeasuredSeries(name, readings.unit(name), readings.series(name))
        for name in ("stimulus", "output")
    )
    line = "best line" if judged.judged is BEND else "specified line"
    return points_and_line(across, up, judged, limit, line)


def _spec(name: str, *kinds: QuantityKind) -> Need:
    return Need(name, kinds, given=HowKnown.EXACT)


_POINTS = AskedAs(row="Points")
LINEAR_TRANSFER = TestKind(
    name="linear-transfer",
    title="Linear transfer of a sensor",
    readings=(
        Need("stimulus", _STIMULI, at_least=3, asked=_POINTS),
        Need("output", (QuantityKind.VOLTAGE,), at_least=3, asked=_POINTS),
    ),
    conditions=(
        *(_spec(name, *_STIMULI) for name in _ENDS),
        _spec("specified output low", QuantityKind.VOLTAGE),
        _spec("specified output high", QuantityKind.VOLTAGE),
        Need(
            BAROMETER,
            (QuantityKind.PRESSURE,),
            required=False,
            given=HowKnown.STATED,
            reference=Reference.ABSOLUTE,
            slack=None,
        ),
        Need(PRESSURE_REFERENCE, required=False, words=tuple(Reference)),
    ),
    judges=(ERROR, BEND),
    refuses=(
        "fewer than three points",
        "a verdict from the correlation alone: every point is held against the line",
    ),
    source="least squares; NIST StRD linear regression",
    compute=_compute,
    draw=_draw,
)
