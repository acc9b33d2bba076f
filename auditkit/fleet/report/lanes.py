"""A timeline: what happened, lane by lane, on one axis of time; below it, lines."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from auditkit.fleet.audited import Chart, Span
from auditkit.fleet.report import ink
from auditkit.fleet.report.axis import Axis
from auditkit.fleet.report.framed import Framed, across_axis, shades
from auditkit.fleet.report.labels import Frame
from auditkit.fleet.report.legend import Item, legend, moved
from auditkit.fleet.report.plot import lines_only
from auditkit.reader.page.markup import Element

_ROW, _BAR = 22.0, 12.0
_MOST_ROWS = 5
_LASTS = "#c9c9c9"
_LINES_HIGH = 130.0
_LEAST = 2.0  # px that something is wide at least


@dataclass(frozen=True, slots=True)
class _Placed:
    """A span in its row; ``name_at`` says which part of its name is at it, or none."""

    span: Span
    row: int
    name_at: str


def timeline(chart: Chart, wide: float) -> Framed:
    """Return the picture of a chart with spans; as high as its lanes need."""
    names = list(dict.fromkeys(s.lane for s in chart.spans))
    keys, top = legend(_meanings(chart), wide - 24)
    top += 8
    longest = max((ink.wide(name) for name in names), default=0.0)
    left = max(74.0, min(longest, wide * 0.25) + 18)
    times = [edge for s in chart.spans for edge in (s.start, s.end)]
    times += [s.claimed for s in chart.spans if s.claimed is not None]
    times += [x for line in chart.lines for x, _ in line.points]
    across = Axis.over(chart.along, times, left, wide - 24)
    drawn: list[Element] = [moved(keys, 12, 0)]
    rows: list[Element] = []
    left_out: list[str] = []
    y = top
    for place, name in enumerate(names):
        placed = list(_placed([s for s in chart.spans if s.lane == name], across))
        high = _ROW * (1 + max(p.row for p in placed)) + 6
        if place % 2 == 0:
            rows.append(ink.box(0, y, wide, high, "#f4f4f4", "none"))
        rows.append(ink.text(left - 8, y + 17, ink.cut(name, left - 14), "end"))
        for one in placed:
            rows += _span(one, across, y + 5 + _ROW * one.row)
            if one.span.name and not one.name_at:
                left_out.append(one.span.name)
        y += high
    frame = Frame(left, top, wide - 24, y)
    drawn += [*shades(chart, across, frame), *_grid(across, frame), *rows]
    if chart.lines:
        y += 16
        below = Frame(left, y, wide - 24, y + _LINES_HIGH)
        drawn += _grid(across, below)
        drawn += lines_only(chart, across, below)
        y += _LINES_HIGH
        frame = below
    drawn += across_axis(across, frame)
    return Framed(wide, y + 46, tuple(drawn), tuple(dict.fromkeys(left_out)))


def _meanings(chart: Chart) -> list[Item]:
    items: list[Item] = []
    if any(s.start == s.end for s in chart.spans):
        items.append(([_diamond(10, 0)], "at one moment"))
    if any(s.claimed is not None for s in chart.spans):
        sign = [*_thin(0, -_BAR / 2, 20), _diamond(2, 0)]
        items.append((sign, "claimed, and when it was written down"))
    if any(_is_bar(s) for s in chart.spans):
        items.append((ink.tiled(0, -6, 20, _BAR, _LASTS), "from and to"))
    if any(s.is_hatched for s in chart.spans):
        items.append((ink.tiled(0, -6, 20, _BAR, "hatched"), "withheld, or not here"))
    return items


def _placed(spans: Sequence[Span], across: Axis) -> Iterator[_Placed]:
    """Yield each span in the first row where it finds room, and its name if it can.

    A name stands in it, else at the right, or at the left where the picture ends.
    """
    ends = [across.start - 12] * _MOST_ROWS
    for span in sorted(spans, key=lambda s: (s.start, s.end, s.name)):
        claimed = span.start if span.claimed is None else span.claimed
        x1 = across.at(min(span.start, claimed)) - 7
        x2 = across.at(max(span.end, claimed)) + 7
        wide = ink.wide(span.name) + 4 if span.name else 0.0
        free = [i for i, end in enumerate(ends) if end <= x1]
        at_left = [i for i in free if ends[i] <= x1 - wide]
        if free and wide and x1 + wide + 12 <= x2 - 6:
            row, name_at = free[0], "middle"
        elif free and x2 + wide <= across.end + 20:
            row, name_at, x2 = free[0], "start", x2 + wide
        elif at_left:
            row, name_at = at_left[0], "end"
        else:
            row, name_at = ends.index(min(ends)), ""
        ends[row] = max(ends[row], x2)
        yield _Placed(span, row, name_at)


def _span(placed: _Placed, across: Axis, y: float) -> list[Element]:
    span = placed.span
    x1, x2 = across.at(span.start), across.at(span.end)
    if span.claimed is not None:
        claimed = across.at(span.claimed)
        drawn = [*_thin(x1, y, x2 - x1), _diamond(claimed, y + _BAR / 2)]
    elif span.start == span.end and not span.is_hatched:
        drawn = [_diamond(x1, y + _BAR / 2)]
    else:
        fill = "hatched" if span.is_hatched else _LASTS
        drawn = ink.tiled(x1, y, max(_LEAST, x2 - x1), _BAR, fill)
    if span.name and placed.name_at:
        x = {"start": x2 + 9, "end": x1 - 9, "middle": (x1 + x2) / 2}[placed.name_at]
        drawn.append(ink.text(x, y + _BAR - 2, span.name, placed.name_at))
    return drawn


def _is_bar(span: Span) -> bool:
    return span.start != span.end and not span.is_hatched and span.claimed is None


def _thin(x: float, y: float, across: float) -> list[Element]:
    """Return the bar behind a mark, in the middle of its row."""
    return ink.tiled(x, y + 4, max(_LEAST, across), _BAR - 8, "#767676")


def _diamond(x: float, y: float) -> Element:
    corners = ((x, y - 6), (x + 6, y), (x, y + 6), (x - 6, y))
    return ink.area(corners, ink.BLUE)


def _grid(across: Axis, frame: Frame) -> list[Element]:
    return [
        ink.line(across.at(t), frame.top, across.at(t), frame.bottom, "#dddddd", 0.8)
        for t, _ in across.ticks()
    ]
