"""Where each shop stands: comebacks seen against those that its work explains. Pure.

Limits hold the spread that shops have anyway (``statistics.funnel``). The wider ones
ask for a look; the narrower ones only say what to watch, until new packets
show it again.
A shop of which too little is here is neither held against others nor are others held
against it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from auditkit.fleet.outcomes.strata import Work, by_stratum, read_work, strata
from auditkit.fleet.part import Ask
from auditkit.fleet.phrases import by_name
from auditkit.fleet.settings import Settings
from auditkit.fleet.statistics import funnel, rare_counts
from auditkit.fleet.statistics.expectation import expected, hazard
from auditkit.fleet.statistics.followed import comebacks, together, total
from auditkit.fleet.statistics.normal import two_sided
from auditkit.fleet.statistics.stand_out import adjusted_tails

_COMPARED = """SELECT shop, bool_and(log_is_compared),
        count(*) FILTER (state = 'followed'),
        count(*) FILTER (state IN ('no VIN', 'no time'))
    FROM followed_fault GROUP BY shop ORDER BY shop"""


class Mark(StrEnum):
    """What is said of a shop's comebacks."""

    LOOK = "asks for a look"
    WATCH = "to watch"
    WITHIN = "as expected"
    TOO_FEW = "too few"
    FEW_SHOPS = "too few shops to mark one"
    LACKS_ENTRIES = "not compared: too little of its log is here"
    LACKS_VINS = "not compared: too many repairs without a VIN or a time"


@dataclass(frozen=True, slots=True)
class OfKind:
    """One shop's repairs of one kind of work: followed, come back, expected."""

    work: str
    followed: int
    seen: int
    expected: float


@dataclass(frozen=True, slots=True)
class Standing:
    """One shop: how many repairs were followed, comebacks seen and expected.

    ``low`` and ``high`` are the exact limits of seen / expected; ``away`` how many
    deviations it lies from 1, ``adjusted`` how likely that is among so many shops.
    """

    shop: str
    mark: Mark
    followed: int
    not_followed: int
    seen: int
    expected: float
    low: float | None = None
    high: float | None = None
    away: float | None = None
    adjusted: float | None = None
    kinds: tuple[OfKind, ...] = ()

    @property
    def ratio(self) -> float | None:
        """Seen over expected; None where nothing is expected."""
        return self.seen / self.expected if self.expected > 0 else None

    @property
    def has_more(self) -> bool:
        """Whether more came back than expected."""
        return self.seen > self.expected

    @property
    def is_compared(self) -> bool:
        """Whether enough of the shop is here to hold it against others."""
        return self.mark not in {Mark.LACKS_ENTRIES, Mark.LACKS_VINS}


@dataclass(frozen=True, slots=True)
class Stratum:
    """A kind of work with how many repairs of it were followed, and came back."""

    name: str
    followed: int
    seen: int


@dataclass(frozen=True, slots=True)
class Standings:
    """All shops in order of their names, and what they were held against."""

    shops: tuple[Standing, ...]
    strata: tuple[Stratum, ...]
    between: float
    """How far shops lie apart beyond chance, as a variance of 2 sqrt(O/E)."""
    in_funnel: int
    work: Work

    def marked(self, mark: Mark) -> list[Standing]:
        """Return the shops of one mark, the farthest first."""
        found = [shop for shop in self.shops if shop.mark is mark]
        return sorted(found, key=lambda s: (-abs(s.away or 0.0), by_name(s.shop)))


def read_standings(ask: Ask, settings: Settings) -> Standings:
    """Return where each shop of a collection stands."""
    held = {
        shop: (has_entries, followed, lost)
        for shop, has_entries, followed, lost in ask(_COMPARED)
    }
    return standings(read_work(ask), held, settings)


