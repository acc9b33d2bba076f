"""The whole audit: every measure once, its first page, its method, its pseudonyms."""

from collections import Counter
from dataclasses import fields
from itertools import pairwise

from made_collection import Made, day

from auditkit.fleet.asking import Asked, prepared
from auditkit.fleet.audit import Told, audit
from auditkit.fleet.exported import all_tables
from auditkit.fleet.method import MISSES, method
from auditkit.fleet.settings import Settings
from auditkit.fleet.vehicles import InView


def made():
    collection = Made()
    for number in (1, 2):
        for n in range(3):
            collection.fault(
                collection.order(f"Shop {number}", at=n, vin=f"V{number}{n}")
            )
    collection.recorded(100)
    collection.insert("run", run_id=1, started=day(101), program="x")
    return collection.connection


def whole(asked=None, **told):
    asked = asked or Asked()
    return audit(prepared(made(), asked), Told(asked.settings, **told))


def test_tables_are_named_apart():
    names = Counter(table.name for table in all_tables(whole()))
    assert max(names.values()) == 1


def test_the_first_page_has_a_row_for_each_shop():
    first = whole().sections[0]
    assert first.name == "first_page"
    (table,) = first.tables
    assert [row[0] for row in table.rows] == ["Shop 1", "Shop 2"]


def named_by_nobody():
    collection = Made()
    for origin, claimed in (("log-1", "One"), ("log-2", "One"), ("log-3", None)):
        log = collection.log(None, origin=origin, shop_claimed=claimed)
        collection.fault(collection.order(at=1, vin=origin, log_id=log))
    listed = collection.log("Listed", shop_claimed="One")
    collection.fault(collection.order(vin="V4", log_id=listed))
    collection.recorded(100, shop="Listed")
    return collection.connection


def test_a_shop_that_no_list_names_stands_with_what_it_calls_itself():
    audited = audit(prepared(named_by_nobody(), Asked()), Told())
    (table,) = audited.sections[0].tables
    assert [column.name for column in table.columns][:2] == ["shop", "calls_itself"]
    assert [row[:2] for row in table.rows] == [
        ("Listed", ""),
        ("log-1", "One"),
        ("log-2", "One"),
        ("log-3", ""),
    ]
    assert audited.called == {"log-1": "One", "log-2": "One"}


def test_another_shop_s_claim_is_not_shown_to_a_shop():
    asked = Asked(seen_by="log-1")
    audited = audit(prepared(named_by_nobody(), asked), Told(seen_by="log-1"))
    assert audited.called == {"log-1": "One"}
    (table,) = audited.sections[0].tables
    assert [row[:2] for row in table.rows] == [("log-1", "One")]


def test_an_interval_says_its_level_in_the_head_of_its_table():
    found = [
        (low.heading, high.heading)
        for table in all_tables(whole())
        for low, high in pairwise(table.columns)
        if high.name.endswith("high")
    ]
    assert set(found) == {("95 % interval from", "to")}
    assert len(found) >= 5


def test_progress_is_told_to_its_end():
    seen = []
    whole(progress=lambda done, of: seen.append((done, of)))
    assert seen[-1][0] == seen[-1][1] == len(seen)


def test_a_shop_sees_its_own_row_alone():
    audited = whole(Asked(seen_by="Shop 2"), seen_by="Shop 2")
    (table,) = audited.sections[0].tables
    assert [row[0] for row in table.rows] == ["Shop 2"]
    assert audited.title == "How well repairs hold: Shop 2"


def test_the_register_is_asked_under_the_pseudonyms_of_the_collection():
    class Hidden:
        check = b"x"

        def vin(self, vin):
            return vin.replace("PLAIN", "V")

    asked = Asked(vehicles=(InView("PLAIN11"),), pseudonyms=Hidden())
    ask = prepared(made(), asked)
    assert ask(
        "SELECT vin FROM followed_fault WHERE state = 'followed' ORDER BY vin"
    ) == [("V11",)]


def test_every_setting_is_told_with_what_it_is():
    rows = method(Settings(horizon_days=90)).tables[0].rows
    assert [row[0] for row in rows] == [one.name for one in fields(Settings)]
    assert rows[0][1:3] == ("90", "180")
    assert all(row[3] for row in rows)


def test_what_the_main_screens_miss_is_told():
    assert {"comebacks", "delivered", "last digits of readings"} <= {
        screen for screen, _ in MISSES
    }
