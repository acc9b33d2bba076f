"""Points beside the line that they should lie on, and what they depart from it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from auditkit.bench.computed import Computed, in_unit
from auditkit.bench.diagram import (
    Axis,
    Chart,
    ChartDiagram,
    Level,
    Mark,
    Point,
    Segment,
    Series,
)
from auditkit.bench.diagrams.parts import limits_of, point
from auditkit.bench.inputs import Limit
from auditkit.bench.uncertainty import Uncertain
from auditkit.bench.units import Unit


@dataclass(frozen=True, slots=True)
class MeasuredSeries:
    """What was measured at each point: its name, its unit, its values in SI."""

    name: str
    unit: Unit
    values: Sequence[Uncertain]

    @property
    def axis(self) -> Axis:
        """The axis on which it is drawn."""
        return Axis(self.name, str(self.unit))

    @property
    def numbers(self) -> list[float]:
        """The values in the unit."""
        return [in_unit(v, self.unit)[0] for v in self.values]


def points_and_line(
    across: MeasuredSeries,
    up: MeasuredSeries,
    judged: Computed,
    limit: Limit | None,
    line: str,
) -> ChartDiagram:
    """Return points and their line above, and below how far they lie from it.

    ``judged`` holds a departure for each point; ``line`` is what the line is called.
    """
    own = judged.unit_against(limit)
    xs, ys = across.numbers, up.numbers
    step = float(own.factor) / float(up.unit.factor)
    errors = tuple(
        point(x, error, own, judged.known_at(place))
        for place, (x, error) in enumerate(zip(xs, judged.values, strict=True))
    )
    points = tuple(
        Point(x, y, e.expanded * step, e.known)
        for x, y, e in zip(xs, ys, errors, strict=True)
    )
    on_line = sorted(
        (x, y - e.value * step) for x, y, e in zip(xs, ys, errors, strict=True)
    )
    above = Chart(
        up.axis,
        (Series("measured", Mark.DOT, points),),
        segments=(Segment(line, on_line[0], on_line[-1]),),
    )
    below = Chart(
        Axis(judged.name, str(own)),
        (Series("measured", Mark.DOT, errors),),
        levels=(Level(0.0),),
        limits=limits_of(limit),
    )
    return ChartDiagram(across.axis, (above, below))
