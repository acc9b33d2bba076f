"""Invented fleets: planted shops are asked about, honest ones hardly ever.

Bounds, not rates: ``tests/benchmarks/fleets.py`` prints those over many fleets.
"""

import pytest
import sampling
from fleet_trial import SCREENS, TWO_OF_THREE, plan, trial
from fleets import Plan, invented

from auditkit.fleet.evidence.measures import MEASURES
from auditkit.fleet.evidence.near_limit import near_limits
from auditkit.fleet.settings import Settings


def smaller(shops):
    """Return a plan's numbers of shops and of odd ones, halved beside the work."""
    some = sampling.count(shops, shops, 2)
    return {"shops": some, "coarse": 15 * some // shops, "evening": 8 * some // shops}


@pytest.fixture(scope="module")
def much_invented():
    return trial(11, plan(0.6, copied=0.25, **smaller(60)), with_outcomes=True)


def test_every_planted_shop_is_asked_about(much_invented):
    for name in (*SCREENS, TWO_OF_THREE, "late shop"):
        told = much_invented[name]
        assert told.found == told.planted == 1, name
        assert told.others <= 1, name
    assert much_invented[TWO_OF_THREE].others == 0


def test_bad_repairs_are_watched(much_invented):
    # nine of ten such shops are; the others have been lucky
    assert much_invented["more comebacks, watch"].found >= 1
    assert much_invented["more comebacks, watch"].others <= 5


def test_little_that_is_invented_mostly_passes():
    told = trial(11, plan(0.1, copied=0.05, **smaller(60)))
    assert (told[TWO_OF_THREE].found, told[TWO_OF_THREE].others) == (0, 0)
    assert told["equal records"].found == 1


def test_an_honest_fleet_is_asked_next_to_nothing():
    fleet = invented(13, Plan(**smaller(40), bad=0, invented=0, answers=True))
    ask = fleet.ask()
    parts = {measure.__name__: measure(ask, Settings()) for measure in MEASURES}
    assert all(part.section.sentences for part in parts.values())
    asked = {name: len(part.asked) for name, part in parts.items() if part.asked}
    # a shop that is late by nature, at three times what is usual, is asked honestly
    assert asked.pop("late_tests", 0) <= 3
    assert not asked


@pytest.fixture(scope="module")
def one_forked():
    return invented(14, Plan(shops=14, coarse=2, evening=1, forked=1, undelivered=1))


def test_a_forked_log_is_left_out_unless_asked_for(one_forked):
    (forked,) = one_forked.planted["forked"]
    held = near_limits(one_forked.ask(), Settings()).section.tables[0].rows
    assert forked not in {row[0] for row in held}
    assert len({row[0] for row in held}) == 13
    settings = Settings(with_forked=True)
    held = near_limits(one_forked.ask(settings), settings).section.tables[0].rows
    assert forked in {row[0] for row in held}


def test_a_shop_that_sends_three_fifths_is_not_compared(one_forked):
    found = one_forked.ask()("SELECT shop FROM shop_log WHERE NOT is_compared")
    assert {shop for (shop,) in found} == one_forked.planted["undelivered"]


def test_the_same_seed_makes_the_same_fleet():
    rows = (
        "SELECT order_id, quantity, place, value_text FROM bench_reading ORDER BY ALL",
        "SELECT * FROM event ORDER BY log_id, seq",
    )
    small = Plan(shops=5, coarse=1, evening=1, handed_over=1, bad=0)
    one, other, third = (invented(s, small).ask() for s in (3, 3, 4))
    for sql in rows:
        assert one(sql) == other(sql)
        assert one(sql) != third(sql)
