"""An audit at a terminal: the answer, then shop by shop, then the questions. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from auditkit.fleet.audited import (
    AskedOfShop,
    Audit,
    Cell,
    Section,
    Table,
    told_once,
)
from auditkit.fleet.phrases import counted, listed
from auditkit.fleet.report.cells import cell_text
from auditkit.fleet.report.standing import BEFORE_QUESTIONS

_SHORT = {
    "shop_by_shop": {
        "shop": "shop",
        "orders": "orders",
        "here": "delivered, %",
        "fixed": "fixed first time, %",
        "seen": "came back",
        "expected": "expected",
        "mark": "comebacks",
    },
    "register_by_shop": {
        "shop": "shop",
        "fixed": "fixed first time, %",
        "seen": "came back",
        "expected": "expected",
        "mark": "comebacks",
    },
    "visits": {
        "came": "came",
        "shop": "shop",
        "order": "order",
        "odometer": "km",
        "verdict": "verdict",
        "parts": "worked on",
    },
    "faults": {
        "order": "order",
        "fault": "fault",
        "done": "what was done",
        "verdict": "verdict",
        "came_back": "came back",
    },
}
"""The columns that fit a terminal, by table, with headings as short."""
_PACKETS = 3


def lead_lines(audit: Audit) -> Iterator[str]:
    """Yield the title and the sentences of the first page."""
    yield audit.title
    for sentence in audit.sections[0].sentences:
        yield f"  {sentence}"


def lead_tables(section: Section) -> Iterator[tuple[str, list[list[str]]]]:
    """Yield the title and the rows of each table of a first part, headings first."""
    for table in section.tables:
        if table.rows:
            yield table.title, _texts(table, _SHORT[table.name])


def _texts(table: Table, heads: Mapping[str, str]) -> list[list[str]]:
    columns = {column.name: (n, column) for n, column in enumerate(table.columns)}
    told = {name: said for name, said in heads.items() if name in columns}
    chosen = [columns[name] for name in told]
    rows = [
        [
            cell_text(row[place], column.decimals, table.without)
            for place, column in chosen
        ]
        for row in table.rows
    ]
    return [list(told.values()), *rows]


def question_lines(asked: Sequence[AskedOfShop]) -> Iterator[str]:
    """Yield the questions, shop by shop; what is only watched is left to the report."""
    questions = [one for one in asked if not one.is_to_watch]
    if not questions:
        return
    yield "Questions to shops"
    for said in BEFORE_QUESTIONS:
        yield f"  {said}"
    for one, *same in told_once(questions):
        shops = listed([each.shop for each in (one, *same)])
        yield f"{shops}, {one.screen}: {one.question}"
        yield f"    {_named(dict(one.measured))}"
        if one.peers:
            yield f"    other shops: {_named(dict(one.peers))}"
        yield f"    an honest reason may be: {'; '.join(one.honest_reasons)}"
        for packet in one.to_open[:_PACKETS]:
            yield f"    look at {packet.repair_order}: {packet.because}"
            yield f"        packet {packet.sha256}"
        if len(one.to_open) > _PACKETS:
            more = counted(len(one.to_open) - _PACKETS, "packet")
            yield f"    and {more} more, in the report"
        for each in (one, *same):
            who = each.shop if same else "the shop"
            for line in each.answer.splitlines():
                yield f"    {who} answered on {line}"


def _named(values: dict[str, Cell]) -> str:
    return ", ".join(
        f"{name} {cell_text(value, None, 'too few')}" for name, value in values.items()
    )
