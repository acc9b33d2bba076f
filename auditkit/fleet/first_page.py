"""The page for those who decide: sentences first, then one row a shop. Pure.

It says nothing that does not stand in a later part with what it rests on.
"""

from __future__ import annotations

from collections.abc import Sequence

from auditkit.fleet.audited import AskedOfShop, Cell, Column, Section, Table, told_once
from auditkit.fleet.delivery.logs import of_shop, read_logs
from auditkit.fleet.outcomes.first_time_fix import FirstTimeFix, read_first_time_fixes
from auditkit.fleet.outcomes.shops import sentence_of
from auditkit.fleet.outcomes.standings import Mark, Standing, Standings, read_standings
from auditkit.fleet.part import Ask, Part
from auditkit.fleet.phrases import counted, listed, percent
from auditkit.fleet.settings import Settings

_LEADS = (
    "how_long",
    "fixed_first_time",
    "judged",
    "strengths",
    "shops",
    "kinds_of_fault",
    "parts",
)
"""Parts whose answer stands on the first page whatever it is."""
NO_QUESTION = "There is no question to this shop."
_ORDERS = "SELECT shop, count(*) FROM counted_order GROUP BY ALL"
_NOTHING = ("No group of faults is", "No part is")
NOTHING_FOUND = (
    "No shop stands out by any of these screens. They would often miss a shop that "
    "invents one record in ten."
)


def first_page(
    ask: Ask,
    settings: Settings,
    parts: Sequence[Part],
    asked: Sequence[AskedOfShop],
    seen_by: str = "",
) -> Section:
    """Return the first page of an audit whose other parts are ``parts``.

    Where one shop sees it (``seen_by``), ``asked`` are the questions to that shop.
    """
    by_name = {part.section.name: part for part in parts}
    said = [by_name[name].section.sentences[0] for name in _LEADS if name in by_name]
    said = [one for one in said if not one.startswith(_NOTHING)]
    standings = read_standings(ask, settings)
    said += [
        sentence_of(shop)
        for shop in standings.shops
        if shop.mark is Mark.LOOK or shop.shop == seen_by
    ]
    if "delivered" in by_name:
        said += by_name["delivered"].section.sentences[1:]
    questions = [one for one in asked if not one.is_to_watch]
    if questions:
        shops = list(dict.fromkeys(one.shop for one in questions))
        said.append(
            f"{counted(len(told_once(questions)), 'question')} to "
            f"{counted(len(shops), 'shop')}: {listed(shops)}. A question is no "
            "accusation: each names the repair orders to look at, and the honest "
            "reasons that are known."
        )
    else:
        said.append(NO_QUESTION if seen_by else NOTHING_FOUND)
    watched = list(dict.fromkeys(one.shop for one in asked if one.is_to_watch))
    if watched:
        said.append(
            f"To watch, and no question yet: {listed(watched)}. Only new repair orders "
            "can make it one."
        )
    return Section(
        "first_page",
        "In short",
        tuple(said),
        (shop_by_shop(ask, settings, asked, standings),),
    )


def shop_by_shop(
    ask: Ask,
    settings: Settings,
    asked: Sequence[AskedOfShop],
    standings: Standings,
) -> Table:
    """Return one row a shop; "too few" stands where there are."""
    places = {shop.shop: shop for shop in standings.shops}
    fixes = {shop.shop: shop for shop in read_first_time_fixes(ask)}
    orders = dict(ask(_ORDERS))
    rows = []
    for shop, own in of_shop(read_logs(ask)).items():
        questions = [a for a in asked if a.shop == shop and not a.is_to_watch]
        rows.append(
            (
                *(shop, orders.get(shop, 0)),
                percent(min(1.0, own.here / own.size)) if own.size else None,
                *_fixed(fixes.get(shop), settings),
                *_standing(places.get(shop)),
                len(questions),
                ", ".join(dict.fromkeys(a.screen for a in questions)),
            )
        )
    return Table(
        name="shop_by_shop",
        title="Shop by shop",
        columns=(
            Column("shop", "shop"),
            Column("orders", "repair orders"),
            Column("here", "of its log delivered", "%"),
            Column("fixed", "fixed first time", "%"),
            Column("not_fixed", "not fixed first time", "%"),
            Column("seen", "came back"),
            Column("expected", "expected", "", 1),
            Column("mark", "comebacks"),
            Column("questions", "questions"),
            Column("about", "about"),
        ),
        rows=tuple(rows),
        note="In the order of their names: no order of merit.",
    )


def _fixed(fix: FirstTimeFix | None, settings: Settings) -> tuple[Cell, Cell]:
    if fix is None or fix.repairs < settings.least_for_rate:
        return None, None
    return percent(fix.fixed / fix.repairs), percent(fix.not_fixed / fix.repairs)


def _standing(standing: Standing | None) -> tuple[Cell, Cell, Cell]:
    if standing is None:
        return 0, None, "no repair"
    expected = standing.expected if standing.expected > 0 else None
    return standing.seen, expected, str(standing.mark)
