"""Which shops have more comebacks than their work and chance explain.

Pure but for ``ask``. No order of merit: each shop is held against all, never against
another shop.
"""

from __future__ import annotations

from auditkit.fleet.audited import (
    AskedOfShop,
    Cell,
    Column,
    Section,
    Table,
    interval,
)
from auditkit.fleet.outcomes.came_back import MOST_LISTED, to_open
from auditkit.fleet.outcomes.curves import Clock, Named, chart
from auditkit.fleet.outcomes.funnel_chart import funnel_chart
from auditkit.fleet.outcomes.standings import (
    Mark,
    Standing,
    Standings,
    read_standings,
    repairs_to_see_double,
)
from auditkit.fleet.part import Ask, Part
from auditkit.fleet.phrases import counted, listed
from auditkit.fleet.settings import Settings
from auditkit.fleet.statistics.followed import comebacks, total

_HERE = """SELECT DISTINCT entries_delivered, largest_size FROM shop_log
    WHERE shop = ? AND is_counted ORDER BY 1, 2"""
_HONEST_MORE = (
    (
        "its vehicles always return to it, so all its comebacks are seen; passing "
        "trade takes its comebacks elsewhere"
    ),
    "it takes work that others declined: hard faults, or faults with several causes",
    "one customer's vehicles, one model or one bad batch of a part",
    "its kind of work is told apart too coarsely here",
)
_HONEST_FEWER = (
    "it is better: ask how, others can learn from it",
    "its customers do not return, or return to shops that are not in this collection",
    "few of its vehicles were in view for long",
    "the few worst shops draw up what is expected, so usual shops lie a little below",
)


def shops(ask: Ask, settings: Settings) -> Part:
    """Hold each shop's comebacks against what is expected for its own work."""
    found = read_standings(ask, settings)
    charts = tuple(
        filter(None, (funnel_chart(found, settings, _answer(found, settings)),))
    )
    section = Section(
        "shops",
        "Shops: comebacks against what their work explains",
        tuple(_sentences(found, settings)),
        (
            _standing_table(found),
            _kind_table(found),
            _strata_table(found, settings),
        ),
        charts,
    )
    marked = [*found.marked(Mark.LOOK), *found.marked(Mark.WATCH)]
    asked = tuple(_asked(ask, found, shop, settings) for shop in marked)
    return Part(section, asked)


def _sentences(found: Standings, settings: Settings) -> list[str]:
    look, watch = found.marked(Mark.LOOK), found.marked(Mark.WATCH)
    said = [_answer(found, settings)]
    said += [sentence_of(shop) for shop in look]
    if watch:
        said.append(
            f"To watch, and no question yet: {listed([s.shop for s in watch])}. It "
            "becomes one only where new packets show it again."
        )
    if found.in_funnel >= settings.least_shops:
        by_chance = found.in_funnel * (1 - settings.look)
        said.append(
            f"Of {counted(found.in_funnel, 'shop')} about {by_chance:.1f} would ask "
            "for a look although nothing but chance and the usual differences set it "
            "apart."
        )
    few = found.marked(Mark.TOO_FEW)
    if few:
        said.append(
            f"{counted(len(few), 'shop')} did too few repairs to say anything: "
            f"{listed([s.shop for s in few])}."
        )
    for mark, why in (
        (Mark.LACKS_ENTRIES, "too little of their logs is here"),
        (Mark.LACKS_VINS, "too many of their repairs have no VIN or no time"),
    ):
        if lacking := found.marked(mark):
            names = listed([s.shop for s in lacking])
            said.append(
                f"Not compared, because {why}: {names}. Numbers that look good there "
                "show nothing."
            )
    every = found.work.all_of([s.shop for s in found.shops if s.is_compared])
    if comebacks(every):
        least = repairs_to_see_double(comebacks(every) / total(every), settings)
        said.append(
            f"A shop of which fewer than about {least:,} repairs were followed cannot "
            "be called good or bad here: twice the usual comebacks would mostly be "
            "missed."
        )
    return said


def _answer(found: Standings, settings: Settings) -> str:
    if found.in_funnel < settings.least_shops:
        return (
            f"{counted(found.in_funnel, 'shop')} with enough repairs: too few to tell "
            f"how far honest shops lie apart (at least {settings.least_shops}), so "
            "none is marked."
        )
    look = found.marked(Mark.LOOK)
    more = [shop.shop for shop in look if shop.has_more]
    fewer = [shop.shop for shop in look if not shop.has_more]
    if not look:
        return (
            f"No shop of {found.in_funnel} stands out by its comebacks, once its "
            "kind of work, the time in view and the usual differences are taken into "
            "account."
        )
    said = []
    if more:
        said.append(f"more came back than expected at {listed(more)}")
    if fewer:
        said.append(f"fewer at {listed(fewer)}")
    return (
        f"{len(look)} of {counted(found.in_funnel, 'shop')} "
        f"{'asks' if len(look) == 1 else 'ask'} for a look: {', '.join(said)}."
    )


