"""Conformance probability and the verdict that follows, in three ways.

Sources: JCGM 106:2012 7.2 to 7.4 (conformance probability for a normal distribution)
and 8.3 (guard bands); ISO/IEC 17025:2017 7.8.6 (the decision rule is stated with the
result). Clauses from memory.

A result is *good* where it is proven to lie within its limits, *faulty* where it is
proven to lie beyond one of them, with the same risk alpha both ways. Faulty is asked
one side at a time: a result so uncertain that it could lie beyond either limit is
inconclusive, though little of its probability lies within.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from statistics import NormalDist

from auditkit.errors import InputError

ALPHA = 0.05
"""The risk of a wrong verdict where none is stated."""

_NORMAL = NormalDist()


class Outcome(StrEnum):
    """What a bench test says of a part."""

    FAULTY = "faulty"
    GOOD = "good"
    INCONCLUSIVE = "inconclusive"
    NOT_VALID = "not-valid"


@dataclass(frozen=True, slots=True)
class Decision:
    """A verdict with the probability behind it and the rule that led to it."""

    outcome: Outcome
    probability: float
    beyond: float
    alpha: float
    rule: str


def probability_below(limit: float, value: float, uncertainty: float) -> float:
    """Return P(true value <= limit), given a value and its standard uncertainty."""
    if uncertainty == 0:
        return 1.0 if value <= limit else 0.0
    return _NORMAL.cdf((limit - value) / uncertainty)


def probability_above(limit: float, value: float, uncertainty: float) -> float:
    """Return P(true value >= limit), given a value and its standard uncertainty."""
    return probability_below(-limit, -value, uncertainty)


def _outside(
    value: float, uncertainty: float, minimum: float | None, maximum: float | None
) -> tuple[float, float]:
    """Return the probabilities of lying below the minimum and above the maximum."""
    low = high = 0.0
    if minimum is not None:
        inside = uncertainty == 0 and value >= minimum
        low = 0.0 if inside else probability_below(minimum, value, uncertainty)
    if maximum is not None:
        inside = uncertainty == 0 and value <= maximum
        high = 0.0 if inside else probability_above(maximum, value, uncertainty)
    return low, high


def guard_band(uncertainty: float, alpha: float = ALPHA) -> float:
    """Return how far within (or beyond) one limit a value must lie for a verdict.

    ISO 14253-1:2017 takes alpha = 0.05, 1.645 u (from memory).
    """
    return _NORMAL.inv_cdf(1 - alpha) * uncertainty


def rule_text(alpha: float) -> str:
    """Return the decision rule in words, as ISO/IEC 17025:2017 7.8.6 asks."""
    sure = f"{round(100 * (1 - alpha), 6):g} %"
    band = f"{guard_band(1.0, alpha):.3f}"
    return (
        f"good where the result lies within the limit with a probability of {sure} or "
        f"more, faulty where it lies beyond one limit with {sure} or more, else "
        f"inconclusive; normal distribution (JCGM 106:2012), alpha {alpha:g}; for one "
        f"limit this is a guard band of {band} u on either side of it. Decision rule "
        "stated after ISO/IEC 17025:2017, 7.8.6"
    )


def check_alpha(alpha: float) -> None:
    """Raise InputError for a risk that is none: not between 0 and 0.5."""
    if not 0 < alpha < 0.5:  # noqa: PLR2004  a half is a coin
        message = f"alpha {alpha:g} is not between 0 and 0.5"
        raise InputError(message, what_to_do="0.05 is usual")


def decide(
    value: float,
    uncertainty: float,
    *,
    minimum: float | None = None,
    maximum: float | None = None,
    alpha: float = ALPHA,
) -> Decision:
    """Return the verdict on one value with its standard uncertainty.

    Limits are inclusive. Raises InputError for no limit, limits that cross, and
    alpha outside 0 to 0.5.
    """
    if minimum is None and maximum is None:
        message = "there is no limit"
        raise InputError(
            message, what_to_do="give a minimum or a maximum with its source"
        )
    if minimum is not None and maximum is not None and minimum > maximum:
        message = f"the minimum {minimum:g} lies above the maximum {maximum:g}"
        raise InputError(
            message,
            what_to_do="exchange them",
        )
    check_alpha(alpha)
    outside = _outside(value, uncertainty, minimum, maximum)
    within = max(0.0, 1.0 - sum(outside))
    beyond = max(outside)
    outcome = Outcome.INCONCLUSIVE
    if sum(outside) <= alpha:
        outcome = Outcome.GOOD
    elif 1 - beyond <= alpha:
        outcome = Outcome.FAULTY
    return Decision(outcome, within, beyond, alpha, rule_text(alpha))
