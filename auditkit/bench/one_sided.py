"""Values of which only one side is known, from the display to the result.

A display that is over its range says that the value lies above the range's end. A
result computed from it lies above or below the computed value, as the formula rises or
falls with the reading. The derivative says which: all formulas here are monotone, and a
kind whose formula is not says itself what is known.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

from auditkit.text.values import Bound

Known = Literal["", "above", "below", "neither"]
"""The value itself, that it lies above or below one, or neither of the two."""

_OTHER: dict[Bound, Bound] = {"above": "below", "below": "above", "": ""}


def opposite_side(bound: Bound) -> Bound:
    """Return the side on which -x lies, where x lies on ``bound``."""
    return _OTHER[bound]


def difference_known(one: Known, two: Known) -> Known:
    """Return what is known of one value less another."""
    return joint_side((one, two if two == "neither" else opposite_side(two)))


def side_of_result(bound: Bound, slope: float) -> Bound:
    """Return on which side a result lies that has this slope in a bounded reading."""
    if not slope:
        return ""
    return bound if slope > 0 else opposite_side(bound)


def joint_side(sides: Iterable[Known]) -> Known:
    """Return what is known of a result that several bounds move."""
    found = set(sides) - {""}
    if not found:
        return ""
    return found.pop() if len(found) == 1 else "neither"
