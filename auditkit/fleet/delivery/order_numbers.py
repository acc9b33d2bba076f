"""Repair orders whose numbers are missing, where a shop counts one by one. Pure."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

_NUMBER = re.compile(r"(.*?)([0-9]{1,12})", re.ASCII | re.DOTALL)
_LEAST = 10
_DENSE = 0.5
"""Below this share of all numbers in between, the shop does not count one by one."""


@dataclass(frozen=True, slots=True)
class Numbered:
    """Numbers with one prefix: the smallest, the largest, and how many are here."""

    prefix: str
    smallest: int
    largest: int
    here: int

    @property
    def missing(self) -> int:
        """How many numbers in between are not here."""
        return self.largest - self.smallest + 1 - self.here


def numbered(order_numbers: Iterable[str]) -> list[Numbered]:
    """Return the series that these numbers make, by prefix, if any."""
    found: dict[str, set[int]] = {}
    for text in order_numbers:
        parts = _NUMBER.fullmatch(text)
        if parts:
            found.setdefault(parts[1], set()).add(int(parts[2]))
    series = []
    for prefix in sorted(found):
        numbers = found[prefix]
        made = Numbered(prefix, min(numbers), max(numbers), len(numbers))
        span = made.largest - made.smallest + 1
        if made.here >= _LEAST and made.here >= _DENSE * span:
            series.append(made)
    return series
