"""A computed bench test as lines of text."""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING

from auditkit.order.statement import DEFERS

if TYPE_CHECKING:
    from auditkit.bench import BenchResult

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


def bench_lines(name: str, found: BenchResult) -> list[str]:
    """Return the answer first, then the values, then what would settle it."""
    said = _SAID if found.limit is not None or not found.decision_rule else _BY_RULE
    lines = [f"{name}: {said[found.outcome.value]}"]
    lines += [f"    because {reason}" for reason in found.reasons]
    if found.result is not None:
        lines.append(f"    {found.result}")
    if found.limit is not None:
        lines.append(f"    limit: {found.limit}, from {found.limit.source}")
    if found.probability is not None:
        share = share_text(found.probability)
        share = f"{_side(found)}{share}" if share[0].isdigit() else share
        lines.append(f"    probability that the true value lies within it: {share}")
    if found.comparison is not None:
        lines.append(f"    {found.comparison.text}")
    lines += [f"    beside it: {other}" for other in found.others]
    unit = found.result.value.unit if found.result is not None else ""
    for c in found.components:
        spread = f"{plain(c.standard_uncertainty)} {unit}"
        lines.append(f"    standard uncertainty from {c.name}: {spread}")
    lines += [f"    note: {note}" for note in found.notes]
    lines += [f"    next: {hint}" for hint in found.settles]
    if found.decision_rule:
        lines.append(f"    decision rule: {found.decision_rule}")
    return [*lines, DEFERS]


def _side(found: BenchResult) -> str:
    """Return on which side a probability is known, where the result is a bound."""
    if found.result is None or not found.result.value.bound:
        return ""
    return "at least " if found.outcome.value == "good" else "at most "


_TENTH = 0.001
"""The smallest share that one digit after the point shows: a tenth of a percent."""


def share_text(share: float) -> str:
    """Return a probability (0 to 1) in percent; near 0 or 1, only that it is near."""
    if share < _TENTH:
        return "below 0.1 %"
    if share > 1 - _TENTH:
        return "above 99.9 %"
    return f"{100 * share:.1f} %"


def plain(number: float) -> str:
    """Return a number to two significant digits, never with an exponent."""
    return f"{Decimal(f'{number:.2g}'):f}"


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
            "standard_uncertainty": result.standard_uncertainty.text,
            "expanded_uncertainty": result.expanded_uncertainty.text,
        },
        "probability_within": found.probability,
        "alpha": found.alpha,
        "decision_rule": found.decision_rule,
        "reasons": list(found.reasons),
        "settles": list(found.settles),
        "notes": list(found.notes),
        "comparison": None if compared is None else compared.text,
    }
