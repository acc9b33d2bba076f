"""A bench test that names no method: what it lacks, and whether its limit is met."""

from __future__ import annotations

from decimal import Decimal

from auditkit.order.events import Event
from auditkit.text.values import Bound, Quantity, displayed


def typed_lacks(test: Event) -> list[str]:
    """Return what a typed test lacks: value, unit, instrument, limit, its source."""
    result, limit = test.object("result"), test.object("limit")
    lacking: list[str] = []
    if not {"value", "above", "below"} & set(result):
        lacking.append("measured value")
    if "unit" not in result:
        lacking.append("unit")
    if not any(test.items("instruments")):
        lacking.append("instrument")
    if not {"minimum", "maximum"} & set(limit):
        lacking.append("limit")
    elif "source" not in limit:
        lacking.append("source of the limit")
    elif "unit" in result and limit.get("unit") != result["unit"]:
        lacking.append("limit in the unit of the result")
    return lacking


def typed_within(test: Event) -> str:
    """Return how the result lies within its limit; empty where it lies outside."""
    result, limit = displayed(dict(test.object("result"))), test.object("limit")
    if result is None:
        return ""
    low, high = limit.get("minimum"), limit.get("maximum")
    if isinstance(low, str) and _beyond(result, Decimal(low), "below"):
        return ""
    if isinstance(high, str) and _beyond(result, Decimal(high), "above"):
        return ""
    sides = [
        f"{word} {side}"
        for word, side in (("minimum", low), ("maximum", high))
        if side is not None
    ]
    return f"{result}, {' and '.join(sides)} {result.unit}"


def _beyond(result: Quantity, limit: Decimal, side: Bound) -> bool:
    """Return whether a result, or all that its bound leaves, lies past a limit."""
    past = result.value - limit if side == "above" else limit - result.value
    return past >= 0 if result.bound == side else past > 0 and not result.bound
