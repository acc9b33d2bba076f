"""Which logs and orders count: of known keys, with one history."""

import pytest
from made_collection import Made, day

from auditkit.fleet import counted
from auditkit.fleet.delivery.delivered import delivered
from auditkit.fleet.delivery.logs import of_shop, read_logs
from auditkit.fleet.first_page import shop_by_shop
from auditkit.fleet.outcomes.standings import read_standings
from auditkit.fleet.settings import Settings


@pytest.fixture
def made():
    made = Made()
    made.order("Shop 1")
    made.log("Shop 2", is_forked=True)
    made.order("Shop 2")
    made.log(None, is_trusted=False, origin="stranger.example")
    made.order(log_id=3)
    return made


COUNTED = "SELECT shop FROM counted_order ORDER BY order_id"


def test_forked_logs_and_unknown_keys_are_left_out(made):
    assert made.ask()(COUNTED) == [("Shop 1",)]


def test_forked_logs_count_where_that_is_asked(made):
    assert made.ask(Settings(with_forked=True))(COUNTED) == [("Shop 1",), ("Shop 2",)]


def test_without_a_list_of_keys_every_log_counts_by_its_origin():
    made = Made(keys_given=False)
    made.log(None, is_trusted=False, origin="one.example")
    made.log(None, is_trusted=False, origin="two.example")
    made.log(None, is_trusted=False, origin="two.example")
    for log_id in (1, 2, 3):
        made.order(log_id=log_id)
    assert made.ask()(COUNTED) == [
        ("one.example",),
        ("two.example key-2",),
        ("two.example key-3",),
    ]


def test_orders_from_outside_the_days_of_a_key_are_left_out():
    made = Made()
    made.order("Shop 1")
    made.order("Shop 1", key_is="outside its dates")
    ask = made.ask()
    assert ask(COUNTED + " LIMIT 2") == [("Shop 1",)]
    said = delivered(ask, Settings()).section.sentences
    assert any(one.startswith("1 repair order left out: from outside") for one in said)
    standings = read_standings(ask, Settings())
    (table,) = shop_by_shop(ask, Settings(), (), standings, of_shop(read_logs(ask)))
    (row,) = table.rows
    assert row[:2] == ("Shop 1", 1), "a row counts what the sentences count"


def test_a_stranger_by_the_name_of_a_shop_is_not_that_shop():
    made = Made()
    made.log("garage.example")
    stranger = made.log(None, is_trusted=False, origin="garage.example")
    made.order(log_id=1)
    made.order(log_id=stranger)
    packets = {"first_packet_id": 2, "second_packet_id": 2}
    made.insert("conflict", kind="fork", log_id=stranger, sentence="two", **packets)
    asked = delivered(made.ask(), Settings()).asked
    assert "garage.example" not in {one.shop for one in asked}


def test_coverage_is_of_all_logs_of_a_shop():
    made = Made()
    made.log("Shop 1", entries_delivered=100)
    made.log("Shop 1", entries_delivered=70)
    made.log("Shop 2", entries_delivered=90)
    asked = made.ask()(
        "SELECT log_id, entries_delivered, largest_size, is_compared "
        "FROM shop_log ORDER BY log_id"
    )
    assert asked == [(1, 170, 200, False), (2, 170, 200, False), (3, 90, 100, True)]


def test_a_logs_own_entries_make_up_for_no_order_that_is_not_here():
    made = Made()
    log_id = made.log("Shop 1", entries_delivered=95, largest_size=100)
    ask = "SELECT is_compared FROM shop_log"
    assert made.ask()(ask) == [(True,)]
    for _ in range(80):
        made.recorded(1, "Shop 1", kind="person_enrolled", order_id=None)
    assert log_id == 1
    assert made.ask()(ask) == [(False,)]


def test_one_long_order_makes_up_for_none_that_is_not_here():
    """A shop writes what it likes into one order, and holds others back."""
    made = Made()
    made.log("Shop 1", entries_delivered=240, largest_size=250)
    ask = "SELECT is_compared FROM shop_log"
    for _ in range(3):
        order_id = made.order(log_id=1)
        for _ in range(10):
            made.recorded(1, "Shop 1", order_id=order_id)
    assert made.ask()(ask) == [(True,)]
    filler = made.order(log_id=1)
    for _ in range(210):
        made.recorded(1, "Shop 1", order_id=filler)
    # 30 of three orders and 30 of the long one stand against 10 that are missing.
    assert made.ask()(ask) == [(False,)]


def test_the_cut_off_is_the_last_counted_record(made):
    made.recorded(3, "Shop 1")
    made.recorded(9, "Shop 2")
    assert made.ask()("SELECT moment FROM cut_off") == [(day(3),)]


def test_a_clock_that_is_ahead_moves_no_cut_off(made):
    made.insert("run", run_id=1, started=day(2), program="0")
    made.recorded(400, "Shop 1")
    assert made.ask()("SELECT moment FROM cut_off") == [(day(2),)]


def test_other_shops_have_names_that_tell_nothing(made):
    for number in range(3, 30):
        made.order(f"Shop {number}")
    own = made.connection
    for sql, values in counted.statements(Settings(), "Shop 1"):
        own.execute(sql, list(values))
    seen = own.execute("SELECT DISTINCT shop, origin FROM shop_log").fetchall()
    assert len(seen) == 30
    assert ("Shop 1", "shop1.example") in seen
    assert all(
        shop.startswith("another shop ") and origin == shop
        for shop, origin in seen
        if shop != "Shop 1"
    )
    # Their order is not that of the names.
    by_log = own.execute("SELECT shop FROM shop_log ORDER BY log_id").fetchall()
    numbers = [int(shop.split()[-1]) for (shop,) in by_log[1:]]
    assert numbers != sorted(numbers)
