"""A computed bench test as lines of text."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from auditkit.bench.uncertainty import COVERAGE, COVERAGE_PROBABILITY
from auditkit.order.statement import DEFERS
from auditkit.output.budget_table import budget_json, budget_lines, share_text

if TYPE_CHECKING:
    from auditkit.bench import BenchResult
    from auditkit.bench.inputs import Limit

TYPED = "counts as typed"
"""Said before why an instrument was not in check."""

_SAID = {
    "faulty": "faulty: outside its limit beyond the uncertainty",
    "good": "good: within its limit beyond the uncertainty",
    "inconclusive": "inconclusive: what was read does not decide it",
    "not-valid": "not valid: this test decides nothing",
}

_BY_RULE = _SAID | {
    "faulty": "faulty: shown by the rule below",
    "good": "good: shown by the rule below",
}
"""Said of a kind that decides by a rule of its own, without a limit."""

_AS_TYPED = {
    "faulty": "faulty, as typed: shown by an instrument that was not in check",
    "good": "good, as typed: shown by an instrument that was not in check",
}


def bench_lines(name: str, found: BenchResult) -> list[str]:
    """Return the answer first, then the values, then what would settle it."""
    lines = _answer(name, found)
    lines += budget_lines(found)
    lines += [f"    note: {note}" for note in found.notes]
    lines += _to_do(found)
    if found.decision_rule:
        lines.append(f"    decision rule: {found.decision_rule}")
    return [*lines, DEFERS]


def short_bench_lines(name: str, found: BenchResult) -> list[str]:
    """Return the answer, the values and what would settle it, as told in the bay."""
    return [*_answer(name, found), *_to_do(found)]


def _answer(name: str, found: BenchResult) -> list[str]:
    lines = [f"{name}: {answer_text(found)}"]
    lines += [f"    because {reason}" for reason in found.reasons]
    lines += [f"    {TYPED}: {why}" for why in found.unchecked]
    if found.result is not None:
        lines.append(f"    {found.result}")
    if found.limit is not None:
        lines.append(f"    limit: {found.limit}{_source(found.limit)}")
    if share := probability_text(found):
        lines.append(f"    probability that the true value lies within it: {share}")
    if found.comparison is not None:
        lines.append(f"    {found.comparison.text}")
    return lines + [f"    beside it: {other}" for other in found.others]


def _to_do(found: BenchResult) -> list[str]:
    lines = [f"    ask: {doubt}" for doubt in found.doubts]
    return lines + [f"    what to do: {hint}" for hint in found.settles]


def _source(limit: Limit) -> str:
    """Return where a limit comes from, to stand after it; empty where nobody says."""
    source = limit.source.strip()
    return f", from {source}" if source else ""


def answer_text(found: BenchResult) -> str:
    """Return the answer in words."""
    said = _SAID if found.limit is not None or not found.decision_rule else _BY_RULE
    if found.unchecked:
        said = said | _AS_TYPED
    return said[found.outcome.value]


def probability_text(found: BenchResult) -> str:
    """Return the probability of lying within the limit; empty where it is not known."""
    if found.probability is None:
        return ""
    share = share_text(found.probability)
    return f"{_side(found)}{share}" if share[0].isdigit() else share


def _side(found: BenchResult) -> str:
    """Return on which side a probability is known, where the result is a bound."""
    if found.result is None or not found.result.value.bound:
        return ""
    return "at least " if found.outcome.value == "good" else "at most "


def bench_json(found: BenchResult) -> dict[str, object]:
    """Return a result as ``bench --format json`` prints it."""
    result, compared = found.result, found.comparison
    return {
        "kind": found.kind,
        "outcome": found.outcome.value,
        "result": None
        if result is None
        else {
            "name": result.name,
            "value": result.value.text,
            "bound": result.value.bound,
            "unit": result.value.unit,
            "standard_uncertainty": None
            if result.is_typed
            else result.standard_uncertainty.text,
            "expanded_uncertainty": None
            if result.is_typed
            else result.expanded_uncertainty.text,
            "coverage_factor": COVERAGE,
            "coverage_probability": COVERAGE_PROBABILITY,
            "effective_degrees_of_freedom": found.effective_dof
            if math.isfinite(found.effective_dof)
            else None,
        },
        "budget": budget_json(found),
        "probability_within": found.probability,
        "alpha": found.alpha,
        "decision_rule": found.decision_rule,
        "reasons": list(found.reasons),
        "settles": list(found.settles),
        "notes": list(found.notes),
        "doubts": list(found.doubts),
        "unchecked": list(found.unchecked),
        "comparison": None if compared is None else compared.text,
    }
