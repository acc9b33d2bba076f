"""Odometers that do not fit: mistakes of writing are told first."""

from datetime import timedelta

import pytest
from bench_rows import asks, cells
from made_collection import Made, day

from auditkit.fleet.evidence.odometers import Visit, explained, fits, odometers
from auditkit.fleet.settings import Settings


def _visit(km, days=0, text=None):
    at = day(0) + timedelta(days=days)
    return Visit("Shop", 1, "RO-1", at, float(km), text or f"{km} km")


@pytest.mark.parametrize(
    ("before", "after", "told"),
    [
        # 1 mi = 1.609344 km, exactly: 100,000 km is 62,137 mi
        (_visit(100_000), _visit(62_500, 20), "miles in place of kilometres?"),
        (_visit(152_300), _visit(125_400, 5), "two digits of the later"),
        (_visit(98_000), _visit(91_500, 30), "two digits of the earlier"),
        (_visit(150_000), _visit(111_111, 30), ""),
        (_visit(0), _visit(50_000, 3), ""),
    ],
)
def test_what_would_explain_it(before, after, told):
    assert not fits(before, after, 2000)
    found = explained(before, after)
    assert found.startswith(told) if told else not found


def test_what_fits():
    assert fits(_visit(1000), _visit(1000), 2000)
    assert fits(_visit(1000), _visit(998, 3), 2000)
    assert fits(_visit(1000), _visit(2999), 2000)
    assert not fits(_visit(1000), _visit(3001), 2000)
    assert not fits(_visit(1000), _visit(997, 3), 2000)
    assert fits(_visit(1000), _visit(10_000, 5), 2000)


def test_only_what_nothing_explains_is_asked_of_both_shops():
    made = Made()

    def visit(shop, vin, at, km):
        text = f"{km} km"
        made.order(shop, at=at, vin=vin, odometer_m=km * 1000, odometer_text=text)

    visit("Shop 1", "VIN1", 0, 150_000)
    visit("Shop 2", "VIN1", 30, 111_111)
    visit("Shop 3", "VIN2", 0, 100_000)
    visit("Shop 3", "VIN2", 30, 62_500)
    visit("Shop 4", "VIN3", 0, 100_000)
    visit("Shop 4", "VIN3", 30, 104_000)
    part = odometers(made.ask(), Settings())
    assert [one.shop for one in part.asked] == ["Shop 1", "Shop 2"]
    assert len(asks(part, "Shop 1")[0].to_open) == 2
    assert asks(part, "Shop 1")[0].question.startswith("For 1 vehicle of Shop 1 the ")
    assert [(row["shop"], row["seen_by"], row["explained"]) for row in cells(part)] == [
        ("Shop 1", "Shop 2", "nothing"),
        ("Shop 2", "Shop 1", "nothing"),
        ("Shop 3", "Shop 3", "miles in place of kilometres?"),
    ]


def test_none_at_all():
    part = odometers(Made().ask(), Settings())
    assert part.section.sentences[0].startswith("No odometer")
