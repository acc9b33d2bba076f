"""How long repairs of each group of faults hold, and which differ.

A group is held against all other work of the same shops, so that a good shop that does
much of it does not make the group look good. Pure but for ``ask``.
"""

from __future__ import annotations

from collections.abc import Mapping

from auditkit.fleet.audited import Column, Section, Table
from auditkit.fleet.outcomes.curves import Clock, Named, chart, table, told_at
from auditkit.fleet.outcomes.strata import Work, read_work
from auditkit.fleet.part import Ask, Part
from auditkit.fleet.settings import Settings
from auditkit.fleet.statistics.followed import Ending, comebacks, together
from auditkit.fleet.statistics.log_rank import log_rank
from auditkit.fleet.statistics.stand_out import adjusted_tails

OfShops = Mapping[str, tuple[Ending, ...]]
_NAMED = Named("kinds_of_fault", "How long repairs hold, by group of faults")
_NO_GROUP = "of no group"


def kinds_of_fault(ask: Ask, settings: Settings) -> Part:
    """Tell how long repairs of each group of faults hold, and which differ."""
    clock = Clock("days", settings.horizon_days)
    by_group = _by_group(read_work(ask))
    whole = {group: together(of.values()) for group, of in by_group.items()}
    enough = [g for g in whole if comebacks(whole[g]) >= settings.least_events]
    tails = [_tail(by_group, group) for group in enough]
    adjusted = dict(zip(enough, adjusted_tails(tails), strict=True))
    said = (
        _answer(whole, adjusted, settings),
        (
            "A group is held against all other work of the same shops (log-rank test "
            "within shops). Of those said to differ, at most about "
            f"{100 * settings.false_discovery:g} in 100 may do so by chance "
            "(Benjamini and Hochberg)."
        ),
    )
    most = sorted(enough, key=lambda g: (-comebacks(whole[g]), g))[:4]
    picture = chart(_NAMED, {group: whole[group] for group in most}, settings, clock)
    return Part(
        Section(
            "kinds_of_fault",
            "Which faults come back",
            said,
            (
                table(_NAMED, whole, settings, clock, "group of faults"),
                _differing(adjusted, settings),
            ),
            () if picture is None else (picture,),
        )
    )


def _by_group(work: Work) -> dict[str, dict[str, tuple[Ending, ...]]]:
    found: dict[str, dict[str, list[tuple[Ending, ...]]]] = {}
    for shop, kinds in work.of_shop.items():
        for (group, _), endings in kinds.items():
            of_shops = found.setdefault(group or _NO_GROUP, {})
            of_shops.setdefault(shop, []).append(endings)
    return {
        group: {shop: together(parts) for shop, parts in found[group].items()}
        for group in sorted(found)
    }


def _tail(by_group: Mapping[str, OfShops], group: str) -> float:
    """Return how odd a group's comebacks are beside other work, within shops."""
    strata = []
    for shop, own in by_group[group].items():
        others = [of[shop] for g, of in by_group.items() if g != group and shop in of]
        strata.append([own, together(others)])
    try:
        return log_rank(strata).tail
    except ValueError:  # no shop did this and other work at once: nothing is compared
        return 1.0


def _answer(whole: OfShops, adjusted: Mapping[str, float], settings: Settings) -> str:
    told = [
        f"{group} {told_at(whole[group], settings.horizon_days, settings) or 'too few'}"
        for group, tail in adjusted.items()
        if tail <= settings.false_discovery
    ]
    if not told:
        return "No group of faults is shown to hold longer or shorter than other work."
    return f"Unlike other work, for {settings.horizon_days} days: {'; '.join(told)}."


def _differing(adjusted: Mapping[str, float], settings: Settings) -> Table:
    return Table(
        name="groups_that_differ",
        title="Groups of faults against all other work of the same shops",
        columns=(
            Column("group", "group of faults"),
            Column("chance", "chance among so many groups", "", 4),
            Column("differs", "differs"),
        ),
        rows=tuple(
            (group, tail, "yes" if tail <= settings.false_discovery else "not shown")
            for group, tail in adjusted.items()
        ),
        note=f"Groups with at least {settings.least_events} comebacks.",
    )
