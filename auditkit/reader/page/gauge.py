"""A drawing of one measure: before and after on one scale, with the limits. SVG.

Two lanes, one below the other, so that no mark covers another: a ring before, a full
square after, each with a bar for its expanded uncertainty (k = 2). What the limits
allow is shaded. Sizes are in the drawing's own units, 240 wide: about
what a small phone has.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from decimal import Decimal
from typing import TYPE_CHECKING

from auditkit.reader.page.markup import Element, element

if TYPE_CHECKING:
    from auditkit.reader.before_after import Measure, Reading

_WIDTH, _HEIGHT = 240, 84
_LEFT, _RIGHT, _TOP, _BOTTOM = 48, 236, 4, 54
_LANES = {"before": 18, "after": 41}
_LABELS = {"at least": 67, "at most": 80}
_MARK = 5
_ROOM = Decimal("0.12")  # of the span, on either side


def gauge(measure: Measure) -> Element | None:
    """Return the drawing of a measure; None where it has no number to draw."""
    lanes = {"before": measure.before, "after": measure.after}
    shown = {n: r for n, r in lanes.items() if r is not None and r.number is not None}
    if not shown:
        return None
    limits = [side for side in (measure.minimum, measure.maximum) if side is not None]
    place = _scale([end for r in shown.values() for end in _ends(r)] + limits)
    low = _LEFT if measure.minimum is None else place(measure.minimum)
    high = _RIGHT if measure.maximum is None else place(measure.maximum)
    inner: list[Element] = []
    if limits and low <= high:
        inner.append(_rect(low, _TOP, high - low, _BOTTOM - _TOP, "allowed"))
    for name, side in (("at least", measure.minimum), ("at most", measure.maximum)):
        if side is not None:
            inner += _limit(name, side, place(side))
    for name, reading in shown.items():
        inner += _lane(name, _LANES[name], reading, place)
    told = ", ".join(f"{name} {reading.text}" for name, reading in shown.items())
    inner.sort(key=lambda drawn: drawn.name == "text")  # words above all lines
    return element(
        "svg",
        *inner,
        viewBox=f"0 0 {_WIDTH} {_HEIGHT}",
        role="img",
        aria_label=f"{measure.name}: {told}; {measure.limit}",
        class_="gauge",
    )


def _ends(reading: Reading) -> tuple[Decimal, Decimal]:
    number, margin = reading.number or Decimal(0), reading.margin or Decimal(0)
    return number - margin, number + margin


def _scale(numbers: Iterable[Decimal]) -> Callable[[Decimal], float]:
    """Return what gives the place of a number between the drawing's two edges."""
    sizes = sorted(numbers)
    least, span = sizes[0], sizes[-1] - sizes[0]
    room = _ROOM * (span or max(abs(least), Decimal(1)))
    start, whole = least - room, span + 2 * room

    def place(number: Decimal) -> float:
        return round(_LEFT + float((number - start) / whole) * (_RIGHT - _LEFT), 1)

    return place


def _limit(name: str, side: Decimal, x: float) -> list[Element]:
    """Return a limit's line, and its words on the side where there is room."""
    is_left = x > (_LEFT + _RIGHT) / 2
    anchor, gap = ("end", -3) if is_left else ("start", 3)
    return [
        _line(x, _TOP, x, _LABELS[name] + 1, "limit"),
        _text(x + gap, _LABELS[name], f"{name} {side:f}", anchor),
    ]


def _lane(
    name: str, y: int, reading: Reading, place: Callable[[Decimal], float]
) -> list[Element]:
    least, most = (place(end) for end in _ends(reading))
    x = place(reading.number or Decimal(0))
    drawn = [
        _text(0, y + 4, name, "start"),
        _line(_LEFT, y, _RIGHT, y, "lane"),
        _line(least, y, most, y, "margin"),
    ]
    if name == "before":
        drawn.append(
            element("circle", cx=f"{x}", cy=f"{y}", r=f"{_MARK}", class_="ring")
        )
    else:
        drawn.append(_rect(x - _MARK, y - _MARK, 2 * _MARK, 2 * _MARK, "square"))
    return drawn


def _rect(x: float, y: float, width: float, height: float, style: str) -> Element:
    return element(
        "rect",
        x=f"{x:g}",
        y=f"{y:g}",
        width=f"{width:g}",
        height=f"{height:g}",
        class_=style,
    )


def _line(x1: float, y1: float, x2: float, y2: float, style: str) -> Element:
    ends = {"x1": x1, "y1": y1, "x2": x2, "y2": y2}
    return element("line", **{n: f"{v:g}" for n, v in ends.items()}, class_=style)


def _text(x: float, y: float, text: str, anchor: str) -> Element:
    return element("text", text, x=f"{x:g}", y=f"{y:g}", text_anchor=anchor)
