"""What the measures of outcomes say of small collections, every row counted by hand."""

import pytest
from made_collection import Made

from auditkit.fleet.outcomes.came_back import came_back
from auditkit.fleet.outcomes.first_time_fix import first_time_fix
from auditkit.fleet.outcomes.how_long import how_long
from auditkit.fleet.outcomes.kinds_of_fault import kinds_of_fault
from auditkit.fleet.outcomes.parts import parts
from auditkit.fleet.outcomes.shops import shops
from auditkit.fleet.settings import Settings

MEASURES = (first_time_fix, how_long, kinds_of_fault, parts, shops, came_back)


def table(part, name):
    return next(one for one in part.section.tables if one.name == name)


def rows(part, name):
    found = table(part, name)
    names = [column.name for column in found.columns]
    return [dict(zip(names, row, strict=True)) for row in found.rows]


def twelve_shops(repairs=60, back=3, bad=18):
    """Twelve shops with as many comebacks each, but for the last."""
    made = Made()
    for number in range(1, 13):
        shop, came = f"Shop {number}", bad if number == 12 else back
        for n in range(repairs):
            vin = f"VIN-{number}-{n}"
            made.fault(made.order(shop, at=n / 10, vin=vin))
            if n < came:
                made.fault(made.order(shop, at=50 + n, vin=vin), is_addressed=False)
    made.recorded(300)
    return made


@pytest.mark.parametrize("measure", MEASURES)
def test_an_empty_collection_says_so(measure):
    made = Made()
    made.insert("run", run_id=1, started="2026-01-01", program="0")
    part = measure(made.ask(), Settings())
    assert part.asked == ()
    assert part.section.sentences


@pytest.mark.parametrize("measure", MEASURES)
def test_one_order_without_any_fault_says_so(measure):
    made = Made()
    made.order()
    made.recorded(100)
    assert measure(made.ask(), Settings()).asked == ()


class TestFirstFix:
    def part(self, *outcomes, settings=None):
        made = Made()
        for fixed_first, verdict in outcomes:
            made.fault(made.order(), fixed_first=fixed_first, verdict=verdict)
        return first_time_fix(made.ask(), settings or Settings())

    def test_what_is_shown_neither_way_is_no_failure(self):
        part = self.part(
            *[("shown", "proven")] * 20,
            *[("shown", "vouched")] * 6,
            *[("not shown", "unproven")] * 3,
            ("against", "contradicted"),
        )
        found = rows(part, "fixed_first_time")[1]
        assert [found[n] for n in ("repairs", "fixed", "not_shown", "not_fixed")] == [
            *(30, 26, 3, 1)
        ]
        assert found["proven"] == 20
        assert found["fixed_share"] == pytest.approx(100 * 26 / 30)
        assert (
            "86.7 in 100 were shown to be fixed the first time"
            in part.section.sentences[0]
        )

    def test_few_are_counted_first(self):
        part = self.part(("shown", "proven"), ("against", "contradicted"))
        assert part.section.sentences[0] == (
            "2 repaired faults: 1 shown to be fixed the first time, 1 shown not to be, "
            "0 not shown either way; too few for a share."
        )

    def test_few_have_an_interval_and_no_share(self):
        found = rows(self.part(*[("shown", "proven")] * 12), "fixed_first_time")[1]
        assert found["fixed_share"] is None
        assert found["fixed_low"] == pytest.approx(75.75, abs=0.01)

    def test_fewer_have_neither(self):
        found = rows(self.part(*[("shown", "proven")] * 9), "fixed_first_time")[1]
        assert found["fixed_low"] is None

    def test_a_fault_that_was_not_repaired_is_not_counted(self):
        made = Made()
        made.fault(made.order(), is_addressed=False, fixed_first=None, attempts=0)
        made.fault(made.order(), fixed_first="shown")
        assert (
            rows(first_time_fix(made.ask(), Settings()), "fixed_first_time")[0][
                "repairs"
            ]
            == 1
        )


class TestHowLong:
    def test_the_share_that_held_and_what_it_rests_on(self):
        part = how_long(twelve_shops().ask(), Settings())
        # 720 repairs, 33 + 18 came back, all were followed for 180 days.
        assert part.section.sentences[0] == (
            "Of 720 repairs that could be followed, 92.9 in 100 held for 180 days "
            "(95 % interval: between 90.8 and 94.6)."
        )
        last = rows(part, "holds_by_days")[-1]
        assert (last["came_back"], last["held"]) == (51, pytest.approx(100 * 669 / 720))
        assert "No register of vehicles was given" in " ".join(part.section.sentences)

    def test_a_withheld_vin_is_told(self):
        made = twelve_shops()
        made.fault(made.order(vin=None, vin_state="withheld"))
        said = how_long(made.ask(), Settings()).section.sentences
        assert "1 repair could not be followed: no VIN is given there." in said

    def test_few_comebacks_are_too_few(self):
        part = how_long(twelve_shops(10, 0, 9).ask(), Settings())
        assert part.section.sentences[0].endswith(
            "too few to tell how long repairs hold."
        )
        assert part.section.charts == ()

    def test_nothing_is_read_where_few_are_still_followed(self):
        made = Made()
        for n in range(40):
            # Repaired on days 0 to 39; the last record is of day 60.
            made.fault(made.order(at=n, vin=f"V{n}"))
        made.recorded(60)
        by_time = {
            r["until"]: r
            for r in rows(how_long(made.ask(), Settings()), "holds_by_days")
        }
        assert by_time[30]["held"] == 100
        assert by_time[90]["held"] is None


