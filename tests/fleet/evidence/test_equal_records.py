"""Bench tests that agree in every number."""

import pytest
from bench_rows import Benches, asks, cells
from made_collection import day

from auditkit.fleet.evidence.equal_records import agreeing, equal_records
from auditkit.fleet.settings import Settings


def _test(made, shop, number, *, ends="6", **values):
    made.test(
        shop,
        ("start pressure", f"18.{number % 7}"),
        ("end pressure", f"{ends}.{number % 10}"),
        hold_s=60.0 + number % 11,
        conditions=f'{{"temperature":{{"unit":"degC","value":"{15 + number % 13}"}}}}',
        **values,
    )


@pytest.fixture
def made():
    made = Benches()
    for shop in range(11):
        for number in range(30):
            _test(made, f"Shop {shop + 1}", 31 * shop + number)
    return made


def test_a_shop_that_writes_old_tests_again_is_asked(made):
    for number in [*range(400, 420), 400, 401, 402, 402]:
        _test(made, "Shop 99", number)
    part = equal_records(made.ask(), Settings())
    (asked,) = part.asked
    assert asked.shop == "Shop 99"
    assert asked.measured == {"tests": 24, "that repeat another": 4}
    assert asked.peers["expected"] < 0.1
    (packet,) = asked.to_open
    assert packet.because.endswith("hold 66.0 s, temperature 27 degC")


def test_equal_tests_of_one_day_and_zeros_are_no_repeats(made):
    for _ in range(5):
        _test(made, "Shop 98", 3, ends="9", ends_at=day(9))
        _test(made, "Shop 97", 0, ends="0")
    part = equal_records(made.ask(), Settings())
    assert not part.asked
    told = {row["shop"]: row for row in cells(part)}
    assert (told["Shop 98"]["records"], told["Shop 98"]["repeats"]) == (1, 0)
    assert "Shop 97" not in told


def test_few_numbers_say_nothing(made):
    for _ in range(8):
        made.test("Shop 98", ("end pressure", "6.5"))
    assert not asks(equal_records(made.ask(), Settings()), "Shop 98")


def test_what_is_common_elsewhere_is_no_question():
    # peers show one of four values each time, so equal ones are to be expected
    group = ("vacuum hold", "0.1")
    shops = {f"Shop {n}": 40 for n in range(12)}
    equal = {group: {v: dict.fromkeys(shops, 10) for v in "abcd"}}
    held = agreeing({group: shops}, equal, Settings())
    assert {one.repeats for one in held} == {36}
    # 780 pairs, a quarter of them equal
    assert held[0].expected == pytest.approx(195, rel=0.02)
    assert not any(one.stands_out for one in held)