def standings(
    work: Work, held: Mapping[str, tuple[bool, int, int]], settings: Settings
) -> Standings:
    """Return where shops stand; ``held`` tells of each whether its log is here.

    (enough entries, repairs followed, repairs that could not be followed.)
    """
    lacking = {
        shop: lacks for shop, told in held.items() if (lacks := _lacks(told, settings))
    }
    compared = [shop for shop in held if shop not in lacking]
    kinds = work.kinds(compared)
    named = strata(kinds, settings)
    pooled = by_stratum(kinds, named)
    hazards = {name: hazard(endings) for name, endings in pooled.items()}
    found = []
    for shop in sorted(held, key=by_name):
        own = by_stratum(work.of_shop.get(shop, {}), named)
        of_kinds = tuple(
            OfKind(name, total(e), comebacks(e), expected(e, hazards[name]))
            for name, e in own.items()
            if name in hazards
        )
        every = together(own.values())
        mark = lacking.get(shop, Mark.TOO_FEW)
        found.append(
            _with_limits(
                Standing(
                    shop=shop,
                    mark=mark,
                    followed=total(every),
                    not_followed=held[shop][2],
                    seen=comebacks(every),
                    expected=math.fsum(kind.expected for kind in of_kinds),
                    kinds=of_kinds,
                )
            )
        )
    marked, between, places = _marked(found, settings)
    return Standings(
        shops=tuple(marked),
        strata=tuple(
            Stratum(name, total(endings), comebacks(endings))
            for name, endings in sorted(pooled.items())
        ),
        between=between,
        in_funnel=places,
        work=work,
    )


def _lacks(told: tuple[bool, int, int], settings: Settings) -> Mark | None:
    has_entries, followed, lost = told
    if not has_entries:
        return Mark.LACKS_ENTRIES
    if followed < settings.least_coverage * (followed + lost):
        return Mark.LACKS_VINS
    return None


def _with_limits(shop: Standing) -> Standing:
    if not shop.expected > 0:
        return shop
    low, high = rare_counts.ratio_limits(shop.seen, shop.expected)
    return replace(shop, low=low, high=high)


def _marked(
    shops: Sequence[Standing], settings: Settings
) -> tuple[list[Standing], float, int]:
    """Return the shops with their marks, their spread, and how many gave it."""
    placed = [
        shop
        for shop in shops
        if shop.is_compared and shop.expected >= settings.least_expected
    ]
    if len(placed) < settings.least_shops:
        names = {shop.shop for shop in placed}
        told = [
            replace(shop, mark=Mark.FEW_SHOPS) if shop.shop in names else shop
            for shop in shops
        ]
        return told, 0.0, len(placed)
    spread = funnel.spread(
        [(shop.seen, shop.expected) for shop in placed], settings.winsorised
    )
    away = {
        shop.shop: funnel.distance(shop.seen, shop.expected, spread.between)
        for shop in placed
    }
    adjusted = dict(
        zip(away, adjusted_tails([two_sided(z) for z in away.values()]), strict=True)
    )
    told = []
    for shop in shops:
        z = away.get(shop.shop)
        if z is not None:
            told.append(
                replace(
                    shop,
                    mark=_mark(shop, spread.between, settings),
                    away=z,
                    adjusted=adjusted[shop.shop],
                )
            )
        elif shop.is_compared and shop.expected > 0:
            # Too few for the funnel: exact limits, and never more than to watch.
            most = rare_counts.largest_within(shop.expected, settings.look)
            told.append(replace(shop, mark=Mark.WATCH) if shop.seen > most else shop)
        else:
            told.append(shop)
    return told, spread.between, len(placed)


def _mark(shop: Standing, between: float, settings: Settings) -> Mark:
    for confidence, mark in ((settings.look, Mark.LOOK), (settings.watch, Mark.WATCH)):
        low, high = limits_of(shop.expected, between, confidence)
        if not low <= shop.seen / shop.expected <= high:
            return mark
    return Mark.WITHIN


def limits_of(
    expected: float, between: float, confidence: float
) -> tuple[float, float]:
    """Return the seen / expected between which a shop is not marked.

    Below, never nearer than exact counts allow: for few expected comebacks the square
    root lies too near, and would ask shops to which nothing but luck happened.
    """
    low, high = funnel.limits(expected, between, confidence)
    return min(low, rare_counts.smallest_within(expected, confidence) / expected), high


def repairs_to_see_double(share: float, settings: Settings) -> int:
    """Return the repairs of which twice ``share`` coming back is mostly seen.

    Mostly: with probability .8, outside the limits that ask for a look, exact counts
    and no spread between shops.
    """
    mean = 1.0
    while (
        rare_counts.upper_tail(
            rare_counts.largest_within(mean, settings.look) + 1, 2 * mean
        )
        < 0.8
    ):
        mean += 0.5
    return math.ceil(mean / share)
