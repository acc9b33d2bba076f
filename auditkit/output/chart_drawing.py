"""Charts as SVG: what lies behind comes first, the points last.

Error bars are the expanded uncertainty, k = 2. Where only one side of a value is known,
an arrow points to it in place of that half of the bar.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from auditkit.bench.diagram import Chart, ChartDiagram, Mark, Point
from auditkit.output import svg
from auditkit.output.frame import BOTTOM, LEFT, RIGHT, along, upward
from auditkit.output.legend import (
    BARS,
    ONE_SIDE,
    ROW,
    WITHIN,
    Item,
    legend,
    limit_items,
    rows_of,
)
from auditkit.output.scale import Scale

_UPPER = 0.54  # of the height, where there are two charts
_GAP = 12.0
_ARROW = 24.0


def charts(diagram: ChartDiagram, top: float) -> list[str]:
    """Return the charts of a diagram, below ``top``."""
    rows = rows_of(list(_legend(diagram)))
    drawn = legend(rows, top - 14)
    top += ROW * (len(rows) - 1)
    across = _across(diagram)
    framed = list(zip(diagram.charts, _ups(diagram, top), strict=True))
    drawn += [part for chart, up in framed for part in _band(chart, up)]
    for chart, up in framed:
        drawn += upward(up, chart.up.label)
        if chart is not diagram.charts[-1]:
            drawn.append(svg.line(LEFT, up.start, RIGHT, up.start))
    drawn += along(across, diagram.along)
    drawn += [part for chart, up in framed for part in _bars(chart, across, up)]
    drawn += [part for chart, up in framed for part in _lines(chart, across, up)]
    drawn += [part for chart, up in framed for part in _points(chart, across, up)]
    return drawn


def _legend(diagram: ChartDiagram) -> Iterator[Item]:
    shown = diagram.charts
    yield from ((one.mark.value, one.name) for chart in shown for one in chart.series)
    for chart in shown:
        yield from (("line", one.name) for one in chart.segments if one.name)
        yield from (("dots", one.name) for one in chart.levels if one.name)
    points = [p for chart in shown for one in chart.series for p in one.points]
    if any(p.expanded for p in points):
        yield BARS
    if any(p.known for p in points):
        yield ONE_SIDE
    if any(chart.band for chart in shown):
        yield WITHIN
    for chart in shown:
        yield from limit_items(chart.limits)


def _across(diagram: ChartDiagram) -> Scale:
    if diagram.along.members:
        return Scale(0.4, diagram.along.members + 0.6, LEFT, RIGHT)
    points = (p.along for c in diagram.charts for s in c.series for p in s.points)
    ends = (e[0] for c in diagram.charts for s in c.segments for e in (s.start, s.end))
    return Scale.over([*points, *ends], LEFT, RIGHT)


def _ups(diagram: ChartDiagram, top: float) -> list[Scale]:
    """Return the scale of each chart, from the first on top to the last below."""
    if len(diagram.charts) == 1:
        return [_up(diagram.charts[0], BOTTOM, top + 10)]
    middle = top + 10 + (BOTTOM - top - 10) * _UPPER
    upper, lower = diagram.charts
    return [_up(upper, middle - _GAP, top + 10), _up(lower, BOTTOM, middle + _GAP)]


def _up(chart: Chart, start: float, end: float) -> Scale:
    reach = [
        edge
        for one in chart.series
        for p in one.points
        for edge in (p.value - p.expanded, p.value + p.expanded)
    ]
    reach += [e[1] for one in chart.segments for e in (one.start, one.end)]
    reach += [one.value for one in chart.levels]
    reach += chart.limits.values()
    if all(one.mark is not Mark.BAR for one in chart.series):
        return Scale.over(reach, start, end)
    scale = Scale.over([*reach, 0.0], start, end)  # bars stand on zero
    low = min([0.0, *chart.limits.values(), *(v for v in reach if v < 0)])
    return Scale(low, scale.high, start, end)


def _band(chart: Chart, up: Scale) -> list[str]:
    """Return what lies within the limits, shaded."""
    if chart.band is None:
        return []
    low, high = chart.band
    top = up.end if high is None else up.at(high)
    bottom = up.start if low is None else up.at(low)
    height = max(0.0, bottom - top)  # none where nothing can meet the limit
    return [svg.rect(LEFT, top, RIGHT - LEFT, height, svg.BAND, "none")]


def _bars(chart: Chart, across: Scale, up: Scale) -> Iterator[str]:
    half = 0.3 * (across.at(1) - across.at(0))
    for one in chart.series:
        if one.mark is Mark.BAR:
            for p in one.points:
                ends = sorted((up.at(p.value), up.at(0)))
                x = across.at(p.along) - half
                yield svg.rect(x, ends[0], 2 * half, ends[1] - ends[0])


def _lines(chart: Chart, across: Scale, up: Scale) -> Iterator[str]:
    for one in chart.segments:
        (x1, y1), (x2, y2) = one.start, one.end
        yield svg.line(across.at(x1), up.at(y1), across.at(x2), up.at(y2))
    for level in chart.levels:
        dash = svg.MIDDLE if level.name else svg.SOLID
        yield svg.line(LEFT, up.at(level.value), RIGHT, up.at(level.value), dash)
    for value in chart.limits.values():
        yield svg.line(LEFT, up.at(value), RIGHT, up.at(value), svg.LIMIT, width=2)


def _points(chart: Chart, across: Scale, up: Scale) -> Iterator[str]:
    for one in chart.series:
        if one.joined:
            yield svg.polyline((across.at(p.along), up.at(p.value)) for p in one.points)
    for one in chart.series:
        for p in one.points:
            x, y = across.at(p.along), up.at(p.value)
            yield from _error(p, x, y, up)
            if one.mark is Mark.DOT:
                yield svg.dot(x, y)
            elif one.mark is Mark.DIAMOND:
                yield svg.diamond(x, y)


def _error(p: Point, x: float, y: float, up: Scale) -> Iterable[str]:
    """Return the error bar of a point, or the arrow to the side that is known."""
    low, high = up.at(p.value - p.expanded), up.at(p.value + p.expanded)
    if not p.known:
        bar = [svg.line(x, low, x, high)]
        caps = [svg.line(x - 4, end, x + 4, end) for end in (low, high)]
        return [*bar, *caps] if p.expanded else []
    drawn: list[str] = []
    if p.known in {"above", "neither"}:
        drawn += svg.arrow(x, y, 0, -_ARROW)
    if p.known in {"below", "neither"}:
        drawn += svg.arrow(x, y, 0, _ARROW)
    if p.known != "neither" and p.expanded:
        end = low if p.known == "above" else high
        drawn += [svg.line(x, y, x, end), svg.line(x - 4, end, x + 4, end)]
    return drawn
