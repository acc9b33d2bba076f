"""A cell of a table as text: pure."""

from __future__ import annotations

import re

from auditkit.fleet.audited import Cell, Column
from auditkit.output.svg import short

_DIGEST = re.compile(r"[0-9a-f]{64}")


def cell_text(cell: Cell, decimals: int | None, without: str) -> str:
    """Return a cell's text, thousands apart; None is told by ``without``.

    With no number of decimals a number that is not whole gets five digits.
    """
    if cell is None:
        return without
    if isinstance(cell, str):
        return cell
    if isinstance(cell, int):
        return f"{cell:,}"
    return short(cell) if decimals is None else f"{cell:,.{decimals}f}"


def heading(column: Column) -> str:
    """Return a column's heading with its unit."""
    return f"{column.heading}, {column.unit}" if column.unit else column.heading


def is_number(cell: Cell) -> bool:
    """Return whether a cell holds a number."""
    return isinstance(cell, int | float)


def is_digest(cell: Cell) -> bool:
    """Return whether a cell holds a SHA-256 digest in hex."""
    return isinstance(cell, str) and _DIGEST.fullmatch(cell) is not None
