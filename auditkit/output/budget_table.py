"""The uncertainty budget of a bench test, as text for every form that shows it.

One row for each input that the result hangs on, from the same variables that the result
was computed with. Columns after EA-4/02 M:2022, section 7, and the GUM's Table H.1
(from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING

from auditkit.bench.result import stated
from auditkit.bench.uncertainty import COVERAGE, COVERAGE_PROBABILITY, combined
from auditkit.bench.units import Reference

if TYPE_CHECKING:
    from auditkit.bench import BenchResult
    from auditkit.bench.uncertainty import Component

MANY = 30
"""From so many effective degrees of freedom on, k = 2 covers 95 % (GUM Table G.2)."""

_TENTH = 0.001
"""The smallest share that one digit after the point shows: a tenth of a percent."""

COVERED = f"k = {COVERAGE}, about {100 * COVERAGE_PROBABILITY:.0f} %"
"""The coverage factor with its probability, where there is room for a few words."""


@dataclass(frozen=True, slots=True)
class BudgetRow:
    """One input, in words and digits; an empty text where there is nothing to say.

    ``share`` is of the result's variance, 0 to 1.
    """

    name: str
    basis: str
    value: str
    evaluation: str
    distribution: str
    uncertainty: str
    dof: str
    sensitivity: str
    contribution: str
    share: float


def budget_rows(found: BenchResult) -> tuple[BudgetRow, ...]:
    """Return the rows of a result's budget, largest contribution first."""
    total = combined(found.components)
    unit = spread_unit(found.result.value.unit) if found.result is not None else ""
    return tuple(_row(c, unit, total) for c in found.components)


def _row(component: Component, unit: str, total: float) -> BudgetRow:
    sources, u = component.sources, component.input_uncertainty
    value = spread = per = ""
    if sources:
        first = sources[0]
        values = {s.value for s in sources}
        if u is None:
            each = {plain(s.standard_uncertainty): s for s in sources}
            spread = " and ".join(
                f"{text} {s.unit}".rstrip() for text, s in each.items()
            )
        elif len(values) == 1:
            told = stated("", first.value, u, first.unit)
            value = f"{told.value.text} {first.unit}".rstrip()
        if u is not None:
            spread = _with(plain(u), first.unit)
    if component.sensitivity is not None:
        over = spread_unit(sources[0].unit)
        units = "" if over == unit else f" {unit}{' per ' if over else ''}{over}"
        per = f"{plain(component.sensitivity)}{units}"
    contribution = component.standard_uncertainty
    return BudgetRow(
        name=component.name,
        basis=_basis(component),
        value=value,
        evaluation=f"type {component.evaluation}",
        distribution=", ".join(dict.fromkeys(str(s.distribution) for s in sources)),
        uncertainty=spread,
        dof=dof_text(component.dof),
        sensitivity=per,
        contribution=_with(plain(contribution), unit),
        share=(contribution / total) ** 2 if total else 0.0,
    )


def spread_unit(unit: str) -> str:
    """Return the unit of an uncertainty: what a pressure is measured against is gone.

    An uncertainty is a width, be the pressure absolute or not.
    """
    for reference in Reference:
        unit = unit.removesuffix(f" ({reference})")
    return unit


def _with(number: str, unit: str) -> str:
    return f"{number} {spread_unit(unit)}".rstrip()


def _basis(component: Component) -> str:
    """Return how an input is known, and which quantities have it in common."""
    said = "; ".join(dict.fromkeys(s.basis for s in component.sources))
    names = tuple(dict.fromkeys(s.quantity for s in component.sources))
    if len(names) > 1:
        said += f"; common to {', '.join(names)}"
    elif names and names[0] not in component.name:
        said += f"; of {names[0]}"
    return said


def combined_text(found: BenchResult) -> str:
    """Return the combined standard uncertainty of a result that has one."""
    if found.result is None:
        return ""
    u = found.result.standard_uncertainty
    return _with(u.text, u.unit)


def expanded_text(found: BenchResult) -> str:
    """Return the expanded uncertainty with k and what it covers.

    That of a count is no width of a normal distribution.
    """
    if found.result is None:
        return ""
    expanded = found.result.expanded_uncertainty
    if not found.components:
        return f"{_with(expanded.text, expanded.unit)}, {COVERED}"
    covers = f"{100 * COVERAGE_PROBABILITY:.2f} % of a normal distribution"
    return f"{_with(expanded.text, expanded.unit)}, k = {COVERAGE}, covers {covers}"


def dof_note(found: BenchResult) -> str:
    """Return the effective degrees of freedom where they matter, and what they mean.

    They matter where the budget has an input of few readings.
    """
    dof = found.effective_dof
    if not math.isfinite(dof):
        return ""
    said = f"effective degrees of freedom {dof:.1f} (Welch-Satterthwaite, GUM G.4.1)"
    widened = any(c.widened > 1 for c in found.components)
    if widened:
        return (
            f"{said}; what few readings scatter is widened by Student's t already, "
            f"so that k = {COVERAGE} keeps its meaning"
        )
    if dof < MANY:
        return f"{said}: k = {COVERAGE} covers less than of a normal distribution"
    return said


def dof_text(dof: float) -> str:
    """Return degrees of freedom in words and digits."""
    return f"{dof:.3g}" if math.isfinite(dof) else "endless"


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


def budget_lines(found: BenchResult) -> list[str]:
    """Return the budget as lines of text, one for each input; none without inputs."""
    rows = budget_rows(found)
    if not rows:
        return []
    one_sided = found.result is not None and found.result.value.bound
    of = ", of the end that is known" if one_sided else ""
    head = f"what makes it unsure (uncertainty budget{of})"
    lines = [f"    {head}, what each adds, and its share of the variance:"]
    for row in rows:
        facts = (
            row.value,
            f"u {row.uncertainty}" if row.uncertainty else "",
            row.evaluation,
            row.distribution,
            "" if row.dof == "endless" else f"{row.dof} degrees of freedom",
            f"|c| {row.sensitivity}" if row.sensitivity else "",
        )
        known, basis = (
            ", ".join(filter(None, facts)),
            f" [{row.basis}]" * bool(row.basis),
        )
        adds = f"adds {row.contribution}, {share_text(row.share)}"
        lines.append(f"      {row.name}: {known}; {adds}{basis}")
    lines.append(f"      together (root of the sum of squares): {combined_text(found)}")
    lines.append(f"      expanded uncertainty {expanded_text(found)}")
    note = dof_note(found)
    return [*lines, f"      {note}"] if note else lines


def budget_json(found: BenchResult) -> list[dict[str, object]]:
    """Return the budget as ``bench --format json`` prints it; numbers unrounded."""
    total = combined(found.components)
    return [
        {
            "name": c.name,
            "evaluation": c.evaluation,
            "input_uncertainty": c.input_uncertainty,
            "degrees_of_freedom": c.dof if math.isfinite(c.dof) else None,
            "sensitivity": c.sensitivity,
            "contribution": c.standard_uncertainty,
            "share": (c.standard_uncertainty / total) ** 2 if total else 0.0,
            "sources": [
                {
                    "quantity": s.quantity,
                    "value": s.value,
                    "standard_uncertainty": s.standard_uncertainty,
                    "unit": s.unit,
                    "distribution": str(s.distribution),
                    "basis": s.basis,
                    "instrument": s.instrument or None,
                }
                for s in c.sources
            ],
        }
        for c in found.components
    ]
