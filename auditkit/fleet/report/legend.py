"""What the marks of a picture mean, in rows below its title."""

from __future__ import annotations

from collections.abc import Sequence

from auditkit.fleet.report import ink
from auditkit.output.svg import number
from auditkit.reader.page.markup import Element, element

ROW = 18.0
_MARK, _APART = 30.0, 16.0
Item = tuple[Sequence[Element], str]
"""A sign, 20 px from (0, 0) to the right and half above that line, and its meaning."""


def legend(items: Sequence[Item], across: float) -> tuple[list[Element], float]:
    """Return the rows from (0, 0) down, and how high they are; ``across`` in px."""
    drawn: list[Element] = []
    x, y = 0.0, 0.0
    for sign, meaning in items:
        said = ink.cut(meaning, across - _MARK)
        if x and x + _MARK + ink.wide(said) > across:
            x, y = 0.0, y + ROW
        drawn.append(moved(sign, x + 2, y + ROW / 2))
        drawn.append(ink.text(x + _MARK, y + ROW / 2 + 4, said))
        x += _MARK + ink.wide(said) + _APART
    return drawn, (y + ROW if items else 0.0)


def moved(inner: Sequence[Element], x: float, y: float) -> Element:
    """Return what was drawn about (0, 0) at another place."""
    return element("g", *inner, transform=f"translate({number(x)} {number(y)})")
