"""How strong the answers are, by question and by shop."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from auditkit.fleet.audited import (
    Bars,
    Cell,
    Chart,
    Column,
    Scale,
    Section,
    Table,
    interval,
)
from auditkit.fleet.evidence.wording import SHOP
from auditkit.fleet.part import Ask, Part
from auditkit.fleet.phrases import by_name, counted, in_100, listed, percent
from auditkit.fleet.settings import Settings
from auditkit.fleet.statistics.shares import simultaneous_shares
from auditkit.order.questions import Question
from auditkit.order.strength import Strength

_COUNTS = """
    SELECT question, shop, coalesce(strength, 'word'), count(*)
    FROM answer a JOIN counted_order o USING (order_id)
    WHERE a.answer = 'shown' GROUP BY ALL ORDER BY ALL"""
_KINDS = tuple(Strength)
_SOURCES = (  # every strength once, so that the shares of a sentence make 100
    (
        (Strength.VEHICLE, Strength.MEASURED),
        "are by the vehicle's own data or by a measurement",
    ),
    ((Strength.PHOTOGRAPHED, Strength.TYPED), "as typed by hand"),
    ((Strength.WORD, Strength.SECOND_HAND), "by somebody's word alone"),
    ((Strength.TABLE, Strength.LOGGED), "by the table of fault codes or by the log"),
)


def strengths(ask: Ask, settings: Settings) -> Part:
    """Say of how many shown answers each strength is. No measure of the repair."""
    by_question: dict[str, Counter[str]] = {}
    by_shop: dict[str, Counter[str]] = {}
    for question, shop, strength, number in ask(_COUNTS):
        by_question.setdefault(question, Counter())[strength] += number
        by_shop.setdefault(shop, Counter())[strength] += number
    questions = [q for q in Question if q in by_question]
    section = Section(
        "strengths",
        "How strong the evidence is",
        (
            _sentence(by_question),
            "It says how well a repair is shown, not how good it is.",
        ),
        (
            _by_question([(q.phrase, by_question[q]) for q in questions]),
            _by_shop(by_shop, settings),
        ),
        (_chart([(q.phrase, by_question[q]) for q in questions]),) if questions else (),
    )
    return Part(section)


def _sentence(by_question: dict[str, Counter[str]]) -> str:
    whole = sum(by_question.values(), Counter[str]())
    if not whole.total():
        return "No answer is shown: there is nothing whose strength could be told."
    told = [
        f"{in_100(sum(whole[s] for s in kinds) / whole.total())} {by}"
        for kinds, by in _SOURCES
    ]
    return (
        f"Of {counted(whole.total(), 'question')} about repairs that are answered, "
        f"{listed(told)}."
    )


def _by_question(told: Sequence[tuple[str, Counter[str]]]) -> Table:
    columns = (
        Column("question", "Question"),
        Column("strength", "Strength"),
        Column("answers", "Shown"),
        Column("share", "Share", "%", 1),
        *interval(""),
    )
    rows: list[tuple[Cell, ...]] = []
    for phrase, counts in told:
        numbers = [counts[s] for s in _KINDS]
        ends = simultaneous_shares(numbers)
        rows += [
            (phrase, s.in_words, n, *map(percent, (n / counts.total(), low, high)))
            for s, n, (low, high) in zip(_KINDS, numbers, ends, strict=True)
            if n
        ]
    return Table(
        "strengths-by-question",
        "Strength of what is shown, by question",
        columns,
        tuple(rows),
        "Intervals (Goodman 1965) hold for all strengths of a question together, at "
        "95 %.",
    )


def _by_shop(by_shop: dict[str, Counter[str]], settings: Settings) -> Table:
    columns = (
        SHOP,
        Column("answers", "Shown"),
        *(Column(str(s), s.in_words, "%", 1) for s in _KINDS),
    )
    rows = []
    for shop in sorted(by_shop, key=by_name):
        counts = by_shop[shop]
        total = counts.total()
        enough = total >= settings.least_for_rate
        shares = [100 * counts[s] / total if enough else None for s in _KINDS]
        rows.append((shop, total, *shares))
    return Table(
        "strengths-by-shop",
        "Strength of what is shown, by shop",
        columns,
        tuple(rows),
        f"An empty cell: fewer than {settings.least_for_rate} answers, too few.",
    )


def _chart(told: Sequence[tuple[str, Counter[str]]]) -> Chart:
    weakest = max(told, key=lambda one: one[1][Strength.WORD] / one[1].total())
    return Chart(
        "strengths-by-question",
        "Strength of what is shown, by question",
        f'The shop\'s word stands most often behind "{weakest[0]}": '
        f"{in_100(weakest[1][Strength.WORD] / weakest[1].total())} answers.",
        Scale("question"),
        Scale("share of the answers that are shown (%)", 0, 100),
        bars=Bars(
            tuple(phrase for phrase, _ in told),
            tuple(s.in_words for s in _KINDS),
            tuple(
                tuple(100 * counts[s] / counts.total() for s in _KINDS)
                for _, counts in told
            ),
        ),
    )
