"""An audit as a row of blocks, in the order in which it is read: pure.

Whoever draws them, as a page or on paper, adds type and lines, and changes no word.
Texts are still strangers' texts here: who draws them makes them fit.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

from auditkit.fleet.audited import AskedOfShop, Audit, Cell, Chart, Section, Table
from auditkit.fleet.report.cells import cell_text, heading, is_digest, is_number
from auditkit.fleet.report.chart_numbers import chart_numbers
from auditkit.fleet.report.picture import Picture, pictures, small_pictures
from auditkit.fleet.report.standing import (
    AT_THE_END,
    BEFORE_QUESTIONS,
    NO_QUESTION,
    OF_ONE_VEHICLE,
    OF_PACKETS,
    TO_WATCH,
)
from auditkit.text.display_text import quoted

_SHORT = 25
TOO_FEW = "too few"
NOTHING = "nothing to list."
_SILENT = 3  # columns that hold nothing but "too few"
_METHOD = "method"
"""The section that comes last, after the questions."""


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading; level 2 is a part, deeper ones stand in it. It can be linked to."""

    level: int
    text: str
    anchor: str = ""


@dataclass(frozen=True, slots=True)
class Said:
    """A sentence; a ``lead`` one stands first and large, a ``small`` one beside.

    ``more`` is the anchor of what it speaks of, where it is followed on a page.
    """

    text: str
    weight: str = "plain"
    more: str = ""


@dataclass(frozen=True, slots=True)
class Listed:
    """Lines of a list."""

    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Grid:
    """A table as texts; ``numeric`` tells which columns are set to the right."""

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numeric: tuple[bool, ...]
    exact: tuple[int, ...] = ()
    """Columns whose texts are compared sign by sign (digests)."""
    is_kept: bool = False
    """Whether it is never folded away: packets to open, the table of all shops."""

    @property
    def is_long(self) -> bool:
        """Whether its rows would bury what is said around it."""
        return len(self.rows) > _SHORT and not self.is_kept

    @property
    def is_too_few(self) -> bool:
        """Whether it says of nobody yet what it is there to say: our choice of when.

        Nobody is asked for a look, or several columns hold nothing.
        """
        silent = [{*cells} == {TOO_FEW} for cells in zip(*self.rows, strict=True)]
        return not self.is_kept and (sum(silent) >= _SILENT or silent[-1:] == [True])


@dataclass(frozen=True, slots=True)
class Figure:
    """Pictures that stand together, and their numbers where no table has them."""

    drawn: tuple[Picture, ...]
    numbers: tuple[Grid, ...]


@dataclass(frozen=True, slots=True)
class Answer:
    """What the shop answered, or room for it."""

    text: str


@dataclass(frozen=True, slots=True)
class Contents:
    """Links to headings: (level, text, anchor)."""

    lines: tuple[tuple[int, str, str], ...]


Block = Heading | Said | Listed | Grid | Figure | Answer | Contents


def told(audit: Audit) -> list[Block]:
    """Return an audit's blocks, its first page first."""
    own = [s for s in audit.sections if s.shop]
    shared = [s for s in audit.sections if not s.shop]
    (first, rest) = (shared[:1], shared[1:])
    last = [s for s in rest if s.name == _METHOD]
    rest = [s for s in rest if s.name != _METHOD]
    body: list[Block] = []
    for place, section in enumerate(rest, start=1):
        body += _section(section, f"part-{place}")
    is_whole = len(shared) != 1 or bool(own or audit.asked)
    if is_whole:
        body += _shops(own, audit)
    for section in last:
        body += _section(section, "method")
    body += _made_from(audit, has_method=bool(last))
    standing = AT_THE_END if is_whole else OF_ONE_VEHICLE
    body += [Heading(2, "How to read this", "reading"), Listed(standing)]
    lead = [block for section in first for block in _section(section, "")]
    said, rest_of_lead = _lead(lead)
    if not is_whole:
        return [*said, *rest_of_lead, *body]
    lines = tuple(
        (b.level, b.text, b.anchor) for b in body if isinstance(b, Heading) and b.anchor
    )
    if any(not one.is_to_watch for one in audit.asked):
        said[1:2] = [replace(b, more="shops") for b in said[1:2] if isinstance(b, Said)]
    return [*said, Contents(lines), *rest_of_lead, *body]


def is_silent(part: Sequence[Block]) -> bool:
    """Return whether a part says of nobody what it is there to say, by its blocks.

    It has nothing to list, or too few; it draws nothing and asks nothing.
    """
    grids = [block for block in part if isinstance(block, Grid)]
    said = [block for block in part if isinstance(block, Said)]
    is_empty = any(block.text.endswith(NOTHING) for block in said)
    return (
        1 + len(grids) + len(said) == len(part)
        and (is_empty or bool(grids))
        and all(grid.is_too_few for grid in grids)
    )


