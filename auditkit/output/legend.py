"""What each mark of a diagram means, side by side, in rows where there are many."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from auditkit.output import svg
from auditkit.output.text_width import width

Item = tuple[str, str]
"""How it is marked, and what that means."""

BARS: Item = ("error", "+/- U (k = 2)")
WITHIN: Item = ("shade", "within the limit")
ONE_SIDE: Item = ("arrow", "lies on this side")
ROW = 16.0
_MARK, _APART = 30.0, 14.0  # what a mark takes, and what keeps two items apart
_LEFT, _RIGHT = 16.0, svg.WIDTH - 8.0
_FILLS = {"bar": svg.MEMBER, "box": svg.WHITE, "shade": svg.BAND}
_LINES = {"line": svg.SOLID, "dash": svg.LIMIT, "dots": svg.MIDDLE}


def limit_items(limits: Mapping[str, float]) -> list[Item]:
    """Return what the limits' lines mean, with their values."""
    if not limits:
        return []
    if set(limits) == {"minimum", "maximum"}:
        low, high = limits["minimum"], limits["maximum"]
        return [("dash", f"limit {svg.short(low)} to {svg.short(high)}")]
    said = ", ".join(f"{name} {svg.short(value)}" for name, value in limits.items())
    return [("dash", said)]


def rows_of(items: Sequence[Item]) -> list[list[Item]]:
    """Return the items in as many rows as they need."""
    rows: list[list[Item]] = [[]]
    x = _LEFT
    for item in dict.fromkeys(items):
        if rows[-1] and x + _width(item) > _RIGHT:
            rows.append([])
            x = _LEFT
        rows[-1].append(item)
        x += _width(item) + _APART
    return rows


def legend(rows: Sequence[Sequence[Item]], y: float) -> list[str]:
    """Return the rows as SVG, the first at ``y``."""
    drawn: list[str] = []
    for place, row in enumerate(rows):
        x = _LEFT
        for mark, said in row:
            drawn += _item(mark, said, x, y + ROW * place)
            x += _width((mark, said)) + _APART
    return drawn


def _width(item: Item) -> float:
    return _MARK + math.ceil(width(item[1]))


def _item(mark: str, said: str, x: float, y: float) -> list[str]:
    drawn: list[str] = []
    if mark in _LINES:
        drawn.append(svg.line(x, y - 4, x + 24, y - 4, _LINES[mark], width=2))
    elif mark == "tick":
        drawn.append(svg.line(x + 12, y - 11, x + 12, y + 3, width=2.5))
    elif mark == "error":
        drawn += [svg.line(x + 8, y - e, x + 16, y - e) for e in (-1, 11)]
        drawn.append(svg.line(x + 12, y - 11, x + 12, y + 1))
    elif mark == "arrow":
        drawn += svg.arrow(x + 2, y - 4, 20, 0)
    elif mark == "dot":
        drawn.append(svg.dot(x + 12, y - 4))
    elif mark == "diamond":
        drawn.append(svg.diamond(x + 12, y - 4))
    else:
        drawn.append(svg.rect(x + 2, y - 10, 20, 11, _FILLS[mark]))
    return [*drawn, svg.text(x + _MARK, y, said)]
