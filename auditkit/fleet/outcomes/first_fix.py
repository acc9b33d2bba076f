"""How often the first repair is shown to have held. Pure but for ``ask``.

Three answers, never two: shown to hold, shown not to, and shown neither way. What
nothing shows is no failure: else shops with weak tools would look like bad shops.
"""

from __future__ import annotations

from dataclasses import dataclass

from auditkit.fleet.audited import Bars, Cell, Chart, Column, Scale, Section, Table
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
class FirstFix:
    """Repaired faults of one shop, by what came of the first repair."""

    shop: str
    repairs: int
    held: int
    proven: int
    against: int

    @property
    def neither(self) -> int:
        """How many are shown neither way."""
        return self.repairs - self.held - self.against


def read_first_fixes(ask: Ask) -> list[FirstFix]:
    """Return the counts of each shop, in order of their names."""
    found = [FirstFix(*row) for row in ask(_COUNTS)]
    return sorted(found, key=lambda shop: by_name(shop.shop))


def first_fix(ask: Ask, settings: Settings) -> Part:
    """Tell for how many repaired faults the first repair is shown to have held."""
    by_shop = read_first_fixes(ask)
    every = FirstFix(
        "all shops",
        *(
            sum(getattr(shop, name) for shop in by_shop)
            for name in ("repairs", "held", "proven", "against")
        ),
    )
    charts = tuple(filter(None, (_chart(by_shop, settings),)))
    return Part(
        Section(
            "first_fix",
            "The first repair",
            tuple(_sentences(every, settings)),
            (_table([every, *by_shop], settings),),
            charts,
        )
    )


def _sentences(every: FirstFix, settings: Settings) -> list[str]:
    if every.repairs < settings.least_for_rate:
        return [
            f"{counted(every.repairs, 'repaired fault')}: too few for a share.",
        ]
    held = wilson(every.held, every.repairs)
    return [
        (
            f"Of {counted(every.repairs, 'repaired fault')}, "
            f"{in_100(every.held / every.repairs)} are shown to have been fixed by "
            f"the first repair ({between(*held)}), "
            f"{in_100(every.against / every.repairs)} are shown not to, and for "
            f"{in_100(every.neither / every.repairs)} nothing shows it either way."
        ),
        (
            f"{in_100(every.proven / every.repairs)} are proven; the rest of those "
            "that are shown rest on a shop's word for something."
        ),
        (
            "What is shown neither way is not a failure, and no success. Shops differ "
            "in their work, so these shares do not compare them."
        ),
    ]


def _table(rows: list[FirstFix], settings: Settings) -> Table:
    return Table(
        name="first_fix",
        title="What came of the first repair, by shop",
        columns=(
            Column("shop", "shop"),
            Column("repairs", "faults repaired"),
            Column("held", "shown to hold"),
            Column("neither", "shown neither way"),
            Column("against", "shown not to"),
            Column("proven", "of those that hold, proven"),
            Column("held_share", "shown to hold", "%", 1),
            Column("held_low", "from", "%", 1),
            Column("held_high", "to", "%", 1),
            Column("against_share", "shown not to", "%", 1),
        ),
        rows=tuple(
            (
                *(shop.shop, shop.repairs, shop.held, shop.neither, shop.against),
                *(shop.proven, *_shares(shop, settings)),
            )
            for shop in rows
        ),
        note=f"A share from {settings.least_for_rate} repairs on, its interval "
        f"(Wilson, 95 %) from {settings.least_for_interval} on.",
    )


def _shares(shop: FirstFix, settings: Settings) -> tuple[Cell, Cell, Cell, Cell]:
    if shop.repairs < settings.least_for_interval:
        return None, None, None, None
    low, high = map(percent, wilson(shop.held, shop.repairs))
    if shop.repairs < settings.least_for_rate:
        return None, low, high, None
    held, against = shop.held / shop.repairs, shop.against / shop.repairs
    return percent(held), low, high, percent(against)


def _chart(by_shop: list[FirstFix], settings: Settings) -> Chart | None:
    told = [shop for shop in by_shop if shop.repairs >= settings.least_for_rate]
    if not told or len(told) > _MOST_BARS:
        return None
    return Chart(
        name="first_fix",
        title="What came of the first repair",
        sentence="Each shop's repaired faults: shown to hold, shown neither way, shown "
        "not to hold.",
        along=Scale("shop"),
        up=Scale("repaired faults, %", 0, 100),
        bars=Bars(
            names=tuple(shop.shop for shop in told),
            parts=("shown to hold", "shown neither way", "shown not to"),
            values=tuple(
                tuple(
                    percent(n / shop.repairs)
                    for n in (shop.held, shop.neither, shop.against)
                )
                for shop in told
            ),
        ),
        numbers="first_fix",
    )
