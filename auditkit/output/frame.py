"""The frame of a diagram: where it stands, and its axes with names and numbers."""

from __future__ import annotations

import math

from auditkit.bench.diagram import Axis
from auditkit.output import svg
from auditkit.output.scale import Scale
from auditkit.output.text_width import width, wrapped

LEFT, RIGHT, BOTTOM = 84.0, 612.0, 340.0
_APART = 4.0  # between two numbers of an axis
_MOST_NAMED = 20  # members whose numbers stand side by side


def upward(up: Scale, name: str) -> list[str]:
    """Return the axis on the left."""
    middle = (up.start + up.end) / 2
    turned = f' transform="rotate(-90 18 {svg.number(middle)})"'
    drawn = [svg.line(LEFT, up.start, LEFT, up.end)]
    for value, said in up.ticks():
        drawn += [
            svg.line(LEFT - 5, up.at(value), LEFT, up.at(value)),
            svg.text(LEFT - 8, up.at(value) + 4, said, "end"),
        ]
    for place, said in enumerate(wrapped(name, abs(up.start - up.end))):
        drawn.append(svg.text(18, middle + 15 * place, said, "middle", turned))
    return drawn


def along(across: Scale, axis: Axis, bottom: float = BOTTOM) -> list[str]:
    """Return the axis at the bottom: with numbers, or the members of a set."""
    middle = (across.start + across.end) / 2
    name = svg.text(middle, bottom + 42, axis.label, "middle")
    drawn = [svg.line(across.start, bottom, across.end, bottom)]
    if axis.members:
        every = math.ceil(axis.members / _MOST_NAMED)
        named = range(1, axis.members + 1, every)
        places = (svg.text(across.at(i), bottom + 18, f"{i}", "middle") for i in named)
        return [*drawn, name, *places]
    free = -math.inf  # of what stands to the left
    for value, said in across.ticks():
        x = across.at(value)
        drawn.append(svg.line(x, bottom, x, bottom + 5))
        middle, half = within(x), width(said) / 2
        if middle - half > free:
            drawn.append(svg.text(middle, bottom + 18, said, "middle"))
            free = middle + half + _APART
    return [*drawn, name]


def within(x: float) -> float:
    """Return a place at which a short text in the middle still fits the picture."""
    return min(max(x, 24.0), svg.WIDTH - 28.0)