def sentence_of(shop: Standing) -> str:
    """Return what is said of a shop in one sentence."""
    head = f"{shop.shop}: {counted(shop.seen, 'comeback')} where {shop.expected:.1f} "
    if shop.mark is Mark.TOO_FEW:
        return (
            f"{shop.shop} has {counted(shop.followed, 'repair')} that could be "
            "followed. That is too few to say anything."
        )
    if shop.mark is Mark.LACKS_ENTRIES:
        return f"{shop.shop}: its numbers cannot be compared until the rest is here."
    if shop.mark is Mark.LACKS_VINS:
        return (
            f"{shop.shop}: {shop.not_followed:,} of "
            f"{shop.followed + shop.not_followed:,} repairs could not be followed (no "
            "VIN, or no time), so it is not compared."
        )
    how = {
        Mark.LOOK: "far outside what differs between shops",
        Mark.WATCH: "more than usually differs between shops, to watch",
        Mark.WITHIN: "within what differs between shops",
        Mark.FEW_SHOPS: "too few shops to say whether that differs",
    }[shop.mark]
    return f"{head}were to be expected for its kind of work: {how}."


def _asked(
    ask: Ask, found: Standings, shop: Standing, settings: Settings
) -> AskedOfShop:
    others = [s.shop for s in found.shops if s.is_compared and s.shop != shop.shop]
    question = (
        "More of its repairs came back than its kind of work explains. What is "
        "different there?"
        if shop.has_more
        else "Fewer of its repairs came back than its kind of work explains. How is it "
        "done, and where do its vehicles go afterwards?"
    )
    ((here, size),) = ask(_HERE, (shop.shop,))
    measured: dict[str, Cell] = {
        "repairs followed": shop.followed,
        "repairs without a VIN or a time": shop.not_followed,
        "entries of its log that are not here": size - here,
        "came back": shop.seen,
        "expected for its work": round(shop.expected, 1),
        "came back / expected": round(shop.ratio or 0.0, 2),
        "95 % interval of that": f"{shop.low or 0:.2f} to {shop.high or 0:.2f}",
    }
    of_others = found.work.all_of(others)
    return AskedOfShop(
        screen="comebacks",
        shop=shop.shop,
        question=question,
        measured=measured,
        peers={
            "shops": len(others),
            "repairs followed": total(of_others),
            "came back": comebacks(of_others),
        },
        at_least=f"{settings.least_expected:g} expected comebacks, "
        f"{settings.least_shops} shops",
        honest_reasons=_HONEST_MORE if shop.has_more else _HONEST_FEWER,
        to_open=to_open(ask, shop.shop) if shop.has_more else (),
        is_to_watch=shop.mark is Mark.WATCH,
        chart=chart(
            Named("", "How long its repairs hold, beside all others"),
            {shop.shop: found.work.all_of([shop.shop]), "all others": of_others},
            settings,
            Clock("days", settings.horizon_days),
        ),
    )


def _standing_table(found: Standings) -> Table:
    return Table(
        name="shops",
        title="Comebacks seen and expected, by shop",
        columns=(
            Column("shop", "shop"),
            Column("followed", "repairs followed"),
            Column("not_followed", "not followed"),
            Column("seen", "came back"),
            Column("expected", "expected", "", 1),
            Column("ratio", "seen / expected", "", 2),
            *interval("", "", 2),
            Column("away", "deviations away", "", 1),
            Column("adjusted", "chance among so many shops", "", 4),
            Column("mark", "what is said"),
        ),
        rows=tuple(
            (
                *(shop.shop, shop.followed, shop.not_followed, shop.seen),
                *(shop.expected, *_limits(shop), shop.away, shop.adjusted),
                str(shop.mark),
            )
            for shop in found.shops
        ),
        note="A ratio says how a shop stands to all, not to another shop. Not followed "
        "are repairs without a VIN or a time. The chance: Benjamini and Hochberg.",
    )


def _limits(shop: Standing) -> tuple[Cell, Cell, Cell]:
    if shop.mark is Mark.TOO_FEW or not shop.is_compared:
        return None, None, None
    return shop.ratio, shop.low, shop.high


def _kind_table(found: Standings) -> Table:
    rows = tuple(
        (shop.shop, kind.work, kind.followed, kind.seen, kind.expected)
        for shop in found.shops
        if shop.is_compared
        for kind in shop.kinds
    )
    return Table(
        name="shops_by_kind_of_work",
        title="Where each shop's comebacks lie, by kind of work",
        columns=(
            Column("shop", "shop"),
            Column("work", "kind of work"),
            Column("followed", "repairs followed"),
            Column("seen", "came back"),
            Column("expected", "expected", "", 1),
        ),
        rows=rows,
        note="To see where to look. Nothing is said of a shop by its kinds of work.",
        is_for_files=len(rows) > MOST_LISTED,
    )


def _strata_table(found: Standings, settings: Settings) -> Table:
    return Table(
        name="kinds_of_work",
        title="Kinds of work that shops are held against",
        columns=(
            Column("work", "kind of work"),
            Column("followed", "repairs followed"),
            Column("seen", "came back"),
        ),
        rows=tuple((s.name, s.followed, s.seen) for s in found.strata),
        note="Of the shops that are compared. A kind with fewer than "
        f"{settings.least_events_in_stratum} comebacks is joined: its ages first, then "
        "with other work.",
    )
