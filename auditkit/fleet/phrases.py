"""Numbers and names in sentences that people read. Pure."""

from __future__ import annotations

import re

_DIGITS = re.compile(r"(\d+)")


def counted(number: int, noun: str, nouns: str = "") -> str:
    """Return "1 repair" or "18,204 repairs"."""
    return f"{number:,} {noun if number == 1 else nouns or f'{noun}s'}"


def in_100(share: float) -> str:
    """Return "94.9 in 100"."""
    return f"{100 * share:.1f} in 100"


def between(low: float, high: float) -> str:
    """Return "between 94.5 and 95.2"."""
    return f"between {100 * low:.1f} and {100 * high:.1f}"


def percent(share: float) -> float:
    """Return a share as a cell of a column in percent."""
    return 100 * share


def by_name(name: str) -> tuple[tuple[int, int, str], ...]:
    """Return what sorts names as people do: Shop 2 before Shop 10; a total order."""
    pieces = _DIGITS.split(name)
    # Python's isdigit would take figures that int cannot read, \d with int does not.
    key = [
        (0, int(piece), piece) if place % 2 else (1, 0, piece)
        for place, piece in enumerate(pieces)
    ]
    return tuple(key)


def listed(names: list[str], most: int = 8) -> str:
    """Return "a, b and c", or the first of them with how many more there are."""
    if len(names) > most:
        return f"{', '.join(names[:most])} and {len(names) - most} more"
    return " and ".join(filter(None, (", ".join(names[:-1]), *names[-1:])))
