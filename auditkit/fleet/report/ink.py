"""The marks of a picture as SVG elements: colour never says a thing alone.

The colours are four of the set of Okabe & Ito (2008, "Color universal design"; from
memory) with at least 3:1 against white (WCAG 2.2, 1.4.11); each comes with a dash, a
shape or a pattern of its own, so that print in grey says the same. Text is black.
"""

from __future__ import annotations

from collections.abc import Iterable

from auditkit.fleet.audited import Shape, Style
from auditkit.output.svg import number
from auditkit.output.text_width import FONT, width, wrapped
from auditkit.reader.page.markup import Element, Node, element, shown

BLACK, WHITE, PALE, SHADE = "#000000", "#ffffff", "#999999", "#e8e8e8"
BLUE, VERMILION, GREEN, GREY = "#0072B2", "#D55E00", "#009E73", "#666666"
PALETTE = (BLUE, VERMILION, GREEN, GREY)
STEP_DASHES = ("", "9 4", "2 3", "9 3 2 3")
"""The dashes that go with the palette where every line is one of steps."""
DASHES = {Style.FULL: "", Style.DASHED: "9 4", Style.DOTTED: "2 3"}
FILLS = ("dark", "#767676", "hatched", "#d0d0d0", "dotted", "lined", "crossed", WHITE)
"""Fills of the parts of a bar, the strongest first; the named ones are patterns."""
_PATTERNS = {"hatched": 1.6, "dotted": 2.0, "lined": 1.4, "crossed": 1.0}
"""How thick the strokes of each pattern are, in px."""


def svg(wide: float, high: float, said: str, drawn: Iterable[Node]) -> Element:
    """Return a whole picture, with its sentence in place of it for who cannot see."""
    return element(
        "svg",
        *drawn,
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {number(wide)} {number(high)}",
        width=number(wide),
        height=number(high),
        role="img",
        aria_label=said,
        font_family="sans-serif",
        font_size=str(FONT),
        fill=BLACK,
    )


def text(x: float, y: float, said: str, anchor: str = "start", **more: str) -> Element:
    """Return a line of text on a white rim; ``anchor`` is start, middle or end."""
    rim = {"stroke": WHITE, "stroke_width": "3", "paint_order": "stroke"} | more
    return element("text", said, x=number(x), y=number(y), text_anchor=anchor, **rim)


def cut(said: str, room: float) -> str:
    """Return a text in one line of at most ``room`` px, as it will be spelled out."""
    return wrapped(shown(said).replace("\n", " "), room, 1)[0]


def wide(said: str) -> float:
    """Return the px that a text takes at most, as it will be spelled out."""
    return width(shown(said))


def line(  # noqa: PLR0913, PLR0917  two ends and a look
    x1: float,
    y1: float,
    x2: float,
    y2: float,
    stroke: str = BLACK,
    thick: float = 1,
    dash: str = "",
) -> Element:
    """Return a straight line."""
    return path([(x1, y1), (x2, y2)], stroke, thick, dash)


def path(
    points: Iterable[tuple[float, float]],
    stroke: str = BLACK,
    thick: float = 1,
    dash: str = "",
) -> Element:
    """Return a line through points."""
    more = {"stroke_dasharray": dash} if dash else {}
    trace = "L".join(f"{number(x)} {number(y)}" for x, y in points)
    look = {"stroke": stroke, "stroke_width": f"{thick:g}"} | more
    return element("path", d=f"M{trace}", fill="none", **look)


def area(points: Iterable[tuple[float, float]], fill: str) -> Element:
    """Return what points enclose, without an edge."""
    trace = "L".join(f"{number(x)} {number(y)}" for x, y in points)
    return element("path", d=f"M{trace}Z", fill=fill)


def box(  # noqa: PLR0913, PLR0917  a place, a size and a look
    x: float, y: float, across: float, down: float, fill: str, stroke: str = BLACK
) -> Element:
    """Return a box; ``fill`` is a colour or a pattern's name, laid over white."""
    place = {"x": x, "y": y, "width": max(0.0, across), "height": max(0.0, down)}
    size = {name: number(value) for name, value in place.items()}
    return element("rect", **size, fill=_fill(fill), stroke=stroke)


def tiled(x: float, y: float, across: float, down: float, fill: str) -> list[Element]:
    """Return a box with a pattern of ``FILLS``, drawn line by line.

    Nothing has an id: many pictures stand in one page.
    """
    drawn = [box(x, y, across, down, fill)]
    if fill in _PATTERNS:
        drawn.append(_pattern(x, y, across, down, fill))
    return drawn


def _fill(fill: str) -> str:
    return {"dark": "#333333"}.get(fill, WHITE if fill in _PATTERNS else fill)


def _pattern(x: float, y: float, across: float, down: float, fill: str) -> Element:
    strokes = {
        "hatched": _hatching,
        "dotted": _dotting,
        "lined": _lining,
        "crossed": _crossing,
    }[fill]
    trace = "".join(
        f"M{number(x + a)} {number(y + b)}L{number(x + c)} {number(y + d)}"
        for a, b, c, d in strokes(across, down)
    )
    thick = f"{_PATTERNS[fill]:g}"
    return element(
        "path", d=trace or "M0 0", fill="none", stroke=GREY, stroke_width=thick
    )


def _hatching(across: float, down: float) -> Iterable[tuple[float, ...]]:
    """Yield slanting strokes that end at the box's edges."""
    apart = 6.0
    at = apart
    while at < across + down:
        yield (
            max(0.0, at - down),
            min(at, down),
            min(at, across),
            max(0.0, at - across),
        )
        at += apart


def _dotting(across: float, down: float) -> Iterable[tuple[float, ...]]:
    for row in range(1, int(down // 6) + 1):
        for place in range(1, int(across // 6) + 1):
            x, y = place * 6 - 3.0, row * 6 - 3.0
            if x + 1 < across and y + 1 < down:
                yield x - 0.9, y, x + 0.9, y


def _lining(across: float, down: float) -> Iterable[tuple[float, ...]]:
    for row in range(1, int(down // 4) + 1):
        if row * 4 < down:
            yield 0.0, row * 4.0, across, row * 4.0


def _crossing(across: float, down: float) -> Iterable[tuple[float, ...]]:
    """Yield strokes that slant both ways."""
    for a, b, c, d in _hatching(across, down):
        yield a, b, c, d
        yield across - a, b, across - c, d


def mark(shape: Shape, x: float, y: float, size: float = 4.5) -> Element:
    """Return a point's mark, each shape in a colour of its own."""
    if shape is Shape.SQUARE:
        side = 2 * size - 1
        return box(x - side / 2, y - side / 2, side, side, VERMILION, WHITE)
    if shape is Shape.TRIANGLE:
        half, low = size + 1, y + size
        return area(((x, y - half), (x + half, low), (x - half, low)), GREEN)
    fill, stroke = (WHITE, BLUE) if shape is Shape.HOLLOW else (BLUE, WHITE)
    return element(
        "circle",
        cx=number(x),
        cy=number(y),
        r=number(size),
        fill=fill,
        stroke=stroke,
        stroke_width="1.6" if shape is Shape.HOLLOW else "0.8",
    )
