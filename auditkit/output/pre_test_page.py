"""The record before an inspection as a page (HTML) to read and to print on A4."""

from __future__ import annotations

from html import escape
from itertools import groupby
from typing import TYPE_CHECKING

from auditkit.inspection.jurisdiction import InspectionAnswer
from auditkit.inspection.pre_test import DEFERS
from auditkit.output.beside_lines import (
    SHORT,
    beside_answer,
    not_of_today,
    verdict_lines,
)
from auditkit.output.html_table import bullets, pair_table, wide_table
from auditkit.output.paper_page import paper_page
from auditkit.output.pre_test_lines import (
    FROM_THE_READOUT,
    SAID,
    answer_line,
    decisive,
    facts,
    module_facts,
    reading_name,
    what_helps,
)
from auditkit.text.display_text import first_large

if TYPE_CHECKING:
    from auditkit.inspection.beside_packet import BesidePacket
    from auditkit.inspection.pre_test import PreTest, RuleResult

_COLUMNS = ("What was asked", "Answer", "Where it stands", "What to do")
_SAYS = {**SAID, InspectionAnswer.ACCEPT: "good"}


def pre_test_page(found: PreTest) -> str:
    """Return the page: the answers, what to do, why, and the record."""
    rules = [list(g) for _, g in groupby(found.results, key=lambda r: r.rules)]
    to_do, first = what_helps(found), not_of_today(found.beside)
    answers = "".join(
        f'<p class="answer">{escape(answer_line(results))}</p>'
        + (f"<p>Because:</p>{bullets(why)}" if (why := decisive(results)) else "")
        for results in rules
    )
    modules = [
        pair_table(first_large(module.name), module_facts(module))
        for module in found.modules
    ]
    return paper_page(
        "Before the inspection",
        [
            "<h1>Before the inspection: what a station would see</h1>",
            f'<p class="answer">{escape(first)}</p>' if first else "",
            answers,
            f"<h2>What to do</h2>{bullets(to_do)}" if to_do else "",
            f"<p>{escape(DEFERS)}</p>" if rules else "",
            "" if found.beside is None else _beside(found.beside),
            "" if rules else f"<p>No rules were asked. {escape(DEFERS)}</p>",
            *(_rules(result) for result in found.results),
            "<section><h2>The record</h2>",
            pair_table("Readout and vehicle", facts(found)),
            *(modules or ["<p>No module answered.</p>"]),
            f"<h3>What a station may notice</h3>{bullets(found.marks)}",
            "</section>",
        ],
    )


def _beside(found: BesidePacket) -> str:
    rows = [(line.text, SHORT[line.standing], line.what_to_do) for line in found.lines]
    columns = ("What was compared", "What it says", "What to do")
    held = f"Held against {found.hand_over.place}."
    return (
        f"<h2>{escape(beside_answer(found))}</h2>"
        f"<p>{escape(' '.join([held, *verdict_lines(found)]))}</p>"
        f"{wide_table('Beside the packet', columns, rows, 'conditions')}"
    )


def _rules(result: RuleResult) -> str:
    name = f"{result.title}, {reading_name(result)}: {SAID[result.answer]}"
    rows = [
        (
            reason.text,
            _SAYS[reason.answer],
            str(reason.source) if reason.source else FROM_THE_READOUT,
            reason.what_to_do,
        )
        for reason in result.reasons
    ]
    wide = len(_COLUMNS) if any(row[-1] for row in rows) else len(_COLUMNS) - 1
    cells = [row[:wide] for row in rows]
    columns, look = _COLUMNS[:wide], "conditions"
    table = wide_table("Condition by condition", columns, cells, look)
    note = f"<p>{escape(result.note)}</p>" if result.note else ""
    return (
        f"<h2>{escape(name)}</h2><p>It rests on {escape(str(result.source))}.</p>"
        f"{table}{note}"
    )
