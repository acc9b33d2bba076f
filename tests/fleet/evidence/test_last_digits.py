"""Last digits, against the shops whose gauges have the same steps."""

import pytest
from bench_rows import Benches, cells
from fleet_columns import INHG
from scipy import stats

from auditkit.fleet.evidence.digits import last_digits
from auditkit.fleet.settings import Settings


def _readings(made, shop, texts, **values):
    for text in texts:
        made.test(shop, ("end pressure", text), **values)


@pytest.fixture
def made():
    made = Benches()
    for number in range(11):
        texts = [f"{3 + (k + number) // 10}.{(k + number) % 10}" for k in range(70)]
        _readings(made, f"Shop {number + 1}", texts)
    return made


def test_a_favourite_digit_is_asked_about(made):
    texts = [f"{3 + k % 7}.{k % 10}" for k in range(60)] + ["4.7"] * 30
    _readings(made, "Shop 99", texts)
    (asked,) = last_digits(made.ask(), Settings()).asked
    assert asked.shop == "Shop 99"
    own = [6] * 7 + [36] + [6] * 2
    assert [asked.measured[f"ending in {d}"] for d in range(10)] == own
    told = stats.chi2_contingency([own, [77] * 10], correction=False)
    effect = (told.statistic / (90 + 770)) ** 0.5
    assert asked.peers["size of the difference (0 none, 1 whole)"] == pytest.approx(
        effect, abs=1e-3
    )
    assert "36 end in 7" in asked.question


def test_whoever_invents_much_makes_nobody_else_stand_out(made):
    # more of one shop than of all others together: each of them is unlike all the rest
    _readings(made, "Shop 99", [f"{3 + k % 7}.7" for k in range(1200)])
    part = last_digits(made.ask(), Settings())
    assert [one.shop for one in part.asked] == ["Shop 99"]
    assert part.asked[0].peers["shops"] == 11
    assert {row["asks"] for row in cells(part)} == {"yes", "no"}


def test_coarse_steps_have_peers_of_their_own(made):
    # a gauge of .5 shows 0 and 5 alone: no question, for want of such peers
    _readings(made, "Shop 98", ["4.5", "5.0", "6.5"] * 30, resolution=0.5)
    part = last_digits(made.ask(), Settings())
    assert not part.asked
    row = next(r for r in cells(part) if r["shop"] == "Shop 98")
    assert (row["asks"], row["resolution"]) == ("too few", "0.5 inHg")


def test_what_is_left_out():
    made = Benches()
    limit = {"low_si": 15 * INHG}
    kept = ("14.8", "15.2", "3.3")
    # 0, one step of the limit, the limit itself, whole digits where tenths are shown
    _readings(made, "Shop 1", ("0.0", "14.9", "15.1", "15.0", "7", *kept), **limit)
    made.test(
        "Shop 1", {"quantity": "end pressure", "value_text": "9.9", "bound": "above"}
    )
    computed = {"quantity": "end pressure", "value_text": "9.9", "is_computed": True}
    made.test("Shop 1", computed)
    made.test("Shop 1", ("end pressure", "8.1"), ("end pressure", "8.2"))
    (row,) = cells(last_digits(made.ask(), Settings()))
    digits = [d for d in range(10) if row[f"ends_in_{d}"]]
    assert (digits, row["readings"]) == ([1, 2, 3, 8], 4)
