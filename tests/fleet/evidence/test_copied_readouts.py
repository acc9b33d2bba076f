"""Readouts that stand in two records."""

import pytest
from bench_rows import asks, cells
from made_collection import Made, day, digest

from auditkit.fleet.evidence.copied_readouts import copied_readouts
from auditkit.fleet.settings import Settings


def _readout(made, order, answers, whole=None, **values):
    seq = made.connection.execute("SELECT count(*) FROM readout").fetchall()[0][0]
    made.insert(
        "readout",
        order_id=order,
        log_id=1,
        seq=seq,
        captured=day(seq),
        is_typed=False,
        answered_sha256=digest(whole or seq),
        less_marks_sha256=digest(answers),
        **{"varying_bits": 200.0} | values,
    )


@pytest.fixture
def made():
    return Made()


def test_it_points_at_both_shops(made):
    here = made.order("Shop 1", vin="VIN1", order_no="A-1")
    there = made.order("Shop 2", vin="VIN2", order_no="B-1")
    other = made.order("Shop 3", vin="VIN3")
    _readout(made, here, "same")
    _readout(made, there, "same")
    _readout(made, other, "its own")
    part = copied_readouts(made.ask(), Settings())
    assert [one.shop for one in part.asked] == ["Shop 1", "Shop 2"]
    for shop in ("Shop 1", "Shop 2"):
        (asked,) = asks(part, shop)
        assert [one.repair_order for one in asked.to_open] == ["A-1", "B-1"]
    assert "not said which" in part.section.sentences[0]
    assert {row["how"] for row in cells(part)} == {"of several vehicles"}


def test_answers_with_little_in_them_are_no_copies(made):
    # freshly cleared modules answer alike
    for number in range(5):
        order = made.order("Shop 1", vin=f"VIN{number}")
        _readout(made, order, "nothing", varying_bits=59.9)
    part = copied_readouts(made.ask(), Settings())
    assert not part.asked
    assert "None of them" in part.section.sentences[0]


def test_one_readout_at_two_visits_of_one_vehicle(made):
    first = made.order("Shop 1", vin="VIN1")
    second = made.order("Shop 1", at=90, vin="VIN1")
    _readout(made, first, "same", whole="whole")
    _readout(made, second, "same", whole="whole")
    (asked,) = copied_readouts(made.ask(), Settings()).asked
    assert asked.measured == {"readouts": 1, "orders": 2}


def test_the_counters_moved_between_visits(made):
    # all but the counters is alike, as it may be of one vehicle
    _readout(made, made.order("Shop 1", vin="VIN1"), "same")
    _readout(made, made.order("Shop 1", at=90, vin="VIN1"), "same")
    assert not copied_readouts(made.ask(), Settings()).asked


@pytest.mark.parametrize(("later", "is_one"), [("7E8 414e02aa", True), ("", False)])
def test_a_kilometre_more_while_its_minutes_stood_still(made, later, is_one):
    first, second = (made.order("Shop 1", at=at, vin="VIN1") for at in (0, 90))
    _readout(made, first, "same", minutes="7E8 414e02aa")
    _readout(made, second, "same", minutes=later or "7E8 414e02ab")
    part = copied_readouts(made.ask(), Settings())
    assert [one.measured for one in part.asked] == [{"readouts": 1, "orders": 2}] * (
        is_one
    )


def test_twice_in_one_order_is_one_record(made):
    order = made.order("Shop 1", vin="VIN1")
    _readout(made, order, "same", whole="whole")
    _readout(made, order, "same", whole="whole")
    assert not copied_readouts(made.ask(), Settings()).asked


def test_a_withheld_vin_is_counted_out_and_said(made):
    _readout(made, made.order("Shop 1", vin=None), "same")
    _readout(made, made.order("Shop 2", vin="VIN2"), "same")
    part = copied_readouts(made.ask(), Settings())
    assert not part.asked
    assert part.section.sentences[0].startswith("Of 2 readouts 1 hold")
