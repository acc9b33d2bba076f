"""Repeated readings that agree."""

import pytest
from bench_rows import Benches, cells

from auditkit.fleet.evidence.repeats_alike import repeats_alike
from auditkit.fleet.settings import Settings


def _sets(made, shop, equal, unequal):
    for number in range(equal + unequal):
        base = 10 + number % 9
        texts = (
            [f"{base}.2"] * 3 if number < equal else [f"{base}.{d}" for d in (1, 2, 4)]
        )
        made.test(shop, *(("resistance", text) for text in texts))


@pytest.fixture
def made():
    made = Benches()
    for number in range(11):
        _sets(made, f"Shop {number + 1}", 6 + number % 4, 44)
    return made


def test_a_shop_without_spread_is_asked(made):
    _sets(made, "Shop 99", 50, 2)
    (asked,) = repeats_alike(made.ask(), Settings()).asked
    assert asked.shop == "Shop 99"
    assert asked.measured["all equal"] == 50
    # deviation of (.1, .2, .4): .1528; in 44 sets of about 51.4
    assert asked.peers["standard deviation"] == pytest.approx(0.1528 * 0.925, rel=0.01)
    assert asked.measured["standard deviation"] < 0.04
    assert asked.peers["chance of one so small"] == "below 1 in a million"
    assert 0 < asked.peers["share that such a deviation makes equal"] < 0.2


def test_other_steps_are_another_comparison(made):
    for number in range(60):
        made.test(
            "Shop 98", *[("resistance", f"{number % 5 + 4}.5")] * 3, resolution=0.5
        )
    part = repeats_alike(made.ask(), Settings())
    assert not part.asked
    row = next(r for r in cells(part) if r["shop"] == "Shop 98")
    assert (row["equal"], row["sets"], row["asks"]) == (60, 60, "too few")
