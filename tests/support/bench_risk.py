"""How often the decision rule is wrong, and how often it decides, by drawing errors.

Draws are numpy's; each is decided by the software itself. Distances are in standard
uncertainties of one point, errors are normal, of which a share is the same for all
points of a draw. The grid: 1, 2, 4 and 10 points; one limit, and two limits 12, 1 and 0
apart; none, half and 95 % of the variance shared.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from uncertainties import ufloat

from auditkit.bench import Limit
from auditkit.bench.computed import Computed, Judged
from auditkit.bench.decision import BenchOutcome, cleared_at, decide, decided_at
from auditkit.bench.judging import judgement_of
from auditkit.bench.uncertainty import few_readings_factor
from auditkit.bench.units import QuantityKind, unit_of

POINTS = (1, 2, 4, 10)
WIDTHS = (math.inf, 12.0, 1.0, 0.0)
SHARES = (0.0, 0.5, 0.95)

_JUDGED = Judged("x", QuantityKind.RATIO, "1")
_UNIT = unit_of("1", QuantityKind.RATIO)


@dataclass(frozen=True)
class Cell:
    """One cell of the grid; the limit that is at stake is 0, good lies below it."""

    points: int
    width: float
    share: float

    def __str__(self) -> str:
        apart = "one limit" if math.isinf(self.width) else f"{self.width:g} u apart"
        return f"{self.points:>2} points, {apart:<10}, {self.share:.0%} shared"

    @property
    def middle(self) -> float:
        """Return where a point lies well within; as well as it can."""
        return -min(self.width / 2, 6.0)

    def truths(self, one: float, others: float | None = None) -> np.ndarray:
        """Return true values: one point, and all others (by default in the middle)."""
        found = np.full(self.points, self.middle if others is None else others)
        found[0] = one
        return found

    def shares_of(self, truths: np.ndarray, draws: int, alpha: float, seed: int):
        """Return which share of the draws is called faulty, and which good."""
        rng = np.random.default_rng(seed)
        own = rng.standard_normal((draws, self.points))
        common = rng.standard_normal((draws, 1))
        errors = math.sqrt(1 - self.share) * own + math.sqrt(self.share) * common
        low = None if math.isinf(self.width) else f"{-self.width}"
        limit = Limit("1", "invented", low, "0")
        found = [
            judgement_of(
                Computed(_JUDGED, tuple(ufloat(value, 1.0) for value in values)),
                _UNIT,
                limit,
                alpha,
            ).decision.outcome
            for values in truths + errors
        ]
        return rates(found)


def rates(found: list[BenchOutcome]) -> tuple[float, float]:
    """Return the shares of faulty and of good."""
    many = len(found)
    return (
        sum(f is BenchOutcome.FAULTY for f in found) / many,
        sum(f is BenchOutcome.GOOD for f in found) / many,
    )


def grid() -> Iterator[Cell]:
    """Return the cells; one point shares nothing with others."""
    for points, width, share in itertools.product(POINTS, WIDTHS, SHARES):
        if points > 1 or share == 0:
            yield Cell(points, width, share)


@dataclass(frozen=True)
class Rates:
    """What one cell gives: two errors, which alpha bounds, and two powers.

    ``false_alarm``: the larger of all points at their limit and of one there;
    ``false_good``: one point at its limit. ``found``: one point at the distance of 95 %
    beyond; ``cleared``: one point 3.29 u within, the others further; NaN where the
    limits lie too close together for that. ``all_cleared``: all of them within by the
    distance at which all are cleared.
    """

    false_alarm: float
    false_good: float
    found: float
    cleared: float
    all_cleared: float


def rates_of(cell: Cell, draws: int, alpha: float, seed: int = 1) -> Rates:
    """Return the rates of one cell."""
    far, near = decided_at(alpha, cell.points, width=cell.width), decided_at(alpha)
    is_wide = cell.width >= 12
    at_limit = cell.truths(0.0)
    faulty, good = cell.shares_of(at_limit, draws, alpha, seed)
    everywhere, _ = cell.shares_of(cell.truths(0.0, 0.0), draws, alpha, seed + 1)
    found, _ = cell.shares_of(cell.truths(far), draws, alpha, seed + 2)
    cleared = all_cleared = math.nan
    if is_wide:
        _, cleared = cell.shares_of(cell.truths(-near), draws, alpha, seed + 3)
        within = -min(cleared_at(alpha, cell.points), cell.width / 2)
        truths = cell.truths(within, within)
        _, all_cleared = cell.shares_of(truths, draws, alpha, seed + 4)
    return Rates(max(faulty, everywhere), good, found, cleared, all_cleared)


def spread_of_a_set(
    members: int, low: int, u: float, draws: int, alpha: float
) -> tuple[float, float]:
    """Return the shares of faulty and good of a set whose lowest are at the limit.

    ``low`` members are at 75, the others at 100, at least 75 % is asked; u is that of
    each reading for itself. The ratio's uncertainty is of first order, as the
    software's.
    """
    rng = np.random.default_rng(7)
    truths = np.full(members, 100.0)
    truths[:low] = 75.0
    read = truths + u * rng.standard_normal((draws, members))
    lowest, highest = read.min(axis=1), read.max(axis=1)
    values = lowest / highest
    wide = u / highest * np.sqrt(1 + values**2)
    pairs = members * (members - 1) // 2
    return rates(
        [
            decide(v, w, minimum=0.75, alpha=alpha, points=pairs).outcome
            for v, w in zip(values.tolist(), wide.tolist(), strict=True)
        ]
    )


def repeated(readings: int, truth: float, draws: int, alpha: float):
    """Return the shares of faulty and good of a mean that only scatters.

    ``truth`` is in standard deviations of the mean; at most 0 is good.
    """
    rng = np.random.default_rng(11)
    read = truth * math.sqrt(1 / readings) + rng.standard_normal((draws, readings))
    means = read.mean(axis=1)
    factor = few_readings_factor(readings - 1, alpha)
    wide = read.std(axis=1, ddof=1) / math.sqrt(readings) * factor
    return rates(
        [
            decide(m, w, maximum=0.0, alpha=alpha).outcome
            for m, w in zip(means.tolist(), wide.tolist(), strict=True)
        ]
    )
