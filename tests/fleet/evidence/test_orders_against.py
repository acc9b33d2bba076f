"""Orders that speak against themselves, and how strong answers are."""

import pytest
from bench_rows import cells
from made_collection import Made
from statsmodels.stats.proportion import multinomial_proportions_confint

from auditkit.fleet.evidence.orders_against import orders_against
from auditkit.fleet.evidence.strengths import strengths
from auditkit.fleet.settings import Settings
from auditkit.order.strength import Strength


def test_contradicted_orders_and_those_that_claim_more():
    made = Made()
    made.order("Shop 1", verdict="contradicted", signed_verdict="contradicted")
    made.order(
        "Shop 2", verdict="unproven", signed_verdict="proven", is_overstated=True
    )
    made.order("Shop 3", verdict="unproven", signed_verdict="unproven")
    part = orders_against(made.ask(), Settings())
    assert [one.shop for one in part.asked] == ["Shop 1", "Shop 2"]
    assert (
        "Of 3 orders, contradicted by what they hold: 1; "
        in (part.section.sentences[0])
    )
    assert part.asked[0].question.startswith("In 1 order of Shop 1 the evidence ")
    assert part.asked[1].to_open[0].because == "judged unproven, signed as proven"


def test_a_fault_that_is_repaired_again_and_again():
    made = Made()
    for at in (0, 40, 80):
        made.fault(made.order("Shop 1", at=at, vin="VIN1"))
        made.fault(made.order("Shop 2", at=at, vin=None))
        made.fault(made.order(f"Shop {at}", at=at, vin="VIN3"))
    made.fault(made.order("Shop 1", at=90, vin="VIN1"), code="P0300")
    part = orders_against(made.ask(), Settings())
    (asked,) = part.asked
    assert (asked.shop, asked.measured["orders"]) == ("Shop 1", 3)


def test_strengths_have_goodmans_intervals():
    made = Made()
    counts = {
        "vehicle": 20,
        "measured": 5,
        "logged": 1,
        "photographed": 1,
        "typed": 3,
        "word": 4,
        "second-hand": 1,
    }
    order = made.order("Shop 1")
    for strength, number in counts.items():
        for _ in range(number):
            made.insert(
                "answer",
                order_id=order,
                question="fault-gone",
                subject="P0401@7E8",
                answer="shown",
                strength=strength,
            )
    made.insert(
        "answer", order_id=order, question="fault-gone", subject="x", answer="waiting"
    )
    part = strengths(made.ask(), Settings())
    rows = {row["strength"]: row for row in cells(part)}
    told = multinomial_proportions_confint(
        [counts.get(s.value, 0) for s in Strength], method="goodman"
    )
    for strength, (low, high) in zip(Strength, told, strict=True):
        if counts.get(strength.value):
            row = rows.pop(strength.in_words)
            assert row["answers"] == counts[strength.value]
            found = (row["low"] / 100, row["high"] / 100)
            assert found == pytest.approx((low, high), abs=1e-9)
    assert not rows
    assert part.section.sentences[0] == (
        "Of 35 questions about repairs that are answered, 71.4 in 100 are by the "
        "vehicle's own data or by a measurement, 11.4 in 100 as typed by hand, 14.3 in "
        "100 by somebody's word alone and 2.9 in 100 by the table of fault codes or "
        "by the log."
    )
    (shop,) = cells(part, 1)
    assert shop["word"] == pytest.approx(100 * 4 / 35)


def test_a_shop_with_few_answers_has_no_share():
    made = Made()
    made.insert(
        "answer",
        order_id=made.order("Shop 1"),
        question="fault-gone",
        subject="x",
        answer="shown",
        strength="word",
    )
    (row,) = cells(strengths(made.ask(), Settings()), 1)
    assert (row["answers"], row["word"]) == (1, None)


def test_nothing_shown_is_said():
    part = strengths(Made().ask(), Settings())
    assert part.section.sentences[0].startswith("No answer is shown")
    assert not part.section.charts
