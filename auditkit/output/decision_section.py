"""How a bench test was decided: its rule, where the answer turns, and what is open."""

from __future__ import annotations

from typing import TYPE_CHECKING

from auditkit.bench.decision import guard_band
from auditkit.bench.result import stated
from auditkit.bench.uncertainty import combined
from auditkit.output.html_table import bullets, pair_table

if TYPE_CHECKING:
    from collections.abc import Iterator

    from auditkit.bench import BenchResult

_DECIDED = frozenset({"faulty", "good"})


def decision_section(found: BenchResult) -> list[str]:
    """Return how a result was decided, what would settle it, and what was assumed."""
    rule = found.decision_rule or "none: nothing was held against a limit"
    rows = [("Decision rule (7.8.6)", rule), *_turns(found)]
    if risk := _risk(found):
        rows.append(("Risk of a wrong answer", risk))
    shown = [
        "<h3>How it was decided (decision rule)</h3>",
        pair_table("Decision", rows),
    ]
    if found.settles:
        shown += ["<h3>What would settle it</h3>", bullets(found.settles)]
    if found.notes:
        shown += ["<h3>What was assumed (notes)</h3>", bullets(found.notes)]
    return shown


def _turns(found: BenchResult) -> Iterator[tuple[str, str]]:
    """Yield at which values the answer turns, where one value is held to a limit.

    They are about so, since at another value the uncertainty may be another; so not
    for a limit far from the value, nor where one side of it alone is known.
    """
    limit, result = found.limit, found.result
    u = combined(found.components)
    if limit is None or result is None or not found.decision_rule or not u:
        return
    if found.comparisons > 1 or result.value.bound or result.is_open:
        return
    unit, band, value = result.value.unit, guard_band(u, found.alpha), result.value.text
    for text, edge, other, inward in (
        (limit.minimum, "least", "most", band),
        (limit.maximum, "most", "least", -band),
    ):
        if text is not None and _is_near(float(value), float(text), u):
            good = stated("", float(text) + inward, u, unit).value
            faulty = stated("", float(text) - inward, u, unit).value
            turn = f"faulty for about {faulty} at {other}"
            name = f"At {edge} {text} {limit.unit}, with this uncertainty (guard band)"
            said = f"good asks for about {good} at {edge}, {turn}"
            yield name, f"{said}; between them nothing is decided"


_NEAR_TIMES, _NEAR_U = 3, 10
"""How far from a limit an uncertainty is taken as that at the limit; our own."""


def _is_near(value: float, limit: float, u: float) -> bool:
    """Return whether a value is about as large as a limit, or some u away from it."""
    low, high = sorted((abs(value), abs(limit)))
    alike = value * limit > 0 and high <= _NEAR_TIMES * low
    return alike or abs(value - limit) <= _NEAR_U * u


def _risk(found: BenchResult) -> str:
    """Return the risk that the rule accepts; empty where none is known."""
    if not found.decision_rule or (found.unchecked and found.limit is not None):
        return ""
    said = f"{100 * found.alpha:.2g} % at most (alpha {found.alpha:.2g}"
    if found.limit is not None:
        return f"{said}, JCGM 106:2012)"
    return f"{said}, by the rule above)" if found.outcome.value in _DECIDED else ""
