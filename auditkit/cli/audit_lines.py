"""An audit at a terminal: the answer, then shop by shop, then the questions. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from auditkit.fleet.audited import AskedOfShop, Audit, Cell, Section, Table
from auditkit.fleet.report.cells import cell_text, heading
from auditkit.fleet.report.standing import BEFORE_QUESTIONS

_SHORT = ("shop", "orders", "here", "held", "seen", "expected", "mark")
_PACKETS = 3


def lead_lines(audit: Audit) -> Iterator[str]:
    """Yield the title and the sentences of the first page."""
    yield audit.title
    for sentence in audit.sections[0].sentences:
        yield f"  {sentence}"


def shop_rows(section: Section) -> list[list[str]]:
    """Return the table of shops as texts, its most important columns alone."""
    found = next((t for t in section.tables if t.name == "shop_by_shop"), None)
    return [] if found is None or not found.rows else texts(found, _SHORT)


def texts(table: Table, names: Sequence[str] = ()) -> list[list[str]]:
    """Return a table's first row of headings and its rows, of some columns or all."""
    places = [
        place
        for place, column in enumerate(table.columns)
        if not names or column.name in names
    ]
    rows = [[heading(table.columns[place]) for place in places]]
    rows += [
        [
            cell_text(row[place], table.columns[place].decimals, table.without)
            for place in places
        ]
        for row in table.rows
    ]
    return rows


def question_lines(asked: Sequence[AskedOfShop]) -> Iterator[str]:
    """Yield the questions, shop by shop; what is only watched is left to the report."""
    questions = [one for one in asked if not one.is_to_watch]
    if not questions:
        return
    yield "Questions to shops"
    for said in BEFORE_QUESTIONS:
        yield f"  {said}"
    for one in questions:
        yield f"{one.shop}, {one.screen}: {one.question}"
        yield f"    {_named(dict(one.measured))}"
        if one.peers:
            yield f"    other shops: {_named(dict(one.peers))}"
        yield f"    an honest reason may be: {'; '.join(one.honest_reasons)}"
        for packet in one.to_open[:_PACKETS]:
            yield f"    look at {packet.repair_order}: {packet.because}"
            yield f"        packet {packet.sha256}"
        if len(one.to_open) > _PACKETS:
            yield f"    and {len(one.to_open) - _PACKETS} packets more, in the report"
        for line in one.answer.splitlines():
            yield f"    the shop answered on {line}"


def _named(values: dict[str, Cell]) -> str:
    return ", ".join(
        f"{name} {cell_text(value, None, 'too few')}" for name, value in values.items()
    )
