"""Kinds of work: a fault group, by age of the vehicle where there is enough. Pure.

What a shop is held against is how all shops' repairs of the same kind held. A kind with
few comebacks says little by itself: its ages are joined, and groups that are still
small are joined as "all other work".
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from auditkit.fleet.part import Ask
from auditkit.fleet.settings import Settings
from auditkit.fleet.statistics.followed import Ending, comebacks, together

OTHER_WORK = "all other work"
_CELLS = """SELECT shop, fault_group, age_band, days,
        count(*) FILTER (came_back), count(*) FILTER (NOT came_back)
    FROM followed_fault WHERE state = 'followed'
    GROUP BY shop, fault_group, age_band, days
    ORDER BY shop, fault_group, age_band NULLS LAST, days"""

Kind = tuple[str, int | None]
"""A fault group and a band of ages, as ``followed_fault`` has them."""


@dataclass(frozen=True, slots=True)
class Work:
    """The endings of each shop's repairs, by kind of work."""

    of_shop: Mapping[str, Mapping[Kind, tuple[Ending, ...]]] = field(
        default_factory=dict
    )

    def kinds(self, shops: Iterable[str]) -> dict[Kind, tuple[Ending, ...]]:
        """Return the endings of several shops together, by kind."""
        found: dict[Kind, list[Sequence[Ending]]] = {}
        for shop in shops:
            for kind, endings in self.of_shop.get(shop, {}).items():
                found.setdefault(kind, []).append(endings)
        return {kind: together(parts) for kind, parts in found.items()}

    def all_of(self, shops: Iterable[str]) -> tuple[Ending, ...]:
        """Return all endings of several shops together."""
        return together(self.kinds(shops).values())


def read_work(ask: Ask) -> Work:
    """Return the followed repairs of a collection."""
    found: dict[str, dict[Kind, list[Ending]]] = {}
    for shop, group, band, days, events, others in ask(_CELLS):
        kinds = found.setdefault(shop, {})
        kinds.setdefault((group, band), []).append(Ending(days, events, others))
    return Work(
        {
            shop: {kind: tuple(endings) for kind, endings in kinds.items()}
            for shop, kinds in found.items()
        }
    )


def strata(
    kinds: Mapping[Kind, Sequence[Ending]], settings: Settings
) -> dict[Kind, str]:
    """Return the name of the stratum to which each kind of work belongs."""
    events = {kind: comebacks(endings) for kind, endings in kinds.items()}
    of_group: Counter[str] = Counter()
    for (group, _), count in events.items():
        of_group[group] += count
    least = settings.least_events_in_stratum
    is_split = {
        group: all(n >= least for (g, _), n in events.items() if g == group)
        for group in of_group
    }
    named = {}
    for group, band in kinds:
        if of_group[group] < least or not group:
            named[group, band] = OTHER_WORK
        elif is_split[group] and any(g == group and b != band for g, b in kinds):
            named[group, band] = f"{group}, {age_name(band, settings)}"
        else:
            named[group, band] = group
    return named


def by_stratum(
    kinds: Mapping[Kind, Sequence[Ending]], named: Mapping[Kind, str]
) -> dict[str, tuple[Ending, ...]]:
    """Return endings by the stratum that ``named`` gives; "" where it gives none."""
    found: dict[str, list[Sequence[Ending]]] = {}
    for kind, endings in kinds.items():
        found.setdefault(named.get(kind, ""), []).append(endings)
    return {name: together(parts) for name, parts in sorted(found.items())}


def age_name(band: int | None, settings: Settings) -> str:
    """Return what a band of vehicles' ages is called."""
    years = settings.age_band_years
    if band is None:
        return "age not known"
    if band == 2:
        return f"{2 * years} years and more"
    return f"{band * years} to {(band + 1) * years - 1} years"
