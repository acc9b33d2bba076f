"""An audit of a collection: every measure, and the page for those who decide.

The same collection and the same settings give the same audit.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

from auditkit.fleet.audited import AskedOfShop, Audit, Cell, Section
from auditkit.fleet.counted import ANOTHER
from auditkit.fleet.delivery.delivered import delivered
from auditkit.fleet.delivery.judged import judged
from auditkit.fleet.delivery.logs import of_shop, read_logs
from auditkit.fleet.evidence.measures import MEASURES as OF_EVIDENCE
from auditkit.fleet.first_page import claimed_names, first_page
from auditkit.fleet.made_from import made_from
from auditkit.fleet.method import method
from auditkit.fleet.outcomes.came_back import MOST_LISTED, came_back
from auditkit.fleet.outcomes.first_time_fix import first_time_fix
from auditkit.fleet.outcomes.how_long import how_long
from auditkit.fleet.outcomes.kinds_of_fault import kinds_of_fault
from auditkit.fleet.outcomes.parts import parts
from auditkit.fleet.outcomes.shops import shops
from auditkit.fleet.part import Ask, Part
from auditkit.fleet.phrases import by_name
from auditkit.fleet.settings import Settings
from auditkit.fleet.shop_answers import ShopAnswer, answered, not_asked_here

_NAMES_ANOTHER = re.compile(rf"{ANOTHER}\d")
Measure = Callable[[Ask, Settings], Part]
MEASURES: tuple[Measure, ...] = (
    delivered,
    judged,
    first_time_fix,
    how_long,
    kinds_of_fault,
    parts,
    shops,
    came_back,
    *OF_EVIDENCE,
)
"""The measures in the order in which a report tells them."""
_OWN_PACKETS = """SELECT lower(hex(p.sha256))
    FROM packet p JOIN shop_log l USING (log_id) WHERE l.shop = ? ORDER BY p.sha256"""


@dataclass(frozen=True, slots=True)
class Told:
    """What goes into an audit besides the collection, and who sees it.

    ``progress`` is called with how many measures are done, of how many.
    """

    settings: Settings = field(default_factory=Settings)
    answers: Sequence[ShopAnswer] = ()
    seen_by: str = ""
    made_from: Sequence[tuple[str, Cell]] = ()
    progress: Callable[[int, int], None] | None = None


def audit(ask: Ask, told: Told) -> Audit:
    """Return the audit of a whole collection, or the page of one shop."""
    settings, made = told.settings, []
    for done, measure in enumerate(MEASURES, 1):
        made.append(measure(ask, settings))
        if told.progress:
            told.progress(done, len(MEASURES))
    found = [one for part in made for one in part.asked]
    asked = answered(sorted(found, key=_order), told.answers)
    if told.seen_by:
        asked = _own_questions(ask, asked, told.seen_by)
    shops = of_shop(read_logs(ask))
    lead = first_page(ask, settings, made, asked, shops, told.seen_by)
    if unasked := not_asked_here(asked, told.answers):
        names = ", ".join(f"{a.shop} on {a.screen} ({a.on})" for a in unasked)
        told_too = (
            f"Answered, and no such question is here: {names}. It is not asked any "
            "more, or its shop or screen is not written as the question has it."
        )
        lead = replace(lead, sentences=(*lead.sentences, told_too))
    whole = Audit(
        title="How well repairs hold",
        sections=(lead, *(part.section for part in made), method(settings)),
        asked=asked,
        made_from={**made_from(ask, settings), **dict(told.made_from)},
        called=claimed_names(shops),
    )
    return own_page(whole, told.seen_by) if told.seen_by else whole


def _own_questions(
    ask: Ask, asked: Sequence[AskedOfShop], shop: str
) -> tuple[AskedOfShop, ...]:
    """Return the questions to one shop, with its own packets alone to open."""
    own = {sha256 for (sha256,) in ask(_OWN_PACKETS, [shop])}
    return tuple(
        replace(one, to_open=tuple(p for p in one.to_open if p.sha256 in own))
        for one in asked
        if one.shop == shop
    )


def _order(one: AskedOfShop) -> tuple[object, ...]:
    """Return what sorts questions: by shop, what is asked before what is watched."""
    return (by_name(one.shop), one.is_to_watch, one.screen, one.question)


def own_page(whole: Audit, shop: str) -> Audit:
    """Return what one shop sees of an audit: its own rows, and all shops together."""
    return replace(
        whole,
        title=f"How well repairs hold: {shop}",
        sections=tuple(
            _own_section(section, shop)
            for section in whole.sections
            if section.shop in {"", shop}
        ),
    )


def _own_section(section: Section, shop: str) -> Section:
    tables = []
    for table in section.tables:
        names = [column.name for column in table.columns]
        if "shop" not in names:
            if "vin" not in names:  # all shops' vehicles are no shop's to see
                tables.append(table)
            continue
        place = names.index("shop")
        rows = [row for row in table.rows if row[place] in {shop, "all shops"}]
        if "seen_by" in names:  # of other shops' orders it says that they are, no more
            by, theirs = names.index("seen_by"), {"seen_in", "seen_packet"}
            rows = [
                row
                if row[by] == shop
                else tuple(
                    "" if name in theirs else cell
                    for name, cell in zip(names, row, strict=True)
                )
                for row in rows
            ]
        tables.append(
            replace(table, rows=tuple(rows), is_for_files=len(rows) > MOST_LISTED)
        )
    return replace(
        section,
        sentences=tuple(
            sentence
            for sentence in section.sentences
            if not _NAMES_ANOTHER.search(sentence)
        ),
        tables=tuple(tables),
    )
