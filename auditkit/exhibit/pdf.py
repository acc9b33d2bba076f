"""An exhibit as a file: PDF/A-3a and PDF/UA-1, with the packet itself attached.

PDF/A-3 is ISO 19005-3 (level A: tagged, with Unicode), PDF/UA-1 is ISO 14289-1; the
attachment is an associated file of the relationship Source (ISO 32000-2, 7.11.4). The
same packet, versions and plugins give the same bytes.
"""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from auditkit.exhibit import exhibit_of
from auditkit.exhibit.layout import LAYOUT
from auditkit.output.column_widths import Paper, column_points
from auditkit.output.typeset import breakable, makers, typeset
from auditkit.reader.blocks import Table

if TYPE_CHECKING:
    from collections.abc import Callable

    from auditkit.exhibit import Exhibit
    from auditkit.order.catalogue import Catalogue
    from auditkit.reader.blocks import Block

ATTACHED = "packet.json"
_LINE = 46.0  # em of a line of text, 10 points
_PAPER = Paper(page=481.0, inset=9.0, cell=9.0, most=160)


def exhibit_pdf(packet: bytes, catalogue: Catalogue, *, where: str = "") -> bytes:
    """Return the exhibit of a packet as PDF.

    Raises VerificationError where the packet does not verify, and InputError where it
    is no packet, the library is missing, or the pages cannot be set.
    """
    ours, setter = makers()
    exhibit = exhibit_of(packet, catalogue, version=ours, where=where)
    return typeset(
        LAYOUT,
        lambda shown: _data(exhibit, setter, shown),
        standard="a-3a",
        dated=exhibit.dated,
        what_to_do="hand over the packet itself instead",
        where=where,
        packet=packet.decode(),
    )


def _data(exhibit: Exhibit, setter: str, shown: Callable[[str], str]) -> dict[str, Any]:
    return {
        "title": shown(exhibit.title),
        "keywords": [f"auditkit {exhibit.version}", f"typst {setter}"],
        "description": f"Made from the packet with SHA-256 {exhibit.sha256}",
        "sha256": exhibit.sha256,
        "blocks": [_block(block, shown) for block in exhibit.blocks],
    }


def _block(block: Block, shown: Callable[[str], str]) -> dict[str, Any]:
    """Return a block as the layout takes it, every text in it fit to be printed."""
    content = {"block": type(block).__name__.lower(), **asdict(block)}
    if isinstance(block, Table):
        columns = list(zip(block.head, *block.rows, strict=True))
        points = list(column_points(columns, _PAPER))
        content["widths"] = points
        for name, rows in (("head", (block.head,)), ("rows", block.rows)):
            content[name] = [
                breakable(shown(cell), (width - _PAPER.inset) / _PAPER.cell)
                for row in rows
                for cell, width in zip(row, points, strict=True)
            ]
        return content
    return {name: _fit(item, shown) for name, item in content.items()}


def _fit(item: Any, shown: Callable[[str], str]) -> Any:  # noqa: ANN401  any member of a block
    if isinstance(item, dict):
        return {name: _fit(value, shown) for name, value in item.items()}
    if isinstance(item, list | tuple):
        return [_fit(value, shown) for value in item]
    return breakable(shown(item), _LINE) if isinstance(item, str) else item
