"""The share of repairs that hold, by time: Kaplan and Meier.

J. Amer. Statist. Assoc. 53:457 (1958), with Greenwood's variance and an interval on the
scale of log(-log), which stays between 0 and 1 (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from auditkit.fleet.statistics.followed import Ending, at_risk, total
from auditkit.fleet.statistics.normal import deviations


@dataclass(frozen=True, slots=True)
class Step:
    """From ``time`` on, ``share`` holds; ``followed`` were at risk just before it.

    ``deviation`` is Greenwood's standard error; ``low`` and ``high`` the interval.
    """

    time: float
    followed: int
    events: int
    share: float
    deviation: float
    low: float
    high: float


def curve(
    endings: Sequence[Ending], *, least: int = 1, confidence: float = 0.95
) -> tuple[Step, ...]:
    """Return a step for each time with a comeback, while ``least`` are followed."""
    z = deviations(confidence)
    share, spread = 1.0, 0.0
    steps = []
    for ending, followed in at_risk(endings):
        if followed < least:
            break
        if not ending.events:
            continue
        share *= 1 - ending.events / followed
        if ending.events == followed:  # nothing holds: no variance is left to estimate
            steps.append(Step(ending.time, followed, ending.events, 0.0, 0.0, 0.0, 0.0))
            break
        spread += ending.events / (followed * (followed - ending.events))
        reach = math.exp(z * math.sqrt(spread) / -math.log(share))
        steps.append(
            Step(
                time=ending.time,
                followed=followed,
                events=ending.events,
                share=share,
                deviation=share * math.sqrt(spread),
                low=share**reach,
                high=share ** (1 / reach),
            )
        )
    return tuple(steps)


def at(steps: Sequence[Step], time: float) -> Step | None:
    """Return the step that holds at a time; None before the first comeback."""
    before = [step for step in steps if step.time <= time]
    return before[-1] if before else None


def followed_until(endings: Sequence[Ending], time: float) -> int:
    """Return how many were still followed at a time, its own endings included."""
    return total(ending for ending in endings if ending.time >= time)


def last_told(endings: Sequence[Ending], least: int) -> float:
    """Return the last time at which ``least`` were followed: where a curve stops."""
    told = 0.0
    for ending, followed in at_risk(endings):
        if followed < least:
            break
        told = ending.time
    return told
