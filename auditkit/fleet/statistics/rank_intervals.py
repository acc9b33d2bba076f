"""A quantile with an interval that asks nothing of the distribution.

The ends are order statistics: how many of n values lie below the true quantile is
binomial, whatever the values are.
"""

from __future__ import annotations


def interval_ranks(
    n: int, quantile: float, confidence: float = 0.95
) -> tuple[int | None, int | None]:
    """Return the ranks (from 1) whose values are the interval's ends.

    Each end leaves at most half of 1 - ``confidence`` outside; None where even the
    smallest or the largest of n values does not.
    """
    from scipy import stats

    outside = (1 - confidence) / 2
    low = int(stats.binom.ppf(outside, n, quantile))
    high = int(stats.binom.ppf(1 - outside, n, quantile)) + 1
    return (low if low >= 1 else None, high if high <= n else None)
