"""What a sheet of paper has no room for: long tables come last, wide ones in pieces.

So do tables that say nothing of anybody yet.

What stands first for those who decide, its table of shops too, comes before the
contents.

Pure. A page folds them away instead.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from auditkit.fleet.report.told import Block, Contents, Figure, Grid, Heading, Said

MOST_ROWS = 300
"""Rows of a table that are printed; longer ones stand in the page alone."""
MOST_NUMBERS = 60
"""Rows of a picture's numbers that are printed: about a sheet."""
_MOST_COLUMNS = 10
_LONG, _NUMBERS = "Tables set apart", "The numbers of the pictures"


def sheets_of(blocks: Sequence[Block]) -> list[Block]:
    """Return the blocks as they are printed."""
    made: list[Block] = []
    long: list[Grid] = []
    for block in _lead_first(blocks):
        if not isinstance(block, Grid):
            made.append(block)
        elif not (block.is_long or block.is_too_few):
            made += _narrow(block)
        elif len(block.rows) > MOST_ROWS:
            made.append(_elsewhere(block))
        else:
            few = "too few to say anything of anybody; " if block.is_too_few else ""
            where = f"see \u201c{_LONG}\u201d, at the end"
            made.append(Said(f"{block.caption}: {few}{where}."))
            long.append(block)
    numbers = [g for b in blocks if isinstance(b, Figure) for g in b.numbers]
    for title, grids, most in (
        (_LONG, long, MOST_ROWS),
        (_NUMBERS, numbers, MOST_NUMBERS),
    ):
        made += [Heading(2, title)] if grids else []
        for grid in grids:
            is_printed = len(grid.rows) <= most
            made += _narrow(grid) if is_printed else [_elsewhere(grid)]
    return made


def _lead_first(blocks: Sequence[Block]) -> list[Block]:
    """Return the blocks, the contents moved to where the first part ends."""
    kinds = [type(block) for block in blocks]
    if Contents not in kinds:
        return list(blocks)
    at = kinds.index(Contents)
    end = next(
        (i for i in range(at + 1, len(blocks)) if kinds[i] is Heading), len(blocks)
    )
    return [*blocks[:at], *blocks[at + 1 : end], blocks[at], *blocks[end:]]


def _elsewhere(grid: Grid) -> Said:
    return Said(f"{grid.caption}: {len(grid.rows):,} rows, in the page (HTML).")


def _narrow(grid: Grid) -> Iterator[Grid]:
    """Yield a table in pieces of columns that fit a sheet, each with the first one."""
    count = len(grid.head)
    parts = max(1, -(-(count - 1) // (_MOST_COLUMNS - 1)))
    for part in range(parts):
        first = 1 + (count - 1) * part // parts
        last = 1 + (count - 1) * (part + 1) // parts
        kept = [0, *range(first, last)]
        which = f" (columns {first + 1} to {last} of {count})" if parts > 1 else ""
        yield replace(
            grid,
            caption=f"{grid.caption}{which}",
            head=tuple(grid.head[i] for i in kept),
            rows=tuple(tuple(row[i] for i in kept) for row in grid.rows),
            numeric=tuple(grid.numeric[i] for i in kept),
            exact=tuple(kept.index(i) for i in grid.exact if i in kept),
        )
