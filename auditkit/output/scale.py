"""A straight scale: where values are drawn, and the round numbers beside it."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

_LARGEST_PLAIN, _SMALLEST_PLAIN = 1e6, -5


@dataclass(frozen=True, slots=True)
class Scale:
    """Values ``low`` to ``high`` drawn from ``start`` to ``end``, in px."""

    low: float
    high: float
    start: float
    end: float

    @classmethod
    def over(cls, values: Iterable[float], start: float, end: float) -> Scale:
        """Return a scale on which all values lie, with a little room beyond."""
        known = list(values)
        low, high = min(known), max(known)
        room = 0.06 * (high - low)
        if room <= abs(high) * 1e-9:
            room = abs(high) * 0.05 or 1.0
        return cls(low - room, high + room, start, end)

    def at(self, value: float) -> float:
        """Return where a value is drawn."""
        part = (value - self.low) / (self.high - self.low)
        return self.start + part * (self.end - self.start)

    def ticks(self) -> list[tuple[float, str]]:
        """Return round values on the scale, with their text.

        About one to 60 px across, one to 30 px up.
        """
        apart = 60 if self.end > self.start else 30
        wanted = max(3.0, abs(self.end - self.start) / apart)
        rough = (self.high - self.low) / wanted
        power = math.floor(math.log10(rough))
        factor = next(f for f in (1, 2, 5, 10) if f * 10.0**power >= rough * 0.999)
        if factor == 10:  # the next power
            factor, power = 1, power + 1
        first = math.ceil(self.low / (factor * 10.0**power))
        last = math.floor(self.high / (factor * 10.0**power))
        values = [float(f"{i * factor}e{power}") for i in range(first, last + 1)]
        largest = max((abs(v) for v in values), default=0.0)
        if power >= _SMALLEST_PLAIN and largest < _LARGEST_PLAIN:
            return [(v, f"{v:.{max(0, -power)}f}") for v in values]
        digits = math.floor(math.log10(largest)) - power if largest else 0
        return [(v, f"{v:.{max(0, digits)}e}") for v in values]
