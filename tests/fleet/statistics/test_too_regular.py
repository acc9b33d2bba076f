"""Spreads too small, held against scipy and against drawing."""

import numpy as np
import pytest
from scipy import stats

from auditkit.fleet.statistics.too_regular import (
    all_equal_chance,
    pooled_lower_tail,
)


def test_lower_tail_of_a_deviation():
    # computed with scipy: (n - 1) s^2 / sigma^2 = 1.2222222 on 11 degrees of freedom
    assert pooled_lower_tail([(12, 0.04)], 0.12) == pytest.approx(1.3846e-4, rel=1e-4)
    told = stats.chi2.cdf(3 * 0.25 + 5 * 0.64, 8)
    assert pooled_lower_tail([(4, 0.5), (6, 0.8)], 1) == pytest.approx(told)
    with pytest.raises(ValueError, match="positive"):
        pooled_lower_tail([(5, 0.1)], 0)


@pytest.mark.parametrize(
    ("steps", "two", "three", "five"),
    [
        (0.1, 0.887, 0.831, 0.767),
        (0.5, 0.4861, 0.2717, 0.0983),
        (2, 0.1396, 0.0225, 0.0007),
    ],
)
def test_equal_repeats_are_normal_on_a_coarse_display(steps, two, three, five):
    for repeats, told in ((2, two), (3, three), (5, five)):
        assert all_equal_chance(repeats, steps) == pytest.approx(told, abs=6e-4)


def test_equal_repeats_drawn():
    drawn = np.random.default_rng(3)
    true = drawn.uniform(0, 1, size=(60_000, 1))
    shown = np.floor(true + drawn.normal(0, 0.3, size=(60_000, 3)))
    equal = float((shown == shown[:, :1]).all(axis=1).mean())
    assert all_equal_chance(3, 0.3) == pytest.approx(equal, abs=0.008)
    assert all_equal_chance(7, 0) == 1
