"""How many of all repairs come back, where others leave for good: Aalen and Johansen.

Scandinavian J. of Statistics 5:141 (1978, from memory). A vehicle that was scrapped or
sold cannot come back any more; to hold it for one that still could makes the share too
large.
"""

from __future__ import annotations

from collections.abc import Iterable
from enum import IntEnum


class Ended(IntEnum):
    """What ended the following of a repair."""

    CUT_OFF = 0
    CAME_BACK = 1
    LEFT = 2


def incidence(
    endings: Iterable[tuple[float, Ended, int]],
) -> tuple[tuple[float, float], ...]:
    """Return (time, share come back by then) for each time with a comeback.

    ``endings`` are (time, what ended it, how many).
    """
    kept: dict[float, list[int]] = {}
    for time, ended, count in endings:
        kept.setdefault(time, [0, 0, 0])[ended] += count
    left = sum(map(sum, kept.values()))
    still, reached, steps = 1.0, 0.0, []
    for time in sorted(kept):
        _, back, gone = kept[time]
        if back:
            reached += still * back / left
            steps.append((time, reached))
        still *= 1 - (back + gone) / left
        left -= sum(kept[time])
    return tuple(steps)
