"""How wide the columns of a printed table are, by what stands in them. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from auditkit.output.typeset import width_em

_WORD = 16  # letters of a word, or of a short cell, that is not broken
_LETTER = 0.58  # em of a letter of a text, rather too wide


@dataclass(frozen=True, slots=True)
class Paper:
    """The points of a table, of what surrounds the text of a cell, and of its type.

    No column asks for more than ``most`` letters in a line.
    """

    page: float
    inset: float
    cell: float
    most: int


def column_points(columns: Sequence[Sequence[str]], paper: Paper) -> Iterator[float]:
    """Yield each column's width in points: its longest word, and more where it helps.

    No column is wider than what stands in it. Short cells stay in one line where there
    is room for that; a word is broken only where not even the words have room.
    """
    least = [_unbroken(cells, paper) + paper.inset for cells in columns]
    if sum(least) > paper.page:
        words = [[word for text in cells for word in text.split()] for cells in columns]
        least = [_unbroken(cells, paper) + paper.inset for cells in words]
    letter = _LETTER * paper.cell
    wished = [
        max(low, min(max(map(len, cells)), paper.most) * letter + paper.inset)
        for low, cells in zip(least, columns, strict=True)
    ]
    free = paper.page - sum(least)
    more = sum(wished) - sum(least)
    part = min(1.0, free / more) if more and free > 0 else 0.0
    scale = min(1.0, paper.page / sum(least))
    for low, high in zip(least, wished, strict=True):
        yield scale * low + part * (high - low)


def _unbroken(cells: Sequence[str], paper: Paper) -> float:
    """Return the points of what stays in one line: words, and short cells."""
    words = {word for text in cells for word in text.split()}
    wide = [width_em(word) for word in words if len(word) <= _WORD]
    long = [_WORD * _LETTER for word in words if len(word) > _WORD]
    short = [len(cell) * _LETTER for cell in cells if len(cell) <= _WORD]
    return paper.cell * max([_LETTER, *wide, *long, *short])
