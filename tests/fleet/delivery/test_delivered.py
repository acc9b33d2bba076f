"""What of each log is here, what is not, and what is asked because of it."""

import pytest
from made_collection import Made, day, digest

from auditkit.fleet.delivery.delivered import delivered
from auditkit.fleet.delivery.judged import judged
from auditkit.fleet.delivery.order_numbers import Numbered, numbered
from auditkit.fleet.settings import Settings


def rows(part, name):
    found = next(one for one in part.section.tables if one.name == name)
    names = [column.name for column in found.columns]
    return [dict(zip(names, row, strict=True)) for row in found.rows]


def part(made, settings=None):
    asked = settings or Settings()
    return delivered(made.ask(asked), asked)


def said(made, settings=None):
    return " ".join(part(made, settings).section.sentences)


def test_missing_stretches_are_named_the_longest_first():
    made = Made()
    # 34 entries stated; 0 to 14 and 15 to 22 are here but for 5.
    made.log("Shop 1", largest_size=34, entries_delivered=22)
    for seq in (*range(5), *range(6, 23)):
        made.recorded(1, "Shop 1", seq=seq)
        made.recorded(1, "Shop 1", seq=seq)  # as another packet brings it again
    made.insert("run", run_id=1, started=day(9), program="0")
    (log,) = rows(part(made), "logs")
    assert log["missing"] == "23 to 33, 5"
    assert log["coverage"] == pytest.approx(100 * 22 / 34)


def test_a_shop_that_lacks_much_is_asked_and_not_compared():
    made = Made()
    made.order("Shop 31", log_id=made.log("Shop 31", entries_delivered=61))
    found = part(made)
    assert "Shop 31 delivered 61 of 100 steps that its log holds" in said(made)
    assert [(a.shop, a.screen) for a in found.asked] == [("Shop 31", "delivered")]
    assert part(made, Settings(least_coverage=0.6)).asked == ()


def test_a_whole_log_is_not_asked_about():
    made = Made()
    made.order()
    assert part(made).asked == ()


def test_two_histories_are_told_with_their_packets():
    made = Made()
    made.log("Shop 1", is_forked=True)
    for _ in range(2):
        made.order("Shop 1")
    made.insert(
        "conflict",
        kind="fork",
        log_id=1,
        seq=4,
        first_packet_id=1,
        second_packet_id=2,
        sentence="entry 4 stands in two forms",
    )
    (asked,) = part(made).asked
    assert asked.screen == "two histories"
    assert [one.sha256 for one in asked.to_open] == [
        digest("packet", 1).hex(),
        digest("packet", 2).hex(),
    ]
    assert "were signed by Shop 1: left out" in said(made)
    assert "counted all the same" in said(made, Settings(with_forked=True))


def test_unknown_keys_are_left_out_and_told():
    made = Made()
    made.order("Shop 1")
    made.log(None, is_trusted=False, origin="stranger.example")
    made.order(log_id=2)
    assert "1 log with 1 repair order left out: their keys are not" in said(made)
    assert [log["counts"] for log in rows(part(made), "logs")] == [
        "counted",
        "left out: its key is not in the list",
    ]


def test_without_a_list_of_keys_every_name_is_a_claim():
    made = Made(keys_given=False)
    made.order(log_id=made.log(None, is_trusted=False))
    assert "No list of the shops' keys was given" in said(made)


@pytest.mark.parametrize(
    ("days", "is_asked"), [((0, 90, 180), True), ((0, 200, 400), False)]
)
def test_a_log_begun_again_and_again_is_asked_about(days, is_asked):
    made = Made()
    for at in days:
        made.log("Shop 1", opened_at=day(at))
    asked = part(made).asked
    assert [a.screen for a in asked] == ["logs begun anew"] * is_asked
    assert ("A new log was begun again and again" in said(made)) is is_asked


