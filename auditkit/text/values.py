"""Values as they are kept: JSON without fractions, and a number with its unit."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

Bound = Literal["", "above", "below"]
"""What a display said of a value: the value itself, or only on which side it lies."""

_BOUNDS: dict[str, Bound] = {"value": "", "above": "above", "below": "below"}

Json = None | bool | int | str | list["Json"] | dict[str, "Json"]
_MILE = Decimal("1.609344")
"""Kilometres in an international mile, exact (NIST Special Publication 811)."""
MAX_DEPTH = 64
"""How many lists and objects may stand one within the other."""


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number with its unit. ``text`` is the digits as they were read.

    With a ``bound`` they are no value: the display showed only that it lies above or
    below them, as an over-range display does.
    """

    text: str
    unit: str
    bound: Bound = ""

    @property
    def value(self) -> Decimal:
        """The number, exact; of a bound, where it begins."""
        return Decimal(self.text)

    @property
    def kilometres(self) -> Decimal:
        """Of a distance in km or mi: the number of kilometres."""
        return self.value * (_MILE if self.unit == "mi" else 1)

    def __str__(self) -> str:
        return f"{self.bound} {self.text} {self.unit}".lstrip()


def quantity(value: Json) -> Quantity | None:
    """Return ``{"value", "unit"}`` as a Quantity, None where it is not one."""
    if not isinstance(value, dict):
        return None
    number, unit = value.get("value"), value.get("unit")
    if isinstance(number, str) and isinstance(unit, str):
        return Quantity(number, unit)
    return None


def value_text(value: Json) -> str | None:
    """Return the digits of ``{"value", "unit"}``; None where it is not one, or more."""
    if not isinstance(value, dict) or "above" in value or "below" in value:
        return None
    number, unit = value.get("value"), value.get("unit")
    return number if isinstance(number, str) and isinstance(unit, str) else None


def displayed(value: Json) -> Quantity | None:
    """Return a Quantity, also of ``{"above", "unit"}`` or ``{"below", "unit"}``.

    None where it is none of the three, or more than one of them.
    """
    if not isinstance(value, dict) or not isinstance(unit := value.get("unit"), str):
        return None
    found = [name for name in _BOUNDS if name in value]
    if len(found) != 1 or not isinstance(number := value[found[0]], str):
        return None
    return Quantity(number, unit, _BOUNDS[found[0]])
