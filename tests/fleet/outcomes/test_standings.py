"""Shops against what their work explains; who has no place is said, not ranked."""

import pytest

from auditkit.fleet.outcomes.standings import Mark, repairs_to_see_double, standings
from auditkit.fleet.outcomes.strata import Work
from auditkit.fleet.settings import Settings
from auditkit.fleet.statistics.followed import Ending

EASY, HARD = ("easy", 0), ("hard", 0)
HERE = (True, 500, 0)


def work(shops):
    """Shops as {name: {kind: (came back on day 90, held for 180 days)}}."""
    return Work(
        {
            shop: {
                kind: (Ending(90, back, 0), Ending(180, 0, held))
                for kind, (back, held) in kinds.items()
            }
            for shop, kinds in shops.items()
        }
    )


def usual(count):
    """Shops with about 25 comebacks of 500, as chance would have it."""
    spread = (-6, -4, -2, -1, 0, 0, 1, 2, 4, 6)
    backs = [25 + spread[n % 10] for n in range(count)]
    return {f"Shop {n + 1}": {EASY: (back, 500 - back)} for n, back in enumerate(backs)}


def standing(shops, held=None, settings=None):
    known = dict.fromkeys(shops, HERE) | (held or {})
    found = standings(work(shops), known, settings or Settings())
    return {shop.shop: shop for shop in found.shops}, found


def test_a_shop_far_outside_asks_for_a_look():
    shops, found = standing(usual(20) | {"Shop 21": {EASY: (60, 440)}})
    assert shops["Shop 21"].mark is Mark.LOOK
    assert shops["Shop 21"].has_more
    assert [shop.shop for shop in found.marked(Mark.LOOK)] == ["Shop 21"]
    assert found.in_funnel == 21


def test_a_shop_far_better_asks_for_a_look_too():
    shops, _ = standing(usual(20) | {"Shop 21": {EASY: (3, 497)}})
    assert shops["Shop 21"].mark is Mark.LOOK
    assert not shops["Shop 21"].has_more


def test_hard_work_alone_sets_no_shop_apart():
    mixed = {f"Shop {n}": {EASY: (20, 480), HARD: (20, 80)} for n in range(1, 21)}
    shops, _ = standing(mixed | {"Shop 21": {HARD: (100, 400)}})
    assert shops["Shop 21"].mark is Mark.WITHIN
    assert shops["Shop 21"].expected == pytest.approx(112, rel=0.15)
    # Held against all work alike, it would be far outside.
    alike, _ = standing(
        {
            shop: {EASY: tuple(map(sum, zip(*kinds.values(), strict=True)))}
            for shop, kinds in (mixed | {"Shop 21": {HARD: (100, 400)}}).items()
        }
    )
    assert alike["Shop 21"].mark is Mark.LOOK


def test_a_shops_kinds_of_work_add_up_to_the_shop():
    mixed = {f"Shop {n}": {EASY: (20, 480), HARD: (20, 80)} for n in range(1, 4)}
    shops, _ = standing(mixed)
    kinds = shops["Shop 1"].kinds
    assert [(kind.work, kind.followed, kind.seen) for kind in kinds] == [
        ("easy", 500, 20),
        ("hard", 100, 20),
    ]
    assert sum(kind.expected for kind in kinds) == pytest.approx(
        shops["Shop 1"].expected
    )


def test_few_repairs_say_nothing():
    shops, _ = standing(usual(20) | {"Shop 21": {EASY: (4, 36)}})
    assert shops["Shop 21"].mark is Mark.TOO_FEW


def test_few_repairs_that_nearly_all_come_back_are_to_watch():
    shops, _ = standing(usual(20) | {"Shop 21": {EASY: (20, 10)}})
    assert shops["Shop 21"].expected < 5
    assert shops["Shop 21"].mark is Mark.WATCH


def test_fewer_than_ten_shops_are_not_marked():
    shops, found = standing(usual(8) | {"Shop 21": {EASY: (90, 410)}})
    assert {shop.mark for shop in shops.values()} == {Mark.FEW_SHOPS}
    assert found.between == 0


def test_one_shop_is_as_expected_of_itself():
    shops, _ = standing({"Shop 1": {EASY: (10, 90)}})
    assert shops["Shop 1"].ratio == pytest.approx(1)


@pytest.mark.parametrize(
    ("told", "mark"),
    [
        ((False, 500, 0), Mark.LACKS_ENTRIES),
        ((True, 449, 51), Mark.LACKS_VINS),
        ((True, 0, 9), Mark.LACKS_VINS),
    ],
)
def test_a_shop_that_holds_much_back_is_not_compared(told, mark):
    bad = {"Shop 21": {EASY: (0, 500)}}
    shops, found = standing(usual(20) | bad, {"Shop 21": told})
    assert shops["Shop 21"].mark is mark
    assert not shops["Shop 21"].is_compared
    # And it makes none of the others look worse.
    alone, _ = standing(usual(20))
    assert shops["Shop 1"].expected == pytest.approx(alone["Shop 1"].expected)
    assert found.in_funnel == 20


def test_nothing_that_came_back_expects_nothing():
    shops, _ = standing({"Shop 1": {EASY: (0, 100)}, "Shop 2": {EASY: (0, 100)}})
    assert shops["Shop 1"].ratio is None
    assert shops["Shop 1"].mark is Mark.TOO_FEW


def test_an_empty_collection_has_no_shops():
    _, found = standing({})
    assert (found.shops, found.strata, found.in_funnel) == ((), (), 0)


def test_a_collection_of_none_that_is_compared_holds_none_against_others():
    shops, _ = standing({"Shop 1": {EASY: (9, 91)}}, {"Shop 1": (False, 100, 0)})
    assert shops["Shop 1"].expected == 0


def test_how_many_repairs_show_a_doubled_share():
    # Computed by search with scipy's binomial at 5 %: about 410.
    assert repairs_to_see_double(0.05, Settings()) == pytest.approx(410, rel=0.05)
