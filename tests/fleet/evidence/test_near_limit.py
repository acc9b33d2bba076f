"""Readings just beyond a limit, against the other shops with the same test."""

import pytest
from bench_rows import Benches, asks, cells
from fleet_columns import INHG
from scipy import stats

from auditkit.fleet.evidence.near_limit import near_limits
from auditkit.fleet.settings import Settings

LIMIT = {"low_si": 15 * INHG}


def _readings(made, shop, just, far, **values):
    for number in range(just + far):
        text = "14.3" if number < just else "6.0"
        made.test(shop, ("end pressure", text), **LIMIT | values)


@pytest.fixture
def made():
    made = Benches()
    for number in range(11):
        _readings(made, f"Shop {number + 1}", 5 + number % 3, 50)
    return made


def test_a_shop_that_gathers_is_asked_and_no_other(made):
    _readings(made, "Shop 99", 26, 34)
    part = near_limits(made.ask(), Settings())
    (asked,) = part.asked
    assert asked.shop == "Shop 99"
    assert asked.measured == {"just beyond": 26, "readings": 60}
    assert asked.peers["shops"] == 11
    assert len(asked.to_open) == 1
    assert (
        asked.to_open[0].sha256
        == made.connection.execute(
            "SELECT lower(hex(sha256)) FROM packet WHERE order_no = ?",
            [asked.to_open[0].repair_order],
        ).fetchone()[0]
    )
    assert "26 of 60" in asked.question
    assert asked.honest_reasons
    hits = sum(5 + n % 3 for n in range(11))
    share = (hits + 0.5) / (hits + 550 + 1)
    assert asked.peers["share"] == pytest.approx(share, abs=1e-4)
    assert stats.binom.sf(25, 60, share) < 1e-9


def test_what_lies_in_the_window(made):
    # two steps of the coarsest gauge, .5, make a window of 1.0: (14.0 to below 15.0)
    made.test("Shop 99", ("end pressure", "6.0"), **LIMIT, resolution=0.5)
    for text in ("15.0", "13.9", "14.0", "14.9", "15.1"):
        made.test("Shop 99", ("end pressure", text), **LIMIT)
    bound = {"quantity": "end pressure", "value_text": "14.5", "bound": "below"}
    made.test("Shop 99", bound, **LIMIT)
    made.test("Shop 99", ("end pressure", "14.5"), **LIMIT, of_part="new")
    twice = ("end pressure", "14.5")
    made.test("Shop 99", twice, twice, **LIMIT)
    row = [
        r for r in cells(near_limits(made.ask(), Settings())) if r["shop"] == "Shop 99"
    ]
    assert [(r["just_beyond"], r["readings"], r["asks"]) for r in row] == [
        (3, 8, "too few")
    ]
    assert row[0]["share"] is None
    assert row[0]["limit"] == "at least 15 inHg"


def test_above_an_upper_limit_too():
    made = Benches()
    limit = {"high_si": 0.2, "unit": "V", "resolution": 0.001, "test_kind": "drop"}
    for text in ("0.200", "0.201", "0.210", "0.211", "0.190"):
        reading = {"quantity": "drop", "value_text": text, "value_si": float(text)}
        made.test("Shop 1", reading, **limit)
    (row,) = cells(near_limits(made.ask(), Settings()))
    # 5 % of the limit, .01, is more than two steps
    assert (row["just_beyond"], row["readings"]) == (2, 5)
    assert row["limit"] == "at most 0.2 V"


def test_too_few_peers_say_nothing():
    made = Benches()
    for number in range(10):
        _readings(made, f"Shop {number + 1}", 5, 45)
    _readings(made, "Shop 98", 25, 24)  # 49 readings are too few to be a peer
    part = near_limits(made.ask(), Settings())
    assert not part.asked
    assert {row["asks"] for row in cells(part)} == {"too few"}
    assert part.section.sentences[0].startswith("There is too little")


def test_another_limit_is_another_comparison(made):
    _readings(made, "Shop 99", 26, 34, low_si=14.9 * INHG)
    part = near_limits(made.ask(), Settings())
    assert not asks(part, "Shop 99")
