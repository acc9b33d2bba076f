"""Values as they are kept: JSON without fractions, and a number with its unit."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

Json = None | bool | int | str | list["Json"] | dict[str, "Json"]
MAX_DEPTH = 64
"""How many lists and objects may stand one within the other."""


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number with its unit. ``text`` is the digits as they were read."""

    text: str
    unit: str

    @property
    def value(self) -> Decimal:
        """The number, exact."""
        return Decimal(self.text)

    def __str__(self) -> str:
        return f"{self.text} {self.unit}"


def quantity(value: Json) -> Quantity | None:
    """Return ``{"value", "unit"}`` as a Quantity, None where it is not one."""
    if not isinstance(value, dict):
        return None
    number, unit = value.get("value"), value.get("unit")
    if isinstance(number, str) and isinstance(unit, str):
        return Quantity(number, unit)
    return None
