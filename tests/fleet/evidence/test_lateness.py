"""How long after it happened events were written down."""

from datetime import timedelta

import numpy as np
import pytest
from bench_rows import asks, cells
from made_collection import Made, day, digest
from scipy import stats

from auditkit.fleet.evidence.late_tests import late_tests
from auditkit.fleet.evidence.lateness import lateness
from auditkit.fleet.settings import Settings


class Diary(Made):
    """A collection in which events are written down some minutes later."""

    def __init__(self):
        super().__init__()
        self.count = 0
        self.orders = {}

    def event(self, shop, minutes, kind="bench_test", recorded=None, **values):
        order = self.orders.get(shop)
        if order is None:
            order = self.orders[shop] = self.order(shop)
        self.count += 1
        at = day(0) + timedelta(hours=self.count)
        row = {
            "log_id": self._logs[shop],
            "seq": self.count,
            "order_id": order,
            "kind": kind,
            "happened_at": at,
            "recorded_at": recorded or at + timedelta(minutes=minutes),
            "leaf": digest(self.count),
            "root": digest("root", self.count),
            "packet_id": 1,
        }
        self.insert("event", **row | values)


def test_quantiles_have_the_ends_that_scipy_gives():
    made = Diary()
    minutes = [
        float(m) for m in np.random.default_rng(4).gamma(1.5, 20, size=60).round()
    ]
    for one in minutes:
        made.event("Shop 1", one)
    (row,) = cells(lateness(made.ask(), Settings()))
    for name, quantile in (("median", 0.5), ("ninety", 0.9)):
        told = stats.quantile_test(minutes, q=0, p=quantile).confidence_interval(0.95)
        assert row[name] == np.quantile(minutes, quantile, method="inverted_cdf")
        assert row[f"{name}_low"] == pytest.approx(told.low)
        assert row[f"{name}_high"] == pytest.approx(told.high)
    over = sum(m > 15 for m in minutes)
    assert row["over_minutes"] == pytest.approx(100 * over / 60)


def test_what_is_handed_over_together_stands_apart():
    made = Diary()
    for _ in range(5):
        made.event("Shop 1", 0, recorded=day(40))
    for _ in range(30):
        made.event("Shop 1", 2)
    ask = made.ask()
    (row,) = cells(lateness(ask, Settings()))
    assert (row["events"], row["handed_over"], row["over_hours"]) == (35, 5, 0)
    (row,) = cells(lateness(ask, Settings(batch_entries=6)))
    assert (row["handed_over"], row["over_hours"]) == (0, pytest.approx(100 * 5 / 35))


def test_times_from_outside_bound_what_is_claimed():
    made = Diary()
    made.event("Shop 1", 5, not_before=day(3), not_after=day(4))
    made.event("Shop 1", 5, kind="readout", not_after=day(-1))
    made.event("Shop 1", -90)
    (row,) = cells(lateness(made.ask(), Settings()))
    assert (row["bounded"], row["surely_late"], row["impossible"]) == (2, 1, 1)
    assert row["ahead"] == 1
    assert row["median"] is None  # three events are too few for a word on it


def test_an_event_after_an_outsider_saw_it_is_asked_about():
    made = Diary()
    made.event("Shop 1", 5, kind="readout", not_after=day(-1))
    made.event("Shop 2", 5)
    (asked,) = late_tests(made.ask(), Settings()).asked
    assert (asked.shop, asked.measured["events"]) == ("Shop 1", 1)
    assert asked.to_open[0].because == "its readout"


def test_a_shop_that_writes_tests_down_a_day_later_is_asked():
    made = Diary()
    for number in range(11):
        for event in range(30):
            made.event(f"Shop {number + 1}", 1500 if event == number else 5)
    for event in range(40):
        made.event("Shop 99", 1500 if event < 20 else 5)
        made.event("Shop 98", 1500, kind="repair")  # no bench test
    part = late_tests(made.ask(), Settings())
    assert [one.shop for one in part.asked] == ["Shop 99"]
    (asked,) = asks(part, "Shop 99")
    assert asked.measured == {"late": 20, "bench tests": 40}
    assert "25 hours later" in asked.to_open[0].because


def test_nothing_written_down_says_so():
    made = Diary()
    part = lateness(made.ask(), Settings())
    assert part.section.sentences[0].startswith("No event")
    assert not part.section.charts


def test_one_shop_alone_is_told_in_its_table_and_not_drawn():
    made = Diary()
    for _ in range(30):
        made.event("Shop 1", 1)
    assert not lateness(made.ask(), Settings()).section.charts
    for _ in range(30):
        made.event("Shop 2", 1)
    assert len(lateness(made.ask(), Settings()).section.charts) == 1


def test_no_shop_is_called_the_slowest_where_all_are_alike():
    made = Diary()
    for shop in ("Shop 1", "Shop 2", "Shop 3"):
        for _ in range(30):
            made.event(shop, 1)
    within = "90 of 100 events are written down within 1 minute"
    assert _told(made) == f"In all of the shops {within}."
    for _ in range(30):
        made.event("Shop 4", 240)
    assert _told(made) == (
        f"In half of the shops {within}; in the slowest, Shop 4, within 4 hours."
    )


def _told(made):
    (chart,) = lateness(made.ask(), Settings()).section.charts
    return chart.sentence
