"""A bench test that names no method: what it lacks, and whether its limit is met."""

from __future__ import annotations

from decimal import Decimal

from auditkit.order.events import Event
from auditkit.text.values import displayed


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


def typed_outcome(test: Event) -> str:
    """Return *good* or *faulty* of a value that a person wrote, by its own limit.

    Empty where it names a method, lacks what makes it comparable (``typed_lacks``), or
    only says that the value lies beyond something short of the limit.
    """
    result, limit = displayed(dict(test.object("result"))), test.object("limit")
    is_comparable = not test.text("method") and not typed_lacks(test)
    if result is None or not is_comparable or not str(limit["source"]).strip():
        return ""
    low, high = limit.get("minimum"), limit.get("maximum")
    past = [
        (result.value - Decimal(str(end))) * sign
        for end, sign in ((low, -1), (high, 1))
        if end is not None
    ]
    if not result.bound:
        return "faulty" if max(past) > 0 else "good"
    sign, end = (1, high) if result.bound == "above" else (-1, low)
    if end is not None:
        return "faulty" if (result.value - Decimal(str(end))) * sign >= 0 else ""
    return "good" if max(past) <= 0 else ""


def typed_within(test: Event) -> str:
    """Return how the result lies within its limit; empty where it does not."""
    return _beside_limit(test) if typed_outcome(test) == "good" else ""


def typed_undecided(test: Event) -> str:
    """Return how a complete test decides nothing; empty where it decides."""
    return "" if typed_lacks(test) or typed_outcome(test) else _beside_limit(test)


def _beside_limit(test: Event) -> str:
    limit = test.object("limit")
    sides = [
        f"{side} {limit[side]}" for side in ("minimum", "maximum") if side in limit
    ]
    said = f"{' and '.join(sides)} {limit.get('unit')}"
    return f"{displayed(dict(test.object('result')))}, {said}"
