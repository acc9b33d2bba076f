"""A computed bench test as lines of text."""

from __future__ import annotations

from typing import TYPE_CHECKING

from auditkit.statement import DEFERS

if TYPE_CHECKING:
    from auditkit.bench import BenchResult

_SAID = {
    "faulty": "faulty: outside its limit beyond the uncertainty",
    "good": "good: within its limit beyond the uncertainty",
    "inconclusive": "inconclusive: the uncertainty does not let it be decided",
    "not-valid": "not valid: this test decides nothing",
}


def bench_lines(name: str, found: BenchResult) -> list[str]:
    """Return the answer first, then the values, then what would settle it."""
    lines = [f"{name}: {_SAID[found.outcome.value]}"]
    lines += [f"    because {reason}" for reason in found.reasons]
    if found.result is not None:
        lines.append(f"    {found.result}")
    if found.limit is not None:
        lines.append(f"    limit: {found.limit}, from {found.limit.source}")
    if found.probability is not None:
        share = f"{found.probability:.1%}"
        lines.append(f"    probability that the true value lies within it: {share}")
    if found.comparison is not None:
        lines.append(f"    {found.comparison.text}")
    lines += [f"    beside it: {other}" for other in found.others]
    unit = found.result.value.unit if found.result is not None else ""
    lines += [
        f"    standard uncertainty from {c.name}: {c.standard_uncertainty:.2g} {unit}"
        for c in found.components
    ]
    lines += [f"    note: {note}" for note in found.notes]
    lines += [f"    next: {hint}" for hint in found.settles]
    if found.decision_rule:
        lines.append(f"    decision rule: {found.decision_rule}")
    return [*lines, DEFERS]


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
