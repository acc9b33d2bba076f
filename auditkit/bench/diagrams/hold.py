"""A pressure that is held: as it was read over time, and the end as it is judged."""

from __future__ import annotations

from auditkit.bench.computed import Computation, Computed, in_unit
from auditkit.bench.diagram import Axis, Chart, ChartDiagram, Mark, Point, Series
from auditkit.bench.diagrams.parts import limits_of, point
from auditkit.bench.inputs import Limit
from auditkit.bench.readings import BAROMETER, Readings
from auditkit.bench.uncertainty import Uncertain, value_of
from auditkit.bench.units import Reference, relative

END, LOSS = "end pressure", "pressure loss"
"""The judged quantities that this diagram can show a limit of."""


def hold_diagram(
    readings: Readings, computation: Computation, judged: Computed, limit: Limit | None
) -> ChartDiagram | None:
    """Return pressure against time; None where another quantity is judged."""
    if judged.name not in {END, LOSS}:
        return None
    end = computation.named(END)
    unit, clock = readings.unit("start pressure"), readings.unit("hold time")
    against = unit.reference or Reference.ABSOLUTE
    air, start = readings.one(BAROMETER), readings.pascals("start pressure")
    late = f"{BAROMETER} at end"
    last = readings.pascals("end pressure", late if readings.has(late) else BAROMETER)

    def shown(time: Uncertain, pascals: Uncertain) -> Point:
        pressure = relative(pascals, against, air)
        known = readings.budget.known(pressure)
        return point(in_unit(time, clock)[0], pressure, unit, known)

    points = [shown(0.0, start), shown(readings.one("hold time"), last)]
    if readings.has("time during hold") and readings.has("pressure during hold"):
        name = "pressure during hold"
        times, during = readings.series("time during hold"), readings.series(name)
        if len(times) == len(during):
            absolute = [readings.absolute(name, p) for p in during]
            points += [shown(t, p) for t, p in zip(times, absolute, strict=True)]
    points.sort(key=lambda p: (p.along, p.value, p.expanded))
    held = in_unit(readings.one("hold time"), clock)[0]
    corrected = point(held, end.values[0], unit, end.known_at(0))
    limits = {}
    sign = 1 if value_of(start) > value_of(air) else -1
    for name, bound in limits_of(limit).items():
        pascals = bound * float(judged.unit_against(limit).factor)
        if judged.name == LOSS:
            left = value_of(start) - sign * pascals
            pascals = value_of(relative(left, against, value_of(air)))
            name = f"{name} of the loss"  # noqa: PLW2901  said as what it is
        limits[name] = in_unit(pascals, unit)[0]
    series = (
        Series("as read", Mark.DOT, tuple(points), joined=True),
        Series("end, at start temperature", Mark.DIAMOND, (corrected,)),
    )
    chart = Chart(Axis("pressure", str(unit)), series, limits=limits)
    return ChartDiagram(Axis("time", str(clock)), (chart,))
