"""Shops against what is expected of them, with the spread that shops have anyway.

Spiegelhalter 2005, Statistics in Medicine 24:1185 (from memory): y = 2 sqrt(O/E) has a
variance of about 1/E. How far honest shops differ beyond chance is one variance more,
``between`` (tau squared), estimated from all of them with the farthest held in.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from auditkit.fleet.statistics.normal import deviations, square_held_in


@dataclass(frozen=True, slots=True)
class Spread:
    """How far shops lie apart: ``chance`` by each z, ``phi``, and ``between``.

    ``phi`` is the mean of the squared, winsorised z; 1 says chance alone.
    """

    chance: tuple[float, ...]
    phi: float
    between: float


def distance(seen: float, expected: float, between: float = 0.0) -> float:
    """Return how many deviations a shop lies from what is expected."""
    return (2 * math.sqrt(seen / expected) - 2) / math.sqrt(1 / expected + between)


def spread(shops: Sequence[tuple[float, float]], winsorised: float = 0.1) -> Spread:
    """Return the spread of shops, each (seen, expected); at least two.

    ``winsorised`` is the share at each end that is held in.
    """
    if len(shops) < 2:
        raise ValueError("a spread needs two shops")
    chance = tuple(distance(seen, expected) for seen, expected in shops)
    phi = square_held_in(chance, winsorised)
    weights = [expected for _, expected in shops]
    total = math.fsum(weights)
    left = total - math.fsum(w * w for w in weights) / total
    between = (len(shops) * phi - (len(shops) - 1)) / left
    return Spread(chance, phi, max(0.0, between))


def limits(expected: float, between: float, confidence: float) -> tuple[float, float]:
    """Return the seen / expected between which shops lie, at one expected count."""
    reach = deviations(confidence) * math.sqrt(1 / expected + between) / 2
    return max(0.0, 1 - reach) ** 2, (1 + reach) ** 2
