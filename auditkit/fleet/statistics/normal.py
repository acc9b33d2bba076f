"""Quantiles and tails of the standard normal distribution."""

from __future__ import annotations

import math
from statistics import NormalDist


def deviations(confidence: float) -> float:
    """Return how many deviations lie each side of a two-sided interval: .95 -> 1.96."""
    return NormalDist().inv_cdf((1 + confidence) / 2)


def two_sided(z: float) -> float:
    """Return the probability of a value as far from 0 as z, on either side."""
    return math.erfc(abs(z) / math.sqrt(2))
