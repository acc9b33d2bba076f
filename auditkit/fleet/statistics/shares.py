"""Shares of several classes at once, with intervals that hold for all of them."""

from __future__ import annotations

import math
from collections.abc import Sequence


def simultaneous_shares(
    counts: Sequence[int], confidence: float = 0.95
) -> list[tuple[float, float]]:
    """Return Goodman's interval of each class's share (Technometrics 1965, 7:247).

    For two classes or more, of which at least one counts something; together they hold
    with about ``confidence``. The source is named from memory.
    """
    from scipy import stats

    total, classes = sum(counts), len(counts)
    if classes < 2 or total <= 0:
        raise ValueError("shares need two classes and something that was counted")
    a = float(stats.chi2.isf((1 - confidence) / classes, 1))
    ends = []
    for n in counts:
        half = math.sqrt(a * (a + 4 * n * (total - n) / total))
        low = (a + 2 * n - half) / (2 * (total + a))
        high = (a + 2 * n + half) / (2 * (total + a))
        ends.append((max(0.0, low), min(1.0, high)))
    return ends
