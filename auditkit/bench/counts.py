"""How often a fault was seen in how many tries, and what that shows.

Sources: Wilson's interval (E. B. Wilson 1927; compared in Newcombe 1998, Stat Med
17:857); that 0 of m tries leaves a share of up to 3/m with 95 % is the rule of three
(Hanley and Lippman-Hand 1983, JAMA 249:1743, from memory), which follows from
(1 - 3/m)^m < 0.05.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from auditkit.bench.diagram import Axis, ScaleDiagram, ScaleItem
from auditkit.bench.readings import Readings
from auditkit.bench.result import StatedQuantity, stated
from auditkit.bench.uncertainty import COVERAGE, value_of
from auditkit.errors import InputError

MOST = 1_000_000
"""Tries beyond which nobody counted."""

LEAST_SEEN = 2
"""How often a fault has to be seen; once is chance."""

RULE_OF_THREE = 3


@dataclass(frozen=True, slots=True)
class Tries:
    """A fault seen in some of a number of tries."""

    seen: int
    of: int

    def __str__(self) -> str:
        return f"{self.seen} of {self.of}"

    @property
    def share(self) -> float:
        """The share of the tries in which it was seen."""
        return self.seen / self.of

    @property
    def is_seen(self) -> bool:
        """Whether it was seen often enough to be shown."""
        return self.seen >= LEAST_SEEN

    @property
    def none_needed(self) -> int:
        """How many tries without it show that it is gone: 3 n/k, rounded up."""
        return -(-RULE_OF_THREE * self.of // self.seen)

    def gone_in(self, after: Tries) -> bool:
        """Return whether ``after`` shows that a fault seen so is gone."""
        return self.is_seen and not after.seen and after.of >= self.none_needed

    def chance_unseen(self, tries: int) -> float:
        """Return with what chance a fault of this share stays away for ``tries``."""
        return math.pow(1 - self.share, tries)

    def stated(self, name: str) -> StatedQuantity:
        """Return the share in percent; where it was never seen, what it is below."""
        if not self.seen:
            most = round(100 * most_share_unseen(self.of), 1)
            return stated(name, most, 0.0, "%", "below")
        low, high = wilson(self.seen, self.of, COVERAGE)
        return stated(name, 100 * self.share, 100 * (high - low) / 2 / COVERAGE, "%")


def wilson(seen: int, of: int, z: float) -> tuple[float, float]:
    """Return Wilson's interval of a share; ``z`` standard deviations wide each way."""
    middle = (seen + z * z / 2) / (of + z * z)
    spread = seen * (of - seen) / of + z * z / 4
    half = z / (of + z * z) * math.sqrt(spread)
    return max(0.0, middle - half), min(1.0, middle + half)


def most_share_unseen(tries: int, alpha: float = 0.05) -> float:
    """Return the greatest share that stays unseen in ``tries`` with ``alpha``."""
    return 1 - math.pow(alpha, 1 / tries)


def chance_of_contrast(tries: int, without: int) -> float:
    """Return the greatest chance of a false contrast.

    A fault that a stimulus does nothing to is seen at least twice in ``tries`` with it,
    and never in ``without``; the share at which that is likeliest is taken.
    """

    def at(share: float) -> float:
        away = 1 - share
        never, once = math.pow(away, tries), math.pow(away, tries - 1) * tries * share
        return (1 - never - once) * math.pow(away, without)

    return max(map(at, (10 ** (-6 * i / 2000) for i in range(2001))))


def tries_of(readings: Readings, seen: str, tries: str) -> Tries | None:
    """Return two counts; None where neither was given.

    Raises InputError for one without the other, and for what cannot be counted.
    """
    given = [name for name in (seen, tries) if readings.has(name)]
    if not given:
        return None
    if len(given) == 1:
        missing = tries if given == [seen] else seen
        raise InputError(
            f"{missing} is missing", what_to_do=f"give it beside {given[0]}"
        )
    counts = [_count(readings, name) for name in given]
    found = Tries(*counts)
    if not 0 < found.of <= MOST or found.seen > found.of:
        raise InputError(
            f"seen {found} times cannot be",
            what_to_do=f"look at {seen!r} and {tries!r}",
        )
    return found


def _count(readings: Readings, name: str) -> int:
    number, written = value_of(readings.one(name)), readings.written(name)
    if len(written) > 1:
        raise InputError(
            f"{name} is given more than once: {' and '.join(written)}",
            what_to_do="add them up, or record two tests",
        )
    is_share = readings.unit(name).symbol != "1"
    if is_share or not number.is_integer() or number < 0:
        raise InputError(
            f"{name}: {written[0]} is no count",
            what_to_do='write a whole number, such as "3 times"',
        )
    return int(number)


def shares_diagram(tries: dict[str, Tries]) -> ScaleDiagram:
    """Return how often it was seen, by when, each with what the counts leave open."""
    items = []
    for name, counted in tries.items():
        said = counted.stated("share")
        expanded = float(said.expanded_uncertainty.text)
        bound = said.value.bound
        value = float(said.value.text)
        items.append(ScaleItem(f"{name}: {counted}", value, expanded, bound))
    return ScaleDiagram(Axis("share of tries in which it was seen", "%"), tuple(items))
