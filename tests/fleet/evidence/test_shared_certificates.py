"""Certificates that several shops name: one question, told once."""

from dataclasses import replace
from datetime import date

import pytest
from bench_rows import Benches, cells

from auditkit.cli.audit_lines import question_lines
from auditkit.fleet.audited import Audit, told_once
from auditkit.fleet.evidence.shared_certificates import shared_certificates
from auditkit.fleet.report.told import Answer, Grid, Said, told
from auditkit.fleet.settings import Settings


@pytest.fixture
def part():
    made = Benches()
    named = [(shop, "C-2026-1") for shop in ("Shop 1", "Shop 1", "Shop 2", "Shop 10")]
    named += [("Shop 1", "C-2026-2"), ("Shop 2", "C-2026-3"), ("Shop 1", "n/a")]
    named += [("Shop 2", "n/a")]
    for shop, certificate in named:
        order = made.order(shop)
        made.insert(
            "instrument",
            log_id=1,
            instrument="gauge",
            order_id=order,
            has_specification=True,
            certificate=certificate,
            used_on=date(2026, 1, 1),
        )
    return shared_certificates(made.ask(), Settings())


def test_all_that_name_it_are_asked_the_same(part):
    assert [one.shop for one in part.asked] == ["Shop 1", "Shop 2", "Shop 10"]
    assert {one.question for one in part.asked} == {
        (
            "Calibration certificate C-2026-1 is named by Shop 1, Shop 2 and Shop 10. "
            "Whose is it?"
        )
    }
    assert part.asked[1].also == ("Shop 1", "Shop 10")
    assert [row["order"] for row in cells(part)] == ["RO-1", "RO-3", "RO-4"]
    said = [one.because for one in part.asked[0].to_open]
    assert said == [f"certificate C-2026-1, at Shop {n}" for n in (1, 2, 10)]


def test_it_is_told_once_at_a_terminal(part):
    lines = list(question_lines(part.asked))
    (line,) = [one for one in lines if "Whose is it?" in one]
    assert line.startswith("Shop 1, Shop 2 and Shop 10, one certificate at several")
    assert sum("an honest reason may be" in one for one in lines) == 1


def test_the_first_page_counts_it_once(part):
    asked = [*part.asked, *(replace(one, also=()) for one in part.asked)]
    assert [len(same) for same in told_once(asked)] == [3, 1, 1, 1]


def test_what_it_rests_on_stands_once_and_each_shop_can_answer(part):
    blocks = told(Audit("An audit", (part.section,), part.asked))
    grids = [one for one in blocks if isinstance(one, Grid)]
    assert sum(one.caption == "Packets to open" for one in grids) == 1
    assert sum(isinstance(one, Answer) for one in blocks) == 3
    said = [one.text for one in blocks if isinstance(one, Said)]
    assert said.count("The same as of Shop 1: what it rests on stands there.") == 2
