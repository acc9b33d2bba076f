"""Quantiles with distribution-free intervals, held against scipy's quantile_test."""

import numpy as np
import pytest
from scipy import stats

from auditkit.fleet.statistics.rank_intervals import interval_ranks


def test_ranks_of_a_hundred():
    assert interval_ranks(100, 0.5) == (40, 61)
    assert interval_ranks(100, 0.9) == (84, 96)
    # the interval of two order statistics holds what binomial counts lie between
    for quantile, (low, high) in ((0.5, (40, 61)), (0.9, (84, 96))):
        covered = stats.binom.cdf(high - 1, 100, quantile) - stats.binom.cdf(
            low - 1, 100, quantile
        )
        assert 0.95 <= covered < 0.97


@pytest.mark.parametrize("n", [30, 57, 100, 333])
@pytest.mark.parametrize("quantile", [0.5, 0.9])
def test_ends_are_scipys(n, quantile):
    values = [float(v) for v in np.random.default_rng(n).gamma(2, size=n)]
    told = stats.quantile_test(values, q=0, p=quantile).confidence_interval(0.95)
    low, high = interval_ranks(n, quantile)
    ordered = sorted(values)
    assert ordered[low - 1] == pytest.approx(told.low)
    if np.isnan(told.high):
        assert high is None
    else:
        assert ordered[high - 1] == pytest.approx(told.high)


def test_few_values_have_no_interval():
    assert interval_ranks(3, 0.5) == (None, None)
    assert interval_ranks(30, 0.99) == (28, None)
