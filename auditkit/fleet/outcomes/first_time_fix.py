"""How many faults were fixed the first time: the trade's first-time fix.

That is, after one repair the same order shows that the fault's test ran and passed, and
that the fault was gone. Three answers, never two: fixed, not fixed, and not shown. What
nothing shows is no failure: else shops with weak tools would look like bad shops.
Pure but for ``ask``.
"""

from __future__ import annotations

from dataclasses import dataclass

from auditkit.fleet.audited import (
    Bars,
    Cell,
    Chart,
    Column,
    Scale,
    Section,
    Table,
    interval,
)
from auditkit.fleet.part import Ask, Part
from auditkit.fleet.phrases import between, by_name, counted, in_100, percent
from auditkit.fleet.settings import Settings
from auditkit.fleet.statistics.proportion import wilson

_COUNTS = """SELECT shop, count(*),
        count(*) FILTER (fixed_first = 'shown'),
        count(*) FILTER (fixed_first = 'shown' AND verdict = 'proven'),
        count(*) FILTER (fixed_first = 'against')
    FROM followed_fault WHERE is_meant GROUP BY shop ORDER BY shop"""
_MOST_BARS = 40


@dataclass(frozen=True, slots=True)
class FirstTimeFix:
    """Repaired faults of one shop, by what came of the first repair."""

    shop: str
    repairs: int
    fixed: int
    proven: int
    not_fixed: int

    @property
    def not_shown(self) -> int:
        """How many are shown neither way."""
        return self.repairs - self.fixed - self.not_fixed


def read_first_time_fixes(ask: Ask) -> list[FirstTimeFix]:
    """Return the counts of each shop, in order of their names."""
    found = [FirstTimeFix(*row) for row in ask(_COUNTS)]
    return sorted(found, key=lambda shop: by_name(shop.shop))


def first_time_fix(ask: Ask, settings: Settings) -> Part:
    """Tell how many repaired faults are shown to have been fixed the first time."""
    by_shop = read_first_time_fixes(ask)
    every = FirstTimeFix(
        "all shops",
        *(
            sum(getattr(shop, name) for shop in by_shop)
            for name in ("repairs", "fixed", "proven", "not_fixed")
        ),
    )
    charts = tuple(filter(None, (_chart(by_shop, settings),)))
    return Part(
        Section(
            "fixed_first_time",
            "Fixed the first time",
            tuple(_sentences(every, settings)),
            (_table([every, *by_shop], settings),),
            charts,
        )
    )


def _sentences(every: FirstTimeFix, settings: Settings) -> list[str]:
    if every.repairs < settings.least_for_rate:
        return [
            (
                f"{counted(every.repairs, 'repaired fault')}: {every.fixed} shown to "
                f"be fixed the first time, {every.not_fixed} shown not to be, "
                f"{every.not_shown} not shown either way; too few for a share."
            ),
        ]
    fixed = wilson(every.fixed, every.repairs)
    return [
        (
            f"Of {counted(every.repairs, 'repaired fault')}, "
            f"{in_100(every.fixed / every.repairs)} were shown to be fixed the first "
            f"time (95 % interval: {between(*fixed)}), "
            f"{in_100(every.not_fixed / every.repairs)} were shown not to be, and for "
            f"{in_100(every.not_shown / every.repairs)} nothing shows it either way."
        ),
        (
            "Fixed the first time (first-time fix) is a fault whose test ran and "
            "passed after one repair, in the same order. Whether it came back later "
            "stands under \u201cHow long repairs hold\u201d."
        ),
        (
            f"{in_100(every.proven / every.repairs)} are proven; the rest of those "
            "that are shown rest on a shop's word for something."
        ),
        (
            "What is not shown is not a failure, and no success. Shops differ in "
            "their work, so these shares do not compare them."
        ),
    ]


def _table(rows: list[FirstTimeFix], settings: Settings) -> Table:
    return Table(
        name="fixed_first_time",
        title="Fixed the first time, by shop",
        columns=(
            Column("shop", "shop"),
            Column("repairs", "faults repaired"),
            Column("fixed", "fixed first time"),
            Column("not_shown", "not shown"),
            Column("not_fixed", "not fixed first time"),
            Column("proven", "of those fixed, proven"),
            Column("fixed_share", "fixed first time", "%", 1),
            *interval("fixed_"),
            Column("not_fixed_share", "not fixed first time", "%", 1),
        ),
        rows=tuple(
            (
                *(shop.shop, shop.repairs, shop.fixed, shop.not_shown, shop.not_fixed),
                *(shop.proven, *_shares(shop, settings)),
            )
            for shop in rows
        ),
        note=f"A share from {settings.least_for_rate} repairs on, its interval "
        f"(Wilson, 95 %) from {settings.least_for_interval} on.",
    )


def _shares(shop: FirstTimeFix, settings: Settings) -> tuple[Cell, Cell, Cell, Cell]:
    if shop.repairs < settings.least_for_interval:
        return None, None, None, None
    low, high = map(percent, wilson(shop.fixed, shop.repairs))
    if shop.repairs < settings.least_for_rate:
        return None, low, high, None
    fixed, not_fixed = shop.fixed / shop.repairs, shop.not_fixed / shop.repairs
    return percent(fixed), low, high, percent(not_fixed)


def _chart(by_shop: list[FirstTimeFix], settings: Settings) -> Chart | None:
    told = [shop for shop in by_shop if shop.repairs >= settings.least_for_rate]
    if not told or len(told) > _MOST_BARS:
        return None
    return Chart(
        name="fixed_first_time",
        title="Fixed the first time",
        sentence="Each shop's repaired faults: fixed the first time, not shown, not "
        "fixed the first time.",
        along=Scale("shop"),
        up=Scale("repaired faults, %", 0, 100),
        bars=Bars(
            names=tuple(shop.shop for shop in told),
            parts=("fixed first time", "not shown", "not fixed first time"),
            values=tuple(
                tuple(
                    percent(n / shop.repairs)
                    for n in (shop.fixed, shop.not_shown, shop.not_fixed)
                )
                for shop in told
            ),
        ),
        numbers="fixed_first_time",
    )
