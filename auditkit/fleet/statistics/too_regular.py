"""Spreads that are smaller than an instrument and a hand can make them.

The lower tail is asked for: a large spread is carelessness, one that is too small, or
always the same, is a question. The idea: Simonsohn 2013, Psychological Science 24:1875
(from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence


def spread_lower_tail(repeats: int, deviation: float, usual: float) -> float:
    """Return P(a standard deviation this small or smaller) of normal repeats.

    ``deviation`` is that of ``repeats`` readings, ``usual`` what peers have with such
    an instrument, in one unit: the lower tail of chi-square of (n - 1) s^2 / sigma^2.
    """
    return pooled_lower_tail([(repeats, deviation)], usual)


def pooled_lower_tail(sets: Sequence[tuple[int, float]], usual: float) -> float:
    """Return the same for several sets of repeats, each (number, deviation)."""
    from scipy import special

    if usual <= 0:
        raise ValueError("the usual deviation has to be positive")
    freedom = sum(n - 1 for n, _ in sets)
    found = sum((n - 1) * (s / usual) ** 2 for n, s in sets)
    return float(special.chdtr(freedom, found))


def alike_lower_tail(sets: Sequence[tuple[int, float]]) -> tuple[float, float]:
    """Return Bartlett's statistic of (number, deviation) and its lower tail.

    A small tail says that the deviations are more alike than chance makes them. Raises
    ValueError where a deviation is 0: a coarse display does that, and nothing follows.
    """
    from scipy import special

    if any(s <= 0 for _, s in sets):
        raise ValueError("repeats that are all equal have no place in this comparison")
    groups = len(sets)
    freedom = sum(n - 1 for n, _ in sets)
    pooled = sum((n - 1) * s * s for n, s in sets) / freedom
    difference = freedom * math.log(pooled) - sum(
        (n - 1) * math.log(s * s) for n, s in sets
    )
    bias = 1 + (sum(1 / (n - 1) for n, _ in sets) - 1 / freedom) / (3 * (groups - 1))
    found = difference / bias
    return found, float(special.chdtr(groups - 1, found))


def all_equal_chance(repeats: int, deviation_in_steps: float) -> float:
    """Return P(all repeats show one value) on a display of steps of 1.

    The true value lies anywhere within a step, the repeats about it by a normal
    deviation given in steps. On a coarse display equal repeats are what to expect.
    """
    import numpy as np
    from scipy import special

    if deviation_in_steps <= 0:
        return 1.0
    within = (np.arange(4_000) + 0.5) / 4_000
    reach = math.ceil(8 * deviation_in_steps) + 1
    total = 0.0
    for step in range(-reach, reach + 1):
        low = special.ndtr((step - within) / deviation_in_steps)
        high = special.ndtr((step + 1 - within) / deviation_in_steps)
        total += float(np.mean((high - low) ** repeats))
    return total
