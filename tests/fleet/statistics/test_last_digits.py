"""Homogeneity of last digits, held against scipy's and published tables."""

import numpy as np
import pytest
from scipy import stats

from auditkit.fleet.statistics.last_digits import homogeneity

SHOP = (3, 4, 5, 9, 22, 4, 6, 7, 12, 8)
PEERS = (310, 295, 301, 288, 305, 330, 290, 299, 302, 280)


def test_it_is_pearsons_chi_square():
    one, others = (30, 40, 52, 90, 220, 44, 61, 70, 120, 80), PEERS
    told = stats.chi2_contingency([one, others], correction=False)
    found = homogeneity(one, others)
    assert not found.is_drawn
    assert found.chi_square == pytest.approx(told.statistic)
    assert found.tail == pytest.approx(told.pvalue, rel=1e-9)
    assert found.freedom == told.dof == 9
    assert found.effect == pytest.approx((told.statistic / 3807) ** 0.5)


def test_a_published_table_without_a_difference():
    # Physicians' Health Study, NEJM 1989, 321:129 (from memory): myocardial
    # infarctions 189 of 11034 on placebo, 104 of 11037 on aspirin; chi-square 25.01
    found = homogeneity((189, 11034 - 189), (104, 11037 - 104))
    assert found.chi_square == pytest.approx(25.01, abs=0.01)
    assert found.freedom == 1


def test_few_counts_are_drawn_and_agree_with_drawing_elsewhere():
    one, others = (
        (3, 1, 0, 2, 9, 1, 1, 2, 3, 2),
        (40, 38, 44, 41, 37, 45, 39, 40, 38, 42),
    )
    found = homogeneity(one, others)
    assert found.is_drawn
    table = stats.random_table([sum(one), sum(others)], np.add(one, others), seed=4)
    drawn = table.rvs(20_000).astype(float)
    expected = table.mean()
    distance = ((drawn - expected) ** 2 / expected).sum(axis=(1, 2))
    told = float((distance >= found.chi_square).mean())
    assert found.tail == pytest.approx(told, abs=4 * (told / 20_000) ** 0.5)
    assert found == homogeneity(one, others)


def test_a_digit_that_nobody_shows_counts_for_nothing():
    found = homogeneity((50, 0, 40, 0), (55, 0, 44, 0))
    assert found.freedom == 1
    assert homogeneity((50, 0), (70, 0)).tail == 1
    with pytest.raises(ValueError, match="without any count"):
        homogeneity((0, 0), (1, 2))


def test_the_trial_of_the_reference():
    # computed with scipy 1.17.1 chi2_contingency for the rows as they stand
    told = stats.chi2_contingency([SHOP, PEERS], correction=False)
    found = homogeneity(SHOP, PEERS)
    assert found.chi_square == pytest.approx(told.statistic)
    assert found.tail < 0.01
