"""From a computed quantity and a limit to a verdict over all its points."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import partial

from auditkit.bench.computed import Computed, in_unit
from auditkit.bench.decision import BenchOutcome, Decision, decide, rule_text
from auditkit.bench.holding import Bounds, why_no_fault, why_not_valid
from auditkit.bench.inputs import Limit
from auditkit.bench.one_sided import Known
from auditkit.bench.result import BenchResult
from auditkit.bench.settling import what_would_settle
from auditkit.bench.units import Unit, exact


@dataclass(frozen=True, slots=True)
class PointsDecision:
    """The decision over all points, and the place of the one nearest to failing."""

    decision: Decision
    worst: int
    bounds: Bounds


def judgement_of(
    computed: Computed,
    unit: Unit,
    limit: Limit,
    alpha: float,
    *,
    by_value: bool = False,
) -> PointsDecision:
    """Return the decision over all points.

    *Good* needs a probability of 1 - alpha that all points lie within (their risks are
    added up, which is on the safe side); *faulty* that one point lies beyond, with
    1 - alpha/n of n points, so that alpha is the risk of the whole test. ``by_value``
    leaves the uncertainty out, as of a value that is written by hand.
    """
    low, high = (
        None if text is None else float(exact(text))
        for text in (limit.minimum, limit.maximum)
    )
    values = [in_unit(v, unit) for v in computed.values]
    decisions = [
        decide(
            number,
            0.0 if by_value else uncertainty,
            minimum=low,
            maximum=high,
            alpha=alpha,
            known=computed.known_at(i),
            points=computed.chances,
        )
        for i, (number, uncertainty) in enumerate(values)
    ]

    def failing(place: int) -> tuple[bool, float]:
        is_faulty = decisions[place].outcome is BenchOutcome.FAULTY
        beyond = _beyond(values[place], (low, high), computed.known_at(place))
        return is_faulty, beyond

    worst = max(range(len(values)), key=failing)
    decision = decisions[worst]
    if decision.outcome is not BenchOutcome.FAULTY:
        risk = math.fsum(d.risk for d in decisions)
        probability = max(0.0, 1 - risk)
        if risk <= alpha:
            decision = replace(
                decision, outcome=BenchOutcome.GOOD, probability=probability
            )
        else:
            known = all(d.probability is not None for d in decisions)
            decision = replace(
                decision,
                outcome=BenchOutcome.INCONCLUSIVE,
                probability=probability if known else None,
            )
    return PointsDecision(decision, worst, (low, high))


def _beyond(value: tuple[float, float], bounds: Bounds, known: Known) -> float:
    """Return how far beyond a limit a value lies, in standard uncertainties.

    A value that may lie beyond, as far as is known, comes before all that lie within.
    """
    number, uncertainty = value
    low, high = bounds
    past = max(
        low - number if low is not None else -math.inf,
        number - high if high is not None else -math.inf,
    )
    open_low = low is not None and known in {"below", "neither"}
    open_high = high is not None and known in {"above", "neither"}
    if open_low or open_high:
        past = max(past, 0.0)
    return past / uncertainty if uncertainty else math.copysign(math.inf, past)


def with_verdict(
    result: BenchResult,
    computed: Computed,
    unit: Unit,
    judgement: PointsDecision,
    settles: tuple[str, ...],
) -> BenchResult:
    """Return a measured result with its verdict and what would settle it."""
    decision, bounds, alpha = judgement.decision, judgement.bounds, result.alpha
    chances = computed.chances
    rule = rule_text(alpha, chances)
    told = partial(replace, result, decision_rule=rule, comparisons=chances)
    blocked, no_fault = computed.blocked, computed.no_fault
    if computed.held is not None:
        blocked = blocked or why_not_valid(computed.held, unit, bounds, alpha)
        value = computed.values[judgement.worst]
        no_fault = no_fault or why_no_fault(computed.held, value, unit, bounds, alpha)
    if blocked:
        outcome, reasons = BenchOutcome.NOT_VALID, (blocked,)
        return told(outcome=outcome, reasons=reasons, settles=settles)
    told = partial(told, probability=decision.probability)
    if decision.outcome is BenchOutcome.FAULTY and no_fault:
        outcome, reasons = BenchOutcome.INCONCLUSIVE, (no_fault,)
        return told(outcome=outcome, reasons=reasons, settles=settles)
    told = partial(told, outcome=decision.outcome)
    if decision.outcome is BenchOutcome.INCONCLUSIVE:
        hints = what_would_settle(
            in_unit(computed.values[judgement.worst], unit),
            result.components,
            bounds,
            alpha / computed.chances,
            unit.symbol,
            computed.known_at(judgement.worst),
        )
        return told(settles=(*hints, *settles))
    return told()