def _lead(blocks: Sequence[Block]) -> tuple[list[Block], list[Block]]:
    """Return the first section's sentences, large; then its pictures and tables."""
    first = next(
        (i for i, b in enumerate(blocks) if isinstance(b, Figure | Grid)), len(blocks)
    )
    said = [replace(b, weight="lead") if isinstance(b, Said) else b for b in blocks]
    kept = [
        replace(b, is_kept=True) if isinstance(b, Grid) else b for b in blocks[first:]
    ]
    return said[:first], kept


def _section(section: Section, anchor: str, level: int = 2) -> Iterator[Block]:
    yield Heading(level, section.title, anchor)
    for sentence in section.sentences:
        yield Said(sentence)
    listed = {table.name for table in section.tables}
    for _, run in groupby(section.charts, key=lambda c: c.group or c.name):
        yield _figure(list(run), listed)
    for table in section.tables:
        yield from _table(table)


def _figure(charts: Sequence[Chart], listed: Collection[str] = ()) -> Figure:
    """Return the pictures of one chart, or of those of one group; their numbers too."""
    if charts[0].group:
        drawn = tuple(small_pictures(charts))
    else:
        drawn = tuple(p for chart in charts for p in pictures(chart))
    alone = [chart for chart in charts if chart.numbers not in listed]
    return Figure(drawn, tuple(_grid(t) for c in alone for t in chart_numbers(c)))


def _table(table: Table) -> Iterator[Block]:
    if table.is_for_files:
        yield Said(
            f"{table.title}: {len(table.rows):,} rows, in the files ({table.name})."
        )
    elif table.rows:
        yield _grid(table)
    else:
        yield Said(f"{table.title}: {NOTHING}")
    if table.note:
        yield Said(table.note, "small")


def _grid(table: Table) -> Grid:
    return Grid(
        table.title,
        tuple(heading(column) for column in table.columns),
        tuple(
            tuple(
                cell_text(cell, column.decimals, table.without)
                for cell, column in zip(row, table.columns, strict=True)
            )
            for row in table.rows
        ),
        tuple(
            any(is_number(row[i]) for row in table.rows)
            and all(row[i] is None or is_number(row[i]) for row in table.rows)
            for i in range(len(table.columns))
        ),
        tuple(
            i
            for i in range(len(table.columns))
            if any(is_digest(row[i]) for row in table.rows)
        ),
    )


def _shops(own: Sequence[Section], audit: Audit) -> Iterator[Block]:
    asked = audit.asked
    yield Heading(2, "Shop by shop: numbers and questions", "shops")
    names = list(dict.fromkeys([*(s.shop for s in own), *(a.shop for a in asked)]))
    if asked:
        yield Listed(BEFORE_QUESTIONS)
    else:
        yield Said(NO_QUESTION)
    told_at: dict[tuple[str, str], str] = {}
    for place, name in enumerate(names, start=1):
        called = audit.called.get(name)
        words = f"{name}: it calls itself {quoted(called)}" if called else name
        yield Heading(3, words, f"shop-{place}")
        for section in own:
            if section.shop == name:
                yield from _section(section, "", level=4)
        for question in asked:
            if question.shop == name:
                at = name
                if question.also:
                    at = told_at.setdefault((question.screen, question.question), name)
                yield from _asked(question, at)


def _asked(one: AskedOfShop, told_at: str) -> Iterator[Block]:
    kind = "To watch" if one.is_to_watch else "Question"
    yield Heading(4, f"{kind}: {one.screen}")
    yield Said(one.question, "strong")
    if told_at != one.shop:
        yield Said(f"The same as of {told_at}: what it rests on stands there.")
        yield Answer(one.answer)
        return
    if one.is_to_watch:
        yield Said(TO_WATCH)
    numbers = [*one.measured.values(), *one.peers.values()]
    rows = [("this shop", name, _plain(value)) for name, value in one.measured.items()]
    rows += [("the others", name, _plain(v)) for name, v in one.peers.items()]
    rows.append(("asked only from", one.at_least, ""))
    yield Grid(
        "What makes it worth asking",
        ("of whom", "what", "number"),
        tuple(rows),
        (False, False, not any(isinstance(v, str) for v in numbers)),
    )
    if one.chart is not None:
        yield _figure([one.chart])
    if one.honest_reasons:
        yield Said("An honest shop may answer:")
        yield Listed(one.honest_reasons)
    if one.to_open:
        yield Grid(
            "Packets to open",
            ("repair order", "SHA-256 of its packet", "why this one"),
            tuple((p.repair_order, p.sha256, p.because) for p in one.to_open),
            (False, False, False),
            exact=(1,),
            is_kept=True,
        )
        yield Said(OF_PACKETS, "small")
    yield Answer(one.answer)


def _plain(value: Cell) -> str:
    return cell_text(value, None, TOO_FEW)


def _made_from(audit: Audit, *, has_method: bool) -> Iterator[Block]:
    if not audit.made_from:
        return
    if not has_method:
        yield Heading(2, "What this was made from", "made-from")
    rows = tuple((name, _plain(value)) for name, value in audit.made_from.items())
    yield Grid(
        "What this was made from: the same gives the same report, byte for byte",
        ("what", "which"),
        rows,
        (False, False),
        exact=(1,),
    )
