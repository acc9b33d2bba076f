"""The pictures of a receipt as SVG: its code, values against limits, photographs.

Black on white, so that they print in grey.
"""

from __future__ import annotations

import base64
import re
from typing import TYPE_CHECKING

from auditkit.errors import InputError
from auditkit.order.picture import stripped
from auditkit.reader.page.gauge import gauge
from auditkit.reader.page.markup import Element, element, to_html

if TYPE_CHECKING:
    import segno

    from auditkit.order.picture import Picture
    from auditkit.reader.before_after import Measure

QUIET = 4
"""Modules of white around a code (ISO/IEC 18004)."""
_SVG = "http://www.w3.org/2000/svg"
_DARK = re.compile(b"\x01+")
_STYLE = """
text { font-family: "Libertinus Serif"; font-size: 12px; paint-order: stroke;
  stroke: #ffffff; stroke-width: 3px }
.allowed { fill: #dddddd } .lane { stroke: #999999 }
.limit { stroke: #000000; stroke-dasharray: 5 3 }
.margin { stroke: #000000; stroke-width: 2 }
.ring { fill: #ffffff; stroke: #000000; stroke-width: 2 }
.square { fill: #000000 }
"""
_TURNS = {3: 180, 6: 90, 8: 270}
"""EXIF's orientation (CIPA DC-008) -> degrees that turn the picture upright."""


def code_svg(code: segno.QRCode) -> str:
    """Return the code in its white margin, one unit for each module.

    Each run of dark modules laps over the next row by a hair: no gap is drawn between.
    """
    side = len(code.matrix) + 2 * QUIET
    runs = "".join(
        f"M{run.start() + QUIET} {row + QUIET}h{len(run[0])}v1.02h-{len(run[0])}z"
        for row, cells in enumerate(code.matrix)
        for run in _DARK.finditer(bytes(cells))
    )
    return f'<svg xmlns="{_SVG}" viewBox="0 0 {side} {side}"><path d="{runs}"/></svg>'


def value_svg(value: Measure) -> str:
    """Return a value before and after against its limits; empty where no number is."""
    drawn = gauge(value)
    if drawn is None:
        return ""
    left, top, wide, _ = drawn.attributes["viewBox"].split()
    high = 84 if value.maximum is not None else 72 if value.minimum is not None else 54
    box = f"{left} {top} {wide} {high}"  # no white where no limit's words stand
    styled = element("style", _STYLE)
    return to_html(
        Element("svg", {"xmlns": _SVG, "viewBox": box}, (styled, *drawn.inner))
    )


def picture_of(data: bytes) -> Picture | None:
    """Return the picture that a file's bytes are; None where they are none to draw."""
    try:
        return stripped(data)
    except InputError:
        return None  # its line says what it should show, and that it is not drawn


def picture_svg(picture: Picture, turned: int | None) -> str:
    """Return a photograph upright; ``turned`` is its orientation by EXIF."""
    wide, high = picture.width, picture.height
    degrees = _TURNS.get(turned or 1, 0)
    uri = f"data:{picture.media_type};base64,{base64.b64encode(picture.data).decode()}"
    box = (high, wide) if degrees in {90, 270} else (wide, high)
    moved = {
        0: "",
        180: f' transform="rotate(180) translate({-wide} {-high})"',
        90: f' transform="rotate(90) translate(0 {-high})"',
        270: f' transform="rotate(270) translate({-wide} 0)"',
    }[degrees]
    return (
        f'<svg xmlns="{_SVG}" viewBox="0 0 {box[0]} {box[1]}">'
        f'<image href="{uri}" width="{wide}" height="{high}"{moved}/></svg>'
    )
