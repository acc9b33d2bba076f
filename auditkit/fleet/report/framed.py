"""The frame of a picture: its axes, its shades, and what a drawer hands back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from auditkit.fleet.audited import Chart
from auditkit.fleet.report import ink
from auditkit.fleet.report.axis import Axis
from auditkit.fleet.report.labels import Frame
from auditkit.output.svg import number, short
from auditkit.output.text_width import wrapped
from auditkit.reader.page.markup import Element, shown

_APART = 6.0  # between two numbers of an axis


@dataclass(frozen=True, slots=True)
class Framed:
    """A picture's parts, its size in px, and the names that found no room in it."""

    wide: float
    high: float
    drawn: tuple[Element, ...]
    left_out: tuple[str, ...] = ()


def up_axis(up: Axis, frame: Frame) -> list[Element]:
    """Return the axis at the left: with numbers and pale lines, or with members."""
    drawn = [ink.line(frame.left, frame.top, frame.left, frame.bottom)]
    for value, said in up.ticks():
        y = up.at(value)
        if not up.of.members:
            drawn.append(ink.line(frame.left - 5, y, frame.left, y))
        drawn.append(ink.line(frame.left, y, frame.right, y, "#dddddd", 0.8))
        name = ink.cut(said, frame.left - 18) if up.of.members else said
        drawn.append(ink.text(frame.left - 8, y + 4, name, "end"))
    if up.is_cut:
        drawn += _torn(frame)
    return drawn if up.of.members else drawn + _upright(up, frame)


def _torn(frame: Frame) -> list[Element]:
    """Return the two strokes by which an axis says that it does not begin at none."""
    x, y = frame.left, frame.bottom - 7
    return [
        ink.line(x - 5, y + 3 + d, x + 5, y - 3 + d, ink.BLACK, 1.4) for d in (0, 5)
    ]


def _upright(up: Axis, frame: Frame) -> list[Element]:
    middle = (frame.top + frame.bottom) / 2
    turned = f"rotate(-90 14 {number(middle)})"
    room = frame.bottom - frame.top + 16
    lines = [ink.cut(up.cut_label, room)] if up.is_cut else []
    lines = [*wrapped(shown(up.of.label), room, 2 - len(lines)), *lines]
    return [
        ink.text(14, middle + 14 * place, said, "middle", transform=turned)
        for place, said in enumerate(lines)
        if said
    ]


def across_axis(across: Axis, frame: Frame, at: Sequence[float] = ()) -> list[Element]:
    """Return the axis at the bottom, without numbers that would touch.

    Its numbers are those of ``at``, where there are any.
    """
    y = frame.bottom
    drawn = [ink.line(frame.left, y, frame.right, y)]
    free = -1.0
    ticks = [(value, short(value)) for value in at] or across.ticks()
    for value, said in ticks:
        x, half = across.at(value), ink.wide(said) / 2
        drawn.append(ink.line(x, y, x, y + 5))
        if x - half > free:
            drawn.append(ink.text(x, y + 18, said, "middle"))
            free = x + half + _APART
    room = frame.right + 14
    label = ink.cut(across.of.label, room)
    middle = max((frame.left + frame.right) / 2, ink.wide(label) / 2 + 2)
    drawn.append(ink.text(middle, y + 38, label, "middle"))
    return drawn


def shades(chart: Chart, across: Axis, frame: Frame) -> list[Element]:
    """Return the shaded stretches, each with its name at the foot of the picture."""
    drawn = []
    for shade in chart.shaded:
        x1, x2 = sorted(across.within(across.at(v)) for v in (shade.low, shade.high))
        high = frame.bottom - frame.top
        drawn.append(ink.box(x1, frame.top, x2 - x1, high, ink.SHADE, "none"))
    return drawn