class TestShops:
    @pytest.fixture
    def part(self):
        return shops(twelve_shops(200, 10, 45).ask(), Settings())

    def test_the_shop_that_differs_is_asked(self, part):
        (asked,) = [a for a in part.asked if not a.is_to_watch]
        assert (asked.shop, asked.screen) == ("Shop 12", "comebacks")
        assert asked.measured["came back"] == 45
        assert part.section.sentences[0] == (
            "1 of 12 shops asks for a look: more came back than expected at Shop 12."
        )

    def test_the_question_names_packets(self, part):
        opened = part.asked[0].to_open
        assert len(opened) == 40
        assert len(opened[0].sha256) == 64
        assert opened[0].because.startswith("P0401 came back after ")

    def test_all_that_is_expected_is_what_came_back(self, part):
        found = rows(part, "shops")
        assert sum(r["expected"] for r in found) == pytest.approx(155)

    def test_no_word_accuses(self, part):
        said = " ".join((*part.section.sentences, *(a.question for a in part.asked)))
        for word in (
            "fraud",
            "fake",
            "guilty",
            "cheat",
            "suspic",
            "p-value",
            "significant",
        ):
            assert word not in said.lower()


class TestKindsOfFault:
    def test_a_group_that_comes_back_more_is_told_within_shops(self):
        made = Made()
        for shop in ("Shop 1", "Shop 2"):
            for n in range(100):
                for code, group, every in (
                    ("P0401", "egr", 20),
                    ("P0128", "cooling", 4),
                ):
                    vin = f"{shop}-{code}-{n}"
                    order = made.order(shop, at=0, vin=vin)
                    made.fault(order, code=code, fault_group=group)
                    if n % every == 0:
                        back = made.order(shop, at=60, vin=vin)
                        made.fault(
                            back, code=code, fault_group=group, is_addressed=False
                        )
        made.recorded(300)
        part = kinds_of_fault(made.ask(), Settings())
        assert [
            (r["group"], r["differs"]) for r in rows(part, "groups_that_differ")
        ] == [
            ("cooling", "yes"),
            ("egr", "yes"),
        ]
        assert "cooling 75.0 in 100 held" in part.section.sentences[0]

    def test_one_group_alone_differs_from_nothing(self):
        part = kinds_of_fault(twelve_shops().ask(), Settings())
        assert part.section.sentences[0].startswith("No group of faults is shown")


class TestParts:
    def made(self, *, bad_back):
        made = Made()
        for number, back in (("A-1", 5), ("A-2", 5), ("B-7", bad_back)):
            for n in range(100):
                vin = f"{number}-{n}"
                order = made.order(at=0, vin=vin)
                made.fault(order)
                part = {"part_id": "p", "name": "EGR valve", "part_number": number}
                made.insert(
                    "part",
                    order_id=order,
                    was_worked_on=True,
                    was_tested_good=False,
                    **part,
                )
                if n < back:
                    made.fault(made.order(at=60, vin=vin), is_addressed=False)
        made.recorded(300)
        return made

    def test_a_number_that_comes_back_more_is_told(self):
        part = parts(self.made(bad_back=30).ask(), Settings())
        assert part.section.sentences[0].endswith("usually do after: B-7.")
        assert [r["seen"] for r in rows(part, "part_numbers")] == [5, 5, 30]

    def test_chance_alone_is_not(self):
        part = parts(self.made(bad_back=8).ask(), Settings())
        assert part.section.sentences[0].startswith("No part is shown")

    def test_orders_with_two_parts_tell_nothing_of_either(self):
        made = self.made(bad_back=30)
        made.connection.execute(
            "INSERT INTO part BY NAME SELECT order_id, 'q' AS part_id, 'gasket' AS "
            "name, TRUE AS was_worked_on, FALSE AS was_tested_good FROM part"
        )
        assert rows(parts(made.ask(), Settings()), "part_numbers") == []


class TestCameBack:
    def test_vehicles_are_named_to_who_named_them_alone(self):
        made = Made()
        made.fault(made.order("Shop 2", at=0))
        made.fault(made.order("Shop 10", at=41))
        made.recorded(100)
        part = came_back(made.ask(), Settings())
        assert "VIN1" not in repr(part)
        part = came_back(made.ask(vehicles=[("VIN1", None, None)]), Settings())
        (vehicle,) = rows(part, "vehicles_that_came_back")
        assert vehicle == {
            "vin": "VIN1",
            "visits": 2,
            "repairs": 2,
            "seen": 1,
            "shops": 2,
        }
        assert [row["vin"] for row in rows(part, "came_back")] == ["VIN1"]

    def test_each_is_listed_with_its_packets(self):
        made = Made()
        made.fault(made.order("Shop 2", at=0))
        made.fault(made.order("Shop 10", at=41, vin="VIN1"))
        made.recorded(100)
        part = came_back(made.ask(), Settings())
        (found,) = rows(part, "came_back")
        assert (found["shop"], found["seen_by"]) == ("Shop 2", "Shop 10")
        assert (found["fault"], found["days"]) == ("P0401@7E8", 41)
        assert len(found["packet"]) == len(found["seen_packet"]) == 64
        assert part.section.sentences == (
            (
                "1 fault came back within 180 days, 1 of them to another shop than "
                "the one that had repaired it."
            ),
        )
