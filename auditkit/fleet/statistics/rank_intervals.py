"""A quantile with an interval that asks nothing of the distribution.

The ends are order statistics: how many of n values lie below the true quantile is
binomial, whatever the values are.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class QuantileInterval:
    """A quantile, and the ends of its interval; None where n is too small for one."""

    value: float
    low: float | None
    high: float | None


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


def quantile_interval(
    values: Sequence[float], quantile: float, confidence: float = 0.95
) -> QuantileInterval:
    """Return the smallest value that this share of all does not exceed, and ends."""
    ordered = sorted(values)
    if not ordered:
        raise ValueError("no value has no quantile")
    n = len(ordered)
    place = max(1, math.ceil(quantile * n - 1e-9))
    low, high = interval_ranks(n, quantile, confidence)
    return QuantileInterval(
        ordered[place - 1],
        None if low is None else ordered[low - 1],
        None if high is None else ordered[high - 1],
    )
