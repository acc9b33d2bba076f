"""Lines and tables of text, fitted to the columns of a terminal. Pure."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

_GAP = "  "
_HANG = 4
_NARROW = 32  # a last column narrower than this goes below instead


def wrapped(line: str, columns: int) -> list[str]:
    """Return a line in pieces no wider than ``columns``; what follows hangs in by 4.

    Nothing is broken but between words: a fingerprint or a path stays whole, and then
    it is wider.
    """
    if len(line) <= columns:
        return [line]
    indent = line[: len(line) - len(line.lstrip(" "))]
    return textwrap.wrap(
        line.lstrip(" "),
        columns,
        initial_indent=indent,
        subsequent_indent=f"{indent}{' ' * _HANG}",
        break_long_words=False,
        break_on_hyphens=False,
    ) or [""]


def table_lines(rows: Sequence[Sequence[str]], columns: int | None) -> list[str]:
    """Return rows in columns; no wider than ``columns`` where words allow it.

    Where too little room is left beside the others, the last column goes below them.
    """
    heads = [row[:-1] for row in rows]
    widths = [max(map(len, column)) for column in zip(*heads, strict=True)]
    lines: list[str] = []
    for row in rows:
        head = _GAP.join(f"{c:<{w}}" for c, w in zip(row[:-1], widths, strict=True))
        whole = f"{head}{_GAP}{row[-1]}".rstrip()
        if columns is None or len(whole) <= columns or not row[-1]:
            lines.append(whole)
            continue
        left = len(head) + len(_GAP)
        below = columns - left < _NARROW
        pieces = textwrap.wrap(
            row[-1],
            columns - (_HANG if below else left),
            break_long_words=False,
            break_on_hyphens=False,
        )
        if below:
            lines += wrapped(head.rstrip(), columns)
            lines += [f"{' ' * _HANG}{piece}" for piece in pieces]
        else:
            lines.append(f"{head}{_GAP}{pieces[0]}")
            lines += [f"{' ' * left}{piece}" for piece in pieces[1:]]
    return lines
