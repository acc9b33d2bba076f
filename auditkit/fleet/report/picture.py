"""A chart as one picture (SVG), or as several where it has many rows."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from auditkit.fleet.audited import Bars, Chart
from auditkit.fleet.report import ink
from auditkit.fleet.report.axis import on_one_axis
from auditkit.fleet.report.bars import bars
from auditkit.fleet.report.lanes import timeline
from auditkit.fleet.report.plot import plot, values_along, values_up
from auditkit.reader.page.markup import Element

WIDE, HIGH = 640.0, 380.0
SMALL_WIDE, SMALL_HIGH = 310.0, 220.0
_MOST_ROWS = 25
"""Rows of one picture: it fits a sheet of paper with what belongs to it."""


@dataclass(frozen=True, slots=True)
class Picture:
    """A drawn chart: its SVG, and a note on names that found no room in it."""

    chart: Chart
    drawn: Element
    note: str = ""
    is_small: bool = False


def pictures(chart: Chart) -> Iterator[Picture]:
    """Yield a chart's picture; of one with many rows, a picture for each so many."""
    for piece in _pieces(chart):
        yield _picture(piece, (WIDE, HIGH))


def small_pictures(charts: Sequence[Chart]) -> Iterator[Picture]:
    """Yield the pictures of charts that stand side by side, on the same axes."""
    along = on_one_axis(
        [c.along for c in charts], [v for c in charts for v in values_along(c)]
    )
    up = on_one_axis([c.up for c in charts], [v for c in charts for v in values_up(c)])
    for chart in charts:
        small = replace(chart, along=along, up=up)
        yield replace(_picture(small, (SMALL_WIDE, SMALL_HIGH)), is_small=True)


def _picture(chart: Chart, size: tuple[float, float]) -> Picture:
    if chart.spans:
        made = timeline(chart, size[0])
    elif chart.bars is not None:
        made = bars(chart, size)
    else:
        made = plot(chart, size)
    drawn = ink.svg(made.wide, made.high, chart.sentence, made.drawn)
    return Picture(chart, drawn, _note(made.left_out))


def _note(names: Sequence[str]) -> str:
    if not names:
        return ""
    return f"Without room for their names in the picture: {', '.join(names)}."


def _pieces(chart: Chart) -> Iterator[Chart]:
    if chart.bars is not None and len(chart.bars.names) > _MOST_ROWS:
        yield from _bar_pieces(chart, chart.bars)
    elif len(chart.up.members) > _MOST_ROWS:
        yield from _member_pieces(chart)
    else:
        yield chart


def _bar_pieces(chart: Chart, shown: Bars) -> Iterator[Chart]:
    sums = [0.0, *(sum(row) for row in shown.values), *shown.outline]
    up = on_one_axis([chart.up], sums)
    for first, last in _runs(len(shown.names)):
        part = slice(first, last)
        some = replace(
            shown,
            names=shown.names[part],
            values=shown.values[part],
            outline=shown.outline[part],
        )
        yield replace(_counted(chart, first, last), bars=some, up=up)


def _member_pieces(chart: Chart) -> Iterator[Chart]:
    along = on_one_axis([chart.along], values_along(chart))
    for first, last in _runs(len(chart.up.members)):
        yield replace(
            _counted(chart, first, last),
            along=along,
            up=replace(chart.up, members=chart.up.members[first:last]),
            dots=tuple(
                replace(d, up=d.up - first)
                for d in chart.dots
                if first - 0.5 <= d.up < last - 0.5
            ),
            lines=tuple(
                replace(
                    line,
                    points=tuple(
                        (x, _near(y - first, last - first)) for x, y in line.points
                    ),
                )
                for line in chart.lines
            ),
            beside=chart.beside[first:last],
        )


def _near(up: float, members: int) -> float:
    return min(max(up, -0.5), members - 0.5)


def _counted(chart: Chart, first: int, last: int) -> Chart:
    rows = f"rows {first + 1} to {last}"
    return replace(
        chart,
        title=f"{chart.title} ({rows})",
        sentence=f"{chart.sentence} This picture has {rows}.",
    )


def _runs(count: int) -> Iterator[tuple[int, int]]:
    """Yield the first row of each picture and the one after its last, evenly."""
    parts = -(-count // _MOST_ROWS)
    for part in range(parts):
        yield count * part // parts, count * (part + 1) // parts
