"""Conformance probability and the verdict that follows, in three ways.

Sources: JCGM 106:2012 7.2 to 7.4 (conformance probability for a normal distribution)
and 8.3 (guard bands); ISO/IEC 17025:2017 7.8.6 (the decision rule is stated with the
result). Clauses from memory.

A result is *good* where it is proven to lie within its limits, *faulty* where a good
part would hardly have given it, with the same risk alpha both ways. Faulty is asked of
the limits and not of the probability within: a result so uncertain that it could lie
beyond either limit is inconclusive, though little of its probability lies within.

Of a result of which only one side is known, the probabilities are bounds: it is decided
where even the end that is known lies far enough beyond a limit, or within.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache
from statistics import NormalDist

from auditkit.bench.one_sided import Known
from auditkit.errors import InputError

ALPHA = 0.05
"""The risk of a wrong verdict where none is stated."""

_NORMAL = NormalDist()
_HALVINGS = 60  # of an interval under 1: beyond the digits of a float


class BenchOutcome(StrEnum):
    """What a bench test says of a part."""

    FAULTY = "faulty"
    GOOD = "good"
    INCONCLUSIVE = "inconclusive"
    NOT_VALID = "not-valid"


@dataclass(frozen=True, slots=True)
class Decision:
    """A verdict with the probabilities behind it.

    ``probability`` that the true value lies within: of a one-sided result the least
    (good) or the most (faulty) that it can be, None where it can be anything.
    ``chance`` with which a part at its limit would give such a result, or one further
    beyond; ``risk`` of calling the part good.
    """

    outcome: BenchOutcome
    probability: float | None
    chance: float
    risk: float


def probability_below(limit: float, value: float, uncertainty: float) -> float:
    """Return P(true value <= limit), given a value and its standard uncertainty."""
    if uncertainty == 0:
        return 1.0 if value <= limit else 0.0
    return _NORMAL.cdf((limit - value) / uncertainty)


def probability_above(limit: float, value: float, uncertainty: float) -> float:
    """Return P(true value >= limit), given a value and its standard uncertainty."""
    return probability_below(-limit, -value, uncertainty)


def guard_band(uncertainty: float, alpha: float = ALPHA) -> float:
    """Return how far within (or beyond) one limit a value must lie for a verdict.

    ISO 14253-1:2017 takes alpha = 0.05, 1.645 u (from memory).
    """
    return _NORMAL.inv_cdf(1 - alpha) * uncertainty


def decided_at(
    alpha: float, points: int = 1, power: float = 0.95, width: float = math.inf
) -> float:
    """Return how many u beyond its limit one point is called faulty with ``power``.

    That is the guard band and what the reading itself scatters: 3.29 u for one point at
    alpha = 0.05. ``width`` is the distance in u to the other limit: close limits ask
    for more, up to 3.60 u where both are one, since chance may go past either.
    """
    each = alpha / points
    low, high = guard_band(1.0, each), guard_band(1.0, each / 2)
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        is_short = _chance(-middle, 1.0, width) > each
        low, high = (middle, high) if is_short else (low, middle)
    return low + _NORMAL.inv_cdf(power)


def cleared_at(alpha: float, points: int = 1, power: float = 0.95) -> float:
    """Return how many u within its limit each point is called good with ``power``.

    Then no point has more than alpha / points of the risk, in as many tests as
    ``power`` says: 3.29 u for one point at alpha = 0.05.
    """
    each = 1 - (1 - power) / points
    return guard_band(1.0, alpha / points) + _NORMAL.inv_cdf(each)


@lru_cache(maxsize=64)
def rule_text(alpha: float, points: int = 1) -> str:
    """Return the decision rule in words, as ISO/IEC 17025:2017 7.8.6 asks.

    ``points`` are compared with the limit in one test.
    """
    sure = f"{round(100 * (1 - alpha), 6):g} %"
    faulty = f"{round(100 * (1 - alpha / points), 3):g} %"
    within, beyond = guard_band(1.0, alpha), guard_band(1.0, alpha / points)
    band, whole = f"a guard band of {within:.3f} u on either side of it", ""
    if points > 1:
        band = f"a guard band of {within:.3f} u within it and {beyond:.3f} u beyond"
        whole = f", which over {points} comparisons is {sure} of the whole test"
    return (
        f"good where the result lies within the limit with a probability of {sure} or "
        f"more, faulty where it lies beyond one limit with {faulty} or more{whole}, "
        f"else inconclusive; normal distribution (JCGM 106:2012), alpha {alpha:g}; for "
        f"one limit this is {band}; what lies {decided_at(alpha, points):.2f} u beyond "
        f"it, or all {cleared_at(alpha, points):.2f} u within, is found with 95 %. "
        "Decision rule stated after ISO/IEC 17025:2017, 7.8.6"
    )


def check_alpha(alpha: float) -> None:
    """Raise InputError for a risk that does not lie between 0 and 0.5."""
    if not 0 < alpha < 0.5:  # a half is a coin
        raise InputError(
            f"alpha {alpha:g} is not between 0 and 0.5", what_to_do="0.05 is usual"
        )


def check_limits(minimum: float | None, maximum: float | None) -> None:
    """Raise InputError for no limit, and for limits that cross."""
    if minimum is None and maximum is None:
        raise InputError(
            "there is no limit",
            what_to_do="give a minimum or a maximum with its source",
        )
    if minimum is not None and maximum is not None and minimum > maximum:
        raise InputError(
            f"the minimum {minimum:g} lies above the maximum {maximum:g}",
            what_to_do="exchange them",
        )


def _chance(inside: float, uncertainty: float, width: float) -> float:
    """Return the chance that a part at one limit reads so, or as far past the other.

    ``inside`` is the distance from that limit, below zero where the value is beyond;
    ``width`` the one between both. Between limits closer than u a good part is read
    beyond one of them twice as often.
    """
    if uncertainty == 0:
        return 0.0 if inside < 0 else 1.0
    far = (inside - width) / uncertainty
    return _NORMAL.cdf(inside / uncertainty) + _NORMAL.cdf(far)


def decide(  # noqa: PLR0913  a value, its limits, and how it is known
    value: float,
    uncertainty: float,
    *,
    minimum: float | None = None,
    maximum: float | None = None,
    alpha: float = ALPHA,
    known: Known = "",
    points: int = 1,
) -> Decision:
    """Return the verdict on one value with its standard uncertainty.

    Limits are inclusive. With ``known`` the value is only the end of where the result
    lies. Each of several ``points`` of a test may call it faulty with alpha / points
    only (Bonferroni), so that all together do with alpha. Raises InputError for no
    limit, limits that cross, and alpha outside 0 to 0.5.
    """
    check_limits(minimum, maximum)
    check_alpha(alpha)
    below = above = 0.0
    if minimum is not None and not (uncertainty == 0 and value >= minimum):
        below = probability_below(minimum, value, uncertainty)
    if maximum is not None and not (uncertainty == 0 and value <= maximum):
        above = probability_above(maximum, value, uncertainty)
    # A value that may lie anywhere on a side may lie beyond a limit there, or not.
    risk = 0.0
    if minimum is not None:
        risk += 1.0 if known in {"below", "neither"} else below
    if maximum is not None:
        risk += 1.0 if known in {"above", "neither"} else above
    width = math.inf
    if minimum is not None and maximum is not None:
        width = maximum - minimum
    chance = 1.0
    if minimum is not None and below and known in {"", "below"}:
        chance = _chance(value - minimum, uncertainty, width)
    if maximum is not None and above and known in {"", "above"}:
        chance = min(chance, _chance(maximum - value, uncertainty, width))
    outcome, probability = BenchOutcome.INCONCLUSIVE, None if known else 1 - risk
    if risk <= alpha:
        outcome, probability = BenchOutcome.GOOD, 1 - risk
    elif chance <= alpha / points:
        outcome, probability = BenchOutcome.FAULTY, chance if known else 1 - risk
    if probability is not None:
        probability = max(0.0, probability)
    return Decision(outcome, probability, chance, min(risk, 1.0))
