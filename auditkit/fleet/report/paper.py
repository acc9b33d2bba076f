"""An audit on paper: PDF/A-2a and PDF/UA-1, the same bytes for the same audit.

PDF/A-2a is ISO 19005-2, level A; PDF/UA-1 is ISO 14289-1. Beside the audit the bytes
depend on the versions of this program and of the typesetter alone; both stand in them.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from typing import Any

from auditkit.fleet.audited import Audit
from auditkit.fleet.report.picture import Picture
from auditkit.fleet.report.set_apart import sheets_of
from auditkit.fleet.report.sheets import LAYOUT
from auditkit.fleet.report.standing import ITS_ANSWER, NO_ANSWER
from auditkit.fleet.report.told import (
    Answer,
    Block,
    Figure,
    Grid,
    Heading,
    Listed,
    Said,
    told,
)
from auditkit.output.column_widths import Paper, column_points
from auditkit.output.typeset import breakable, makers, typeset
from auditkit.reader.page.markup import Element, Node, to_html

_LINE = 46.0  # em of a line of text, 10 points
_PAPER = Paper(page=481.0, inset=9.0, cell=8.5, most=64)
_TITLE = 60  # characters of the title at the foot of each sheet
Fit = Callable[[str], str]


def audit_pdf(audit: Audit, dated: datetime) -> bytes:
    """Return the sheets of an audit; ``dated`` is when it was made, kept in the file.

    Raises InputError where the library is missing or the sheets cannot be set.
    """
    return typeset(
        LAYOUT,
        lambda shown: _data(audit, shown),
        standard="a-2a",
        dated=dated,
        what_to_do="hand over the page (HTML) instead",
    )


def _data(audit: Audit, shown: Fit) -> dict[str, Any]:
    ours, setter = makers()

    def fit(text: str) -> str:
        return breakable(shown(text), _LINE)

    blocks = sheets_of(told(audit))
    title = shown(audit.title)
    return {
        "title": fit(audit.title),
        "short": title if len(title) <= _TITLE else f"{title[:_TITLE]}...",
        "keywords": [f"auditkit {ours}", f"typst {setter}"],
        "answer": ITS_ANSWER,
        "contents": "Contents",
        "blocks": [_block(block, shown, fit) for block in blocks],
    }


def _block(block: Block, shown: Fit, fit: Fit) -> dict[str, Any]:
    """Return a block as the layout takes it, every text in it fit to be printed."""
    match block:
        case Heading():
            more: dict[str, Any] = {"level": block.level, "text": fit(block.text)}
        case Said():
            more = {"weight": block.weight, "text": fit(block.text)}
        case Listed():
            more = {"lines": [fit(line) for line in block.lines]}
        case Grid():
            more = _grid(block, shown)
        case Figure():
            drawn = [_picture(one, shown, fit) for one in block.drawn]
            more = {"drawn": drawn, "small": block.drawn[0].is_small}
        case Answer():
            more = {"given": bool(block.text), "text": fit(block.text or NO_ANSWER)}
        case _:
            more = {"lines": len(block.lines)}
    return {"block": type(block).__name__.lower(), **more}


def _grid(grid: Grid, shown: Fit) -> dict[str, Any]:
    columns = list(zip(grid.head, *grid.rows, strict=True))
    points = list(column_points(columns, _PAPER))
    room = [(width - _PAPER.inset) / _PAPER.cell for width in points]

    def cells(rows: Sequence[Sequence[str]]) -> list[str]:
        return [
            breakable(shown(cell), em)
            for row in rows
            for cell, em in zip(row, room, strict=True)
        ]

    return {
        "caption": breakable(shown(grid.caption), _LINE),
        "widths": points,
        "numeric": grid.numeric,
        "exact": grid.exact,
        "head": cells([grid.head]),
        "rows": cells(grid.rows),
    }


def _picture(one: Picture, shown: Fit, fit: Fit) -> dict[str, str]:
    return {
        "title": fit(one.chart.title),
        "sentence": fit(one.chart.sentence),
        "note": fit(one.note),
        "svg": to_html(_fitted(one.drawn, shown)),
    }


def _fitted(node: Node, shown: Fit) -> Node:
    """Return a picture with every text in it fit to be printed."""
    if isinstance(node, str):
        return shown(node)
    inner = tuple(_fitted(one, shown) for one in node.inner)
    told_aloud = (
        {"aria-label": shown(node.attributes["aria-label"])}
        if ("aria-label" in node.attributes)
        else {}
    )
    return Element(node.name, {**node.attributes, **told_aloud}, inner)
