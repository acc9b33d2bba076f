"""The parts of an SVG picture: black and grey only, the same bytes every run."""

from __future__ import annotations

import html
import re
from collections.abc import Iterable, Sequence

from auditkit.output.text_width import FONT, wrapped

WIDTH, HEIGHT = 640, 400
BLACK, GREY, MEMBER, BAND, WHITE = "#000", "#666", "#bbb", "#e8e8e8", "#fff"
SOLID, LIMIT, MIDDLE = "", "8 4", "2 3"
HALO = f' stroke="{WHITE}" stroke-width="3" paint-order="stroke"'

_BOLD = 1.5  # the title's letters against the others, on the wide side (measured)
_NOT_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
"""What XML 1.0 (section 2.2, Char) has no place for."""


def svg(
    title: str, told: Sequence[str], drawn: Sequence[str], height: float = HEIGHT
) -> str:
    """Return the whole picture; title and description come first, to be read out."""
    box = f'viewBox="0 0 {WIDTH} {number(height)}" role="img"'
    look = f'font-family="sans-serif" font-size="{FONT}" fill="{BLACK}"'
    bold = 'font-size="16" font-weight="bold"'
    (shown,) = wrapped(title, (WIDTH - 32) / _BOLD, 1)
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" {box} {look}>',
        f"<title>{_escaped(title)}</title>",
        f"<desc>{_escaped('. '.join(told))}</desc>",
        f'<rect width="{WIDTH}" height="{number(height)}" fill="{WHITE}"/>',
        f'<text x="16" y="24" {bold}>{_escaped(shown)}</text>',
        *drawn,
        "</svg>",
    ]
    return "\n".join(lines) + "\n"


def text(x: float, y: float, said: str, anchor: str = "start", more: str = "") -> str:
    """Return a line of text; ``anchor`` is start, middle or end."""
    where = f'x="{number(x)}" y="{number(y)}" text-anchor="{anchor}"{more}'
    return f"<text {where}>{_escaped(said)}</text>"


def line(  # noqa: PLR0913, PLR0917  two ends and a look
    x1: float, y1: float, x2: float, y2: float, dash: str = SOLID, width: float = 1
) -> str:
    """Return a straight line."""
    ends = f'x1="{number(x1)}" y1="{number(y1)}" x2="{number(x2)}" y2="{number(y2)}"'
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    return f'<line {ends} stroke="{BLACK}" stroke-width="{width:g}"{dashes}/>'


def rect(  # noqa: PLR0913, PLR0917  a box and a look
    x: float,
    y: float,
    width: float,
    height: float,
    fill: str = MEMBER,
    stroke: str = BLACK,
) -> str:
    """Return a box."""
    at = f'x="{number(x)}" y="{number(y)}"'
    box = f'{at} width="{number(width)}" height="{number(height)}"'
    return f'<rect {box} fill="{fill}" stroke="{stroke}"/>'


def polyline(points: Iterable[tuple[float, float]]) -> str:
    """Return a thin grey line through points."""
    trace = " ".join(f"{number(x)},{number(y)}" for x, y in points)
    return f'<polyline points="{trace}" fill="none" stroke="{GREY}"/>'


def dot(x: float, y: float) -> str:
    """Return a black dot."""
    return f'<circle cx="{number(x)}" cy="{number(y)}" r="3.5" fill="{BLACK}"/>'


def diamond(x: float, y: float) -> str:
    """Return a white diamond."""
    corners = ((x, y - 6), (x + 6, y), (x, y + 6), (x - 6, y))
    points = " ".join(f"{number(a)},{number(b)}" for a, b in corners)
    look = f'fill="{WHITE}" stroke="{BLACK}" stroke-width="1.5"'
    return f'<polygon points="{points}" {look}/>'


def arrow(x: float, y: float, right: float, down: float) -> list[str]:
    """Return an arrow from a place, by a step to the right and one down, one of them 0.

    Its head is black.
    """
    tip_x, tip_y = x + right, y + down
    along = (
        1 if right > 0 else -1 if right else 0,
        1 if down > 0 else -1 if down else 0,
    )
    back_x, back_y = tip_x - 7 * along[0], tip_y - 7 * along[1]
    side_x, side_y = 3.5 * along[1], 3.5 * along[0]
    corners = (
        (tip_x, tip_y),
        (back_x + side_x, back_y + side_y),
        (back_x - side_x, back_y - side_y),
    )
    points = " ".join(f"{number(a)},{number(b)}" for a, b in corners)
    head = f'<polygon points="{points}" fill="{BLACK}"/>'
    return [line(x, y, back_x, back_y, width=1.5), head]


def short(value: float) -> str:
    """Return a number to five digits."""
    return f"{value:.5g}"


def number(value: float) -> str:
    """Return a coordinate as text; never ``-0``."""
    said = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if said == "-0" else said


def _escaped(said: str) -> str:
    return html.escape(_NOT_XML.sub("\ufffd", said))
