"""Results on one scale beside their limit, as SVG."""

from __future__ import annotations

from auditkit.bench.diagram import ScaleDiagram, ScaleItem
from auditkit.output import svg
from auditkit.output.frame import BOTTOM, RIGHT, along, within
from auditkit.output.legend import (
    ONE_SIDE,
    ROW,
    WITHIN,
    Item,
    legend,
    limit_items,
    rows_of,
)
from auditkit.output.scale import Scale
from auditkit.output.text_width import wrapped

_LEFT, _NAME = 130.0, 122.0
_ARROW = 40.0
_ITEM = 56.0  # a tick with its number above it, apart from the next


def bottom_of(diagram: ScaleDiagram, top: float) -> float:
    """Return where the axis below results lies: each has room for its number."""
    rows = len(rows_of(_legend(diagram))) - 1
    return max(BOTTOM, top + ROW * rows + 10 + _ITEM * len(diagram.items))


def _legend(diagram: ScaleDiagram) -> list[Item]:
    items: list[Item] = [("tick", "result")]
    items += [("box", "+/- U (k = 2)")] * any(one.expanded for one in diagram.items)
    items += [ONE_SIDE] * any(one.known for one in diagram.items)
    items += [WITHIN] * bool(diagram.limits)
    return [*items, *limit_items(diagram.limits)]


def on_scale(diagram: ScaleDiagram, top: float, bottom: float) -> list[str]:
    """Return results as ticks in boxes of their uncertainty, ``top`` to ``bottom``."""
    limits = diagram.limits
    rows = rows_of(_legend(diagram))
    drawn = legend(rows, top - 14)
    top += ROW * (len(rows) - 1)
    across = _across(diagram)
    height = bottom - top - 10
    low, high = (
        across.at(limits[side]) if side in limits else edge
        for side, edge in (("minimum", across.start), ("maximum", across.end))
    )
    if limits:
        width = max(0.0, high - low)
        drawn.append(svg.rect(low, top + 10, width, height, svg.BAND, "none"))
    drawn += [
        svg.line(across.at(x), top + 10, across.at(x), bottom, svg.LIMIT)
        for x in limits.values()
    ]
    for place, one in enumerate(diagram.items):
        y = top + 10 + height / len(diagram.items) * (place + 0.5)
        drawn += _item(one, across, y)
    return [*drawn, *along(across, diagram.axis, bottom)]


def _across(diagram: ScaleDiagram) -> Scale:
    told = [one for one in diagram.items if one.known != "neither"]
    reach = [e for o in told for e in (o.value - o.expanded, o.value + o.expanded)]
    return Scale.over([*reach, *diagram.limits.values()] or [0.0], _LEFT, RIGHT)


def _item(one: ScaleItem, across: Scale, y: float) -> list[str]:
    name = wrapped(one.name, _NAME - 8)
    names = [
        svg.text(_NAME, y + 4 + 15 * (place - (len(name) - 1) / 2), said, "end")
        for place, said in enumerate(name)
    ]
    if one.known == "neither":
        return [*names, svg.text(across.start + 12, y + 4, "not known")]
    x = across.at(one.value)
    left, right = (
        across.at(one.value - one.expanded),
        across.at(one.value + one.expanded),
    )
    if one.known == "above":
        right = x
    elif one.known == "below":
        left = x
    drawn = [svg.rect(left, y - 10, max(right - left, 1.0), 20, svg.WHITE)]
    if one.known:
        step = _ARROW if one.known == "above" else -_ARROW
        drawn += svg.arrow(x, y, step, 0)
    said = f"{one.known} {svg.short(one.value)}".lstrip()
    return [
        *drawn,
        svg.line(x, y - 16, x, y + 16, width=2.5),
        *names,
        svg.text(within(x), y - 24, said, "middle", svg.HALO),
    ]
