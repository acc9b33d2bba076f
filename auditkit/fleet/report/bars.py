"""Bars: side by side with an outline to hold them against, or stacked in rows."""

from __future__ import annotations

from collections.abc import Sequence

from auditkit.fleet.audited import Bars, Chart
from auditkit.fleet.report import ink
from auditkit.fleet.report.axis import Axis
from auditkit.fleet.report.framed import Framed, across_axis, up_axis
from auditkit.fleet.report.labels import Frame
from auditkit.fleet.report.legend import Item, legend, moved
from auditkit.reader.page.markup import Element

_ROW = 26.0
_BAR = 16.0
_MOST_SLOT = 60.0
_DARK = ("dark", "#767676")


def bars(chart: Chart, size: tuple[float, float]) -> Framed:
    """Return the picture of a chart with bars.

    Bars of one part with short names stand side by side; all others lie in rows.
    """
    shown = chart.bars
    if shown is None:
        raise ValueError(f"chart {chart.name} has no bars")
    wide, high = size
    keys, top = legend(_meanings(shown), wide - 24)
    drawn = [moved(keys, 12, 0)]
    slot = (wide - 92) / max(1, len(shown.names))
    longest = max((ink.wide(name) for name in shown.names), default=0.0)
    if len(shown.parts) == 1 and longest < slot:
        return _standing(chart, shown, (wide, high), top + 12, drawn)
    return _lying(chart, shown, wide, top + 6, drawn)


def _meanings(shown: Bars) -> list[Item]:
    items: list[Item] = []
    if len(shown.parts) > 1 or shown.outline:
        items += [
            (ink.tiled(0, -6, 20, 12, _fill(shown, place)), name or "seen")
            for place, name in enumerate(shown.parts)
            if any(row[place] for row in shown.values)
        ]
    if shown.outline:
        edge = ink.path([(0, 6), (0, -6), (20, -6), (20, 6)], thick=2)
        items.append(([edge], shown.outline_name or "held against"))
    return items


def _fill(shown: Bars, place: int) -> str:
    if len(shown.parts) == 1:
        return "#a9c4d9" if shown.outline else "#767676"
    return ink.FILLS[place % len(ink.FILLS)]


def _standing(
    chart: Chart,
    shown: Bars,
    size: tuple[float, float],
    top: float,
    drawn: list[Element],
) -> Framed:
    wide, high = size
    frame = Frame(74, top, wide - 18, high - 46)
    values = [row[0] for row in shown.values]
    up = Axis.over(chart.up, [0.0, *values, *shown.outline], frame.bottom, frame.top)
    slot = min(_MOST_SLOT, frame.wide / max(1, len(shown.names)))
    drawn += up_axis(up, frame)
    foot = up.at(max(0.0, up.low))
    for place, (name, value) in enumerate(zip(shown.names, values, strict=True)):
        x = frame.left + slot * place
        y1, y2 = sorted((up.at(value), foot))
        drawn += ink.tiled(x + slot * 0.14, y1, slot * 0.72, y2 - y1, _fill(shown, 0))
        drawn.append(ink.text(x + slot / 2, frame.bottom + 18, name, "middle"))
    for place, value in enumerate(shown.outline):
        x, y = frame.left + slot * place, up.at(value)
        left, right = x + slot * 0.06, x + slot * 0.94
        edge = [(left, foot), (left, y), (right, y), (right, foot)]
        drawn.append(ink.path(edge, thick=1.8))
    drawn.append(ink.line(frame.left, foot, frame.right, foot))
    middle = (frame.left + frame.right) / 2
    label = ink.cut(chart.along.label, frame.wide)
    drawn.append(ink.text(middle, frame.bottom + 38, label, "middle"))
    return Framed(wide, high, tuple(drawn))


def _lying(
    chart: Chart, shown: Bars, wide: float, top: float, drawn: list[Element]
) -> Framed:
    longest = max((ink.wide(name) for name in shown.names), default=0.0)
    left = min(longest, wide * 0.34) + 18
    bottom = top + _ROW * len(shown.names) + 4
    frame = Frame(left, top, wide - 24, bottom)
    sums = [sum(row) for row in shown.values]
    along = Axis.over(chart.up, [0.0, *sums, *shown.outline], frame.left, frame.right)
    for place, (name, row) in enumerate(zip(shown.names, shown.values, strict=True)):
        y = top + _ROW * place + 5
        drawn.append(ink.text(left - 8, y + 12, ink.cut(name, left - 18), "end"))
        drawn += _row(shown, row, along, y)
        if shown.outline:
            x = along.at(shown.outline[place])
            drawn.append(ink.line(x, y - 3, x, y + _BAR + 3, thick=2.5))
    drawn.append(ink.line(left, top, left, bottom))
    drawn += across_axis(along, frame)
    return Framed(wide, bottom + 46, tuple(drawn))


def _row(shown: Bars, row: Sequence[float], along: Axis, y: float) -> list[Element]:
    """Return the parts of one bar, each with its number where that fits."""
    drawn: list[Element] = []
    begun = 0.0
    for place, value in enumerate(row):
        x1, x2 = along.at(begun), along.at(begun + value)
        begun += value
        if x2 - x1 <= 0:
            continue
        fill = _fill(shown, place)
        drawn += ink.tiled(x1, y, x2 - x1, _BAR, fill)
        said = f"{value:.3g}"
        if ink.wide(said) + 8 < x2 - x1:
            drawn.append(_number((x1 + x2) / 2, y + 12, said, fill))
    return drawn


def _number(x: float, y: float, said: str, fill: str) -> Element:
    """Return a number upon a part: white on dark, else black on a white rim."""
    if fill in _DARK:
        return ink.text(x, y, said, "middle", fill=ink.WHITE, stroke="none")
    return ink.text(x, y, said, "middle")
