"""What stands at two places at once, and holds that were cut short."""

from datetime import timedelta
from random import Random

import pytest
from bench_rows import Benches
from made_collection import day

from auditkit.fleet.evidence.at_once import at_once
from auditkit.fleet.evidence.cut_short import cut_short
from auditkit.fleet.settings import Settings


@pytest.fixture
def made():
    return Benches()


def _at(hours, minutes=0):
    return day(0) + timedelta(hours=hours, minutes=minutes)


def _test(made, order, start, end, shop="Shop 1", **values):
    made.test(
        shop,
        ("end pressure", "9.0"),
        order=order,
        starts_at=start,
        ends_at=end,
        **values,
    )


def _kinds(part):
    return sorted({row[0] for row in part.section.tables[0].rows})


def test_one_person_at_two_vehicles(made):
    # a long job spans several: each overlap is seen, not that with the neighbour alone
    long, first, last = (made.order("Shop 1", vin=f"VIN{n}") for n in range(3))
    _test(made, long, _at(1), _at(4), instrument="a")
    _test(made, first, _at(1, 10), _at(1, 20), instrument="b")
    _test(made, last, _at(3), _at(3, 30), instrument="c")
    part = at_once(made.ask(), Settings())
    assert _kinds(part) == ["one person at two vehicles at once"]
    rows = part.section.tables[0].rows
    assert sorted(row[-1] for row in rows) == [10, 30]
    (asked,) = part.asked
    assert asked.shop == "Shop 1"
    assert not any("person-1" in one.because for one in asked.to_open)
    assert "person-1" not in asked.question


@pytest.mark.parametrize(
    "values",
    [
        {"by_person": "person-2"},
        {"starts_at": _at(1, 55)},  # five minutes are no overlap yet
        {
            "starts_at": _at(1) + timedelta(days=1),
            "ends_at": _at(3) + timedelta(days=1),
        },
    ],
)
def test_no_overlap(made, values):
    one, other = (made.order("Shop 1", vin=f"VIN{n}") for n in range(2))
    _test(made, one, _at(1), _at(2), instrument="a")
    made.test(
        "Shop 1",
        ("end pressure", "9.0"),
        order=other,
        **{"starts_at": _at(1), "ends_at": _at(3), "instrument": "b"} | values,
    )
    assert not at_once(made.ask(), Settings()).asked


@pytest.mark.parametrize("seed", range(4))
def test_each_test_is_held_against_the_longest_at_another_vehicle(seed):
    """The oracle looks at every pair; as many lines as tests come out at most."""
    draw, made = Random(seed), Benches()
    orders = [made.order("Shop 1", vin=f"VIN{n % 5}") for n in range(7)]
    spans = []
    for which in range(60):
        begins, order = draw.randrange(0, 600), draw.randrange(7)
        spans.append((begins, begins + draw.randrange(1, 90), order))
        start, end, _ = spans[-1]
        _test(made, orders[order], _at(0, start), _at(0, end), instrument=str(which))
    wanted = []
    for begins, ends, order in spans:
        shared = [
            min(ends, other_ends) - begins
            for other_begins, other_ends, other in spans
            if other % 5 != order % 5 and (other_begins, other_ends) < (begins, ends)
        ]
        wanted += [max(shared)] if shared and max(shared) > 5 else []
    rows = at_once(made.ask(), Settings()).section.tables[0].rows
    assert sorted(row[-1] for row in rows) == sorted(wanted)


def test_many_that_all_overlap_are_as_many_lines(made):
    for n in range(400):
        order = made.order("Shop 1", vin=f"VIN{n}")
        _test(made, order, _at(1, n % 50), _at(9), instrument=str(n))
    (table,) = at_once(made.ask(), Settings()).section.tables
    assert len(table.rows) == 399


def test_one_instrument_at_two_vehicles(made):
    one, other = (made.order("Shop 1", vin=f"VIN{n}") for n in range(2))
    _test(made, one, _at(1), _at(2))
    _test(made, other, None, _at(2, 10), hold_s=1800, by_person="person-2")
    part = at_once(made.ask(), Settings())
    assert _kinds(part) == ["one instrument at two vehicles at once"]
    assert part.section.tables[0].rows[0][-1] == 20


def test_one_vehicle_at_two_shops(made):
    one = made.order("Shop 1", vin="VIN1")
    made.log("Shop 2")
    other = made.order("Shop 2", vin="VIN1")
    elsewhere = made.order("Shop 2", vin="VIN2")
    for order, log, hours in (
        (one, 1, (1, 5)),
        (other, 2, (4, 9)),
        (elsewhere, 2, (1,)),
    ):
        for hour in hours:
            made.recorded(0, log_id=log, order_id=order, happened_at=_at(hour))
    part = at_once(made.ask(), Settings())
    assert [one.shop for one in part.asked] == ["Shop 1", "Shop 2"]
    assert part.section.tables[0].rows[0][-1] == 60


def test_holds_that_were_cut_short(made):
    order = made.order("Shop 1", vin="VIN1", closed_at=day(0) + timedelta(hours=8))
    _test(made, order, _at(1), _at(1, 5), hold_s=360.0)  # to the minute: it may be
    _test(made, order, _at(2), _at(2, 5), hold_s=361.0)
    part = cut_short(made.ask(), Settings())
    (asked,) = part.asked
    assert asked.measured == {"times": 1}
    assert part.section.tables[0].rows == (
        ("Shop 1", "RO-1", "vacuum hold", 361.0, 300),
    )
    assert "361 s claimed, 300 s" in asked.to_open[0].because


def test_holds_longer_than_the_order(made):
    order = made.order("Shop 1", vin="VIN1", closed_at=day(0) + timedelta(minutes=20))
    for _ in range(3):
        _test(made, order, None, _at(1), hold_s=600.0)
    (row,) = cut_short(made.ask(), Settings()).section.tables[0].rows
    assert row == ("Shop 1", "RO-1", "all holds of the order", 1800.0, 1200)
