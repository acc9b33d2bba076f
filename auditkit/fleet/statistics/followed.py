"""How long repairs were followed, and what ended it: the form that survival takes.

Times are in any one unit, from the repair on. At one time, whoever is no longer
followed was still followed when the comebacks of that time happened.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Ending:
    """At ``time``, ``events`` comebacks, and ``others`` that are no longer followed."""

    time: float
    events: int
    others: int


def gathered(times: Iterable[tuple[float, bool]]) -> tuple[Ending, ...]:
    """Return endings in order of time from single ones: (time, whether an event)."""
    kept: dict[float, list[int]] = {}
    for time, is_event in times:
        kept.setdefault(time, [0, 0])[not is_event] += 1
    return tuple(Ending(time, *kept[time]) for time in sorted(kept))


def together(groups: Iterable[Iterable[Ending]]) -> tuple[Ending, ...]:
    """Return the endings of several groups as one."""
    kept: dict[float, list[int]] = {}
    for group in groups:
        for ending in group:
            at = kept.setdefault(ending.time, [0, 0])
            at[0] += ending.events
            at[1] += ending.others
    return tuple(Ending(time, *kept[time]) for time in sorted(kept))


def total(endings: Iterable[Ending]) -> int:
    """Return how many were followed."""
    return sum(ending.events + ending.others for ending in endings)


def comebacks(endings: Iterable[Ending]) -> int:
    """Return how many events there were."""
    return sum(ending.events for ending in endings)


def at_risk(endings: Iterable[Ending]) -> Iterator[tuple[Ending, int]]:
    """Yield each ending with how many were followed until then; in order of time."""
    known = tuple(endings)
    left = total(known)
    for ending in known:
        yield ending, left
        left -= ending.events + ending.others
