"""Student's t for whole degrees of freedom, from its closed form.

Source: Abramowitz and Stegun, Handbook of Mathematical Functions, 26.7.3 and 26.7.4
(from memory). Good to about 1e-15 in probability: not for far tails.
"""

from __future__ import annotations

import math
from statistics import NormalDist

MANY = 1000
"""From here on the normal distribution serves: it differs by less than 0.0002."""


def probability_within(t: float, dof: int) -> float:
    """Return P(|T| <= t) for t >= 0 and whole ``dof`` >= 1."""
    if dof >= MANY:
        return 2 * NormalDist().cdf(t) - 1
    theta = math.atan(t / math.sqrt(dof))
    sine, cosine = math.sin(theta), math.cos(theta)
    odd = dof % 2 == 1
    term = total = 0.0
    if dof > 1:
        term = total = cosine if odd else 1.0
    for j in range(2 if odd else 1, dof - 2, 2):
        term *= cosine * cosine * j / (j + 1)
        total += term
    return 2 / math.pi * (theta + sine * total) if odd else sine * total


def cdf(t: float, dof: int) -> float:
    """Return P(T <= t) for whole ``dof`` >= 1."""
    half = probability_within(abs(t), dof) / 2
    return 0.5 + math.copysign(half, t)


def quantile(probability: float, dof: int) -> float:
    """Return t with P(T <= t) = ``probability``, which lies from 0.5 below 1."""
    if not 0.5 <= probability < 1:  # the upper half
        raise ValueError(f"a probability of {probability} is not from 0.5 below 1")
    if dof >= MANY:
        return NormalDist().inv_cdf(probability)
    low, high = 0.0, 1.0
    while cdf(high, dof) < probability:
        low, high = high, high * 2
    while (middle := (low + high) / 2) not in (low, high):
        low, high = (middle, high) if cdf(middle, dof) < probability else (low, middle)
    return high
