"""How many comebacks a shop's own work would have brought with all shops' results.

Each repair is expected to come back as often as all repairs of its kind of work did
over the time for which it was followed: the cumulative hazard (Nelson and Aalen) of its
stratum. That is the log-rank test's expectation, and puts the kind of work and the time
in view right in one step. Indirect standardisation: two shops' ratios are not
comparable with each other, only with the whole (Breslow and Day, Statistical Methods in
Cancer Research II, from memory).
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass

from auditkit.fleet.statistics.followed import Ending, at_risk


@dataclass(frozen=True, slots=True)
class Hazard:
    """A cumulative hazard: 0 before the first time, then ``reached`` at each."""

    times: tuple[float, ...]
    reached: tuple[float, ...]

    def until(self, time: float) -> float:
        """Return what is reached by a time."""
        place = bisect_right(self.times, time)
        return self.reached[place - 1] if place else 0.0


def hazard(endings: Sequence[Ending]) -> Hazard:
    """Return the Nelson-Aalen cumulative hazard of all who were followed."""
    times, reached, sum_so_far = [], [], 0.0
    for ending, followed in at_risk(endings):
        if ending.events:
            sum_so_far += ending.events / followed
            times.append(ending.time)
            reached.append(sum_so_far)
    return Hazard(tuple(times), tuple(reached))


def expected(endings: Sequence[Ending], of_all: Hazard) -> float:
    """Return the comebacks to expect of one shop's repairs in one stratum."""
    return math.fsum(
        (ending.events + ending.others) * of_all.until(ending.time)
        for ending in endings
    )
