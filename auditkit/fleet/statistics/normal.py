"""The standard normal distribution: quantiles, tails, and spreads in its terms."""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import NormalDist


def deviations(confidence: float) -> float:
    """Return how many deviations lie each side of a two-sided interval: .95 -> 1.96."""
    return NormalDist().inv_cdf((1 + confidence) / 2)


def two_sided(z: float) -> float:
    """Return the probability of a value as far from 0 as z, on either side."""
    return math.erfc(abs(z) / math.sqrt(2))


def square_held_in(z: Sequence[float], winsorised: float) -> float:
    """Return the mean of the squared z, the farthest held in; 1 says chance alone.

    ``winsorised`` is the share at each end that is held at its quantile (interpolated
    linearly between order statistics); 0 holds none. As in Spiegelhalter 2005,
    Statistics in Medicine 24:1185 (from memory).
    """
    import numpy as np

    low, high = np.quantile(z, [winsorised, 1 - winsorised])
    return math.fsum(min(max(one, low), high) ** 2 for one in z) / len(z)
