"""Control charts of a quantity that ought to stay as it is.

For readings of a known-good part or a reference alone; those of faulty parts are no
control material. NIST/SEMATECH e-Handbook of Statistical Methods 6.3.2.2 (individuals)
and 6.3.2.4 (EWMA).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

_D2 = 1.128
"""Mean range of two normal values, in deviations, to the digits of the usual tables."""


@dataclass(frozen=True, slots=True)
class ControlChart:
    """What is drawn, its middle and limits, and the places (from 0) outside them."""

    values: tuple[float, ...]
    middle: float
    low: float
    high: float

    @property
    def outside(self) -> tuple[int, ...]:
        """Places of the values beyond the limits."""
        return tuple(
            place
            for place, value in enumerate(self.values)
            if not self.low <= value <= self.high
        )


def individuals(values: Sequence[float]) -> ControlChart:
    """Return the individuals chart: mean +- 3 mean moving ranges / 1.128."""
    if len(values) < 2:
        raise ValueError("a moving range needs two values")
    middle = math.fsum(values) / len(values)
    reach = 3 * moving_deviation(values)
    return ControlChart(tuple(values), middle, middle - reach, middle + reach)


def moving_deviation(values: Sequence[float]) -> float:
    """Return the deviation of single readings, by the distances between neighbours."""
    steps = [abs(b - a) for a, b in pairwise(values)]
    return math.fsum(steps) / len(steps) / _D2


def ewma(
    values: Sequence[float], start: float, deviation: float, weight: float = 0.3
) -> ControlChart:
    """Return the exponentially weighted moving average and its 3-sigma limits.

    ``start`` is the value that ought to be, ``deviation`` that of single readings; the
    limits are those of a long series.
    """
    shown, last = [], start
    for value in values:
        last = weight * value + (1 - weight) * last
        shown.append(last)
    reach = 3 * deviation * math.sqrt(weight / (2 - weight))
    return ControlChart(tuple(shown), start, start - reach, start + reach)