def test_withheld_vins_are_counted_apart_from_absent_ones():
    made = Made()
    for state in ("given", "withheld", "withheld", "erased", "absent"):
        made.order(vin=None if state != "given" else "VIN1", vin_state=state)
    (found,) = rows(part(made), "withheld")
    assert [found[n] for n in ("orders", "withheld", "erased", "absent")] == [
        5,
        2,
        1,
        1,
    ]


def test_a_shop_that_names_fewer_vehicles_than_others_is_asked():
    """Its second visits would else hide what came back."""
    made = Made()
    for number in range(1, 13):
        for job in range(30):
            hides = job < (15 if number == 12 else 1)
            vin = None if hides else f"VIN{number}-{job}"
            state = "withheld" if hides else "given"
            made.order(f"Shop {number}", vin=vin, vin_state=state)
    found = part(made)
    (asked,) = found.asked
    assert (asked.screen, asked.shop) == ("vehicles not named", "Shop 12")
    assert asked.measured == {"without a VIN": 15, "repair orders": 30}
    assert len(asked.to_open) == 15
    assert {one.because for one in asked.to_open} == {"its VIN is withheld"}
    assert "Shop 12 does not name the vehicle in 15 of 30 repair orders" in said(made)
    told = {row["shop"]: row for row in rows(found, "withheld")}
    assert told["Shop 12"]["asks"] == "yes"
    assert told["Shop 11"]["share"] == pytest.approx(100 / 30)
    assert told["Shop 11"]["asks"] == "no"


def test_packets_that_do_not_verify_are_counted_by_reason():
    made = Made()
    made.order()
    for n in range(3):
        made.insert(
            "packet",
            packet_id=90 + n,
            sha256=digest(n),
            run_id=1,
            path="x",
            bytes=1,
            is_verified=False,
            refused_because="its signature does not hold",
        )
    assert rows(part(made), "refused") == [
        {"because": "its signature does not hold", "packets": 3}
    ]
    assert "3 packets could not be read, or did not verify" in said(made)


class TestOrderNumbers:
    def test_a_gap_is_counted_within_one_prefix(self):
        numbers = [f"RO-{n}" for n in (*range(100, 106), *range(108, 120))]
        assert numbered([*numbers, "special"]) == [Numbered("RO-", 100, 119, 18)]
        assert numbered(numbers)[0].missing == 2

    def test_numbers_that_do_not_count_one_by_one_are_none(self):
        assert numbered([f"{n * n}" for n in range(40)]) == []

    def test_a_few_numbers_are_none(self):
        assert numbered([f"RO-{n}" for n in range(9)]) == []

    def test_they_stand_in_a_table_by_shop(self):
        made = Made()
        for n in range(20):
            if n != 7:
                made.order("Shop 1", order_no=f"A{n + 1:03}")
        (found,) = rows(part(made), "order_numbers")
        assert (found["shop"], found["prefix"], found["missing"]) == ("Shop 1", "A", 1)


class TestJudged:
    def test_verdicts_are_counted_by_shop(self):
        made = Made()
        for verdict in ("proven", "proven", "vouched", "unproven", "contradicted"):
            made.order(
                "Shop 1", verdict=verdict, is_overstated=verdict == "contradicted"
            )
        found = judged(made.ask(), Settings())
        every, shop = rows(found, "verdicts")
        assert every["orders"] == shop["orders"] == 5
        assert [shop[n] for n in ("proven", "vouched", "unproven", "contradicted")] == [
            *(2, 1, 1, 1)
        ]
        assert found.section.sentences == (
            (
                "5 repair orders, judged here: 2 proven, 1 vouched, 1 unproven, "
                "1 contradicted; too few for a share."
            ),
            (
                "In 1 repair order the shop signed a better verdict than what its "
                "evidence shows here."
            ),
        )

    def test_none_are_told(self):
        assert judged(Made().ask(), Settings()).section.sentences == (
            "No repair order counts here.",
        )
