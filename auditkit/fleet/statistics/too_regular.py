"""Spreads that are smaller than an instrument and a hand can make them.

The lower tail is asked for: a large spread is carelessness, one that is too small is a
question. The idea: Simonsohn 2013, Psychological Science 24:1875
(from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence


def pooled_lower_tail(sets: Sequence[tuple[int, float]], usual: float) -> float:
    """Return P(deviations this small or smaller) of normal repeats.

    ``sets`` are (number of repeats, standard deviation), ``usual`` is what peers have
    with such an instrument, in one unit: the lower tail of chi-square of the sum of
    (n - 1) s^2 / sigma^2.
    """
    from scipy import special

    if usual <= 0:
        raise ValueError("the usual deviation has to be positive")
    freedom = sum(n - 1 for n, _ in sets)
    found = sum((n - 1) * (s / usual) ** 2 for n, s in sets)
    return float(special.chdtr(freedom, found))


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
