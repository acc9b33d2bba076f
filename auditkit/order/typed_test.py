"""A bench test that names no method: what it lacks, and whether its limit is met."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from auditkit.bench.units import exact, unit_of
from auditkit.errors import InputError
from auditkit.order.events import Event
from auditkit.text.display_text import says_something
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
    elif not says_something(str(limit.get("source", ""))):
        lacking.append("source of the limit")
    elif "unit" not in limit:
        lacking.append("unit of the limit")
    elif units := typed_units_differ(test):
        lacking.append(f"limit that the result converts to: {units}")
    return lacking


def typed_units_differ(test: Event) -> str:
    """Return how the units of result and limit differ, where neither converts.

    Empty where they convert, and where one is not told. Temperatures in two units do
    not: nobody says whether a difference is meant.
    """
    said = [test.object(name).get("unit") for name in ("result", "limit")]
    units = [unit for unit in said if isinstance(unit, str)]
    if len(units) != len(said) or scale_between(*units):
        return ""
    return f"it is in {units[0]}, its limit in {units[1]}"


def scale_between(unit: str, target: str) -> Fraction | None:
    """Return how many ``target`` one ``unit`` is; None where they do not convert."""
    if unit == target:
        return Fraction(1)
    try:
        one, other = unit_of(unit), unit_of(target)
    except InputError:
        return None
    pairs = ((u.kind, u.reference, u.zero) for u in (one, other))
    return one.factor / other.factor if len(set(pairs)) == 1 else None


def _beyond(value: Decimal, end: str, scale: Fraction) -> Decimal | Fraction:
    """Return how far a value lies above an end of its limit, in the limit's unit."""
    if scale == 1:
        return value - Decimal(end)
    return exact(str(value)) * scale - exact(end)


def typed_outcome(test: Event) -> str:
    """Return *good* or *faulty* of a test that is a value which a person wrote.

    Empty where it names a method, and where ``written_outcome`` is.
    """
    return "" if test.text("method") else written_outcome(test)


def written_outcome(test: Event) -> str:
    """Return *good* or *faulty* of a written result, by its own limit.

    Empty where it lacks what makes it comparable (``typed_lacks``), or only says that
    the value lies beyond something short of the limit.
    """
    result, limit = displayed(dict(test.object("result"))), test.object("limit")
    if result is None or typed_lacks(test):
        return ""
    scale = scale_between(result.unit, str(limit["unit"]))
    if scale is None:
        return ""
    low, high = limit.get("minimum"), limit.get("maximum")
    past = [
        _beyond(result.value, str(end), scale) * sign
        for end, sign in ((low, -1), (high, 1))
        if end is not None
    ]
    if not result.bound:
        return "faulty" if any(one > 0 for one in past) else "good"
    sign, end = (1, high) if result.bound == "above" else (-1, low)
    if end is not None:
        beyond = _beyond(result.value, str(end), scale) * sign
        return "faulty" if beyond >= 0 else ""
    return "good" if all(one <= 0 for one in past) else ""


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
