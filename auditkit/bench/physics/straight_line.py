"""The straight line of least squares through points (NIST StRD linear regression).

Works on exact fractions and on uncertain numbers alike: it only adds, multiplies and
divides.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from auditkit.bench.uncertainty import Uncertain
from auditkit.errors import InputError


@dataclass(frozen=True, slots=True)
class FittedLine:
    """y = intercept + slope x, and what it leaves of each y."""

    slope: Uncertain
    intercept: Uncertain
    residuals: tuple[Uncertain, ...]


def line_through(x: Sequence[Uncertain], y: Sequence[Uncertain]) -> FittedLine:
    """Return the line through points; InputError where all x are the same."""
    mean_x, mean_y = sum(x) / len(x), sum(y) / len(y)
    spread = sum((a - mean_x) * (a - mean_x) for a in x)
    if spread == 0:
        raise InputError(
            "all points have the same stimulus", what_to_do="measure at different ones"
        )
    together = sum((a - mean_x) * (b - mean_y) for a, b in zip(x, y, strict=True))
    slope = together / spread
    intercept = mean_y - slope * mean_x
    residuals = (b - intercept - slope * a for a, b in zip(x, y, strict=True))
    return FittedLine(slope, intercept, tuple(residuals))
