"""The page for those who decide: sentences first, then one row a shop. Pure.

It says nothing that does not stand in a later part with what it rests on.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import chain

from auditkit.fleet.audited import AskedOfShop, Cell, Column, Section, Table, told_once
from auditkit.fleet.delivery.logs import ShopHere
from auditkit.fleet.outcomes.first_time_fix import FirstTimeFix, read_first_time_fixes
from auditkit.fleet.outcomes.shops import sentence_of
from auditkit.fleet.outcomes.standings import Mark, Standing, Standings, read_standings
from auditkit.fleet.part import Ask, Part
from auditkit.fleet.phrases import counted, listed, percent
from auditkit.fleet.settings import Settings
from auditkit.text.display_text import quoted

_OF_REPAIRS = ("how_long", "fixed_first_time")
_OF_ORDERS = ("judged", "strengths")
_OF_WORK = ("shops", "kinds_of_fault", "parts")
"""Parts whose answer stands on the first page whatever it is. What came of repairs is
of the vehicles of a register alone, where there is one; orders are of all vehicles."""
_REGISTER = "SELECT count(DISTINCT vin) FROM vehicle_in_view"
_ALL = "Of all that was collected, of whatever vehicle:"
NO_QUESTION = "There is no question to this shop."
_ORDERS = "SELECT shop, count(*) FROM counted_order GROUP BY ALL"
_NOTHING = ("No group of faults is", "No part is")
NOTHING_FOUND = (
    "No shop stands out by any of these screens. They would often miss a shop that "
    "invents one record in ten."
)


def first_page(  # noqa: PLR0913, PLR0917  what it tells, and of whom
    ask: Ask,
    settings: Settings,
    parts: Sequence[Part],
    asked: Sequence[AskedOfShop],
    shops: Mapping[str, ShopHere],
    seen_by: str = "",
) -> Section:
    """Return the first page of an audit whose other parts are ``parts``.

    ``shops`` are those that count. Where one of them sees it (``seen_by``), ``asked``
    are the questions to that one.
    """
    by_name = {part.section.name: part for part in parts}

    def leads(names: Iterable[str]) -> list[str]:
        found = [
            by_name[name].section.sentences[0] for name in names if name in by_name
        ]
        return [one for one in found if not one.startswith(_NOTHING)]

    standings = read_standings(ask, settings)
    of_repairs, of_orders = leads(_OF_REPAIRS), leads(_OF_ORDERS)
    of_work = leads(_OF_WORK) + [
        sentence_of(shop)
        for shop in standings.shops
        if shop.mark is Mark.LOOK or shop.shop == seen_by
    ]
    ((vehicles,),) = ask(_REGISTER)
    if vehicles:
        named = counted(vehicles, "vehicle")
        said = [f"Of the {named} of the register:", *of_repairs, *of_work]
        said += [_ALL, *of_orders]
    else:
        said = [*of_repairs, *of_orders, *of_work]
    if "delivered" in by_name:
        said += by_name["delivered"].section.sentences[1:]
    questions = [one for one in asked if not one.is_to_watch]
    called = claimed_names(shops)
    if questions:
        names = list(dict.fromkeys(with_claim(one.shop, called) for one in questions))
        about = list(dict.fromkeys(one.screen for one in questions))
        said.insert(
            0,
            f"{counted(len(told_once(questions)), 'question')} to "
            f"{counted(len(names), 'shop')}: {listed(names)}; about {listed(about)}. "
            "A question is no accusation: each names the repair orders to look at, "
            "and the honest reasons that are known.",
        )
    else:
        said.append(NO_QUESTION if seen_by else NOTHING_FOUND)
    watched = list(
        dict.fromkeys(with_claim(a.shop, called) for a in asked if a.is_to_watch)
    )
    if watched:
        said.append(
            f"To watch, and no question yet: {listed(watched)}. Only new repair orders "
            "can make it one."
        )
    return Section(
        "first_page",
        "In short",
        tuple(said),
        shop_by_shop(ask, settings, asked, standings, shops, has_register=vehicles > 0),
    )


def claimed_names(shops: Mapping[str, ShopHere]) -> dict[str, str]:
    """Return by shop what it calls itself, where the reader's list has no name for it.

    Two shops may claim one name: what tells them apart is the log.
    """
    return {n: own.calls_itself for n, own in shops.items() if own.calls_itself}


def with_claim(shop: str, called: Mapping[str, str]) -> str:
    """Return a shop with what it calls itself, if that is another name."""
    return f"{shop} (calls itself {quoted(called[shop])})" if shop in called else shop


def shop_by_shop(  # noqa: PLR0913  what it tells, and of whom
    ask: Ask,
    settings: Settings,
    asked: Sequence[AskedOfShop],
    standings: Standings,
    shops: Mapping[str, ShopHere],
    *,
    has_register: bool = False,
) -> tuple[Table, ...]:
    """Return one row a shop; "too few" stands where there are.

    With a register what came of its vehicles' repairs is a table by itself.
    """
    places = {shop.shop: shop for shop in standings.shops}
    fixes = {shop.shop: shop for shop in read_first_time_fixes(ask)}
    orders = dict(ask(_ORDERS))
    of_log, of_repairs, of_questions = [], [], []
    for shop, own in shops.items():
        questions = [a for a in asked if a.shop == shop and not a.is_to_watch]
        here = percent(min(1.0, own.here / own.size)) if own.size else None
        of_log.append((orders.get(shop, 0), here))
        fixed, standing = _fixed(fixes.get(shop), settings), places.get(shop)
        of_repairs.append((*fixed, *_standing(standing)))
        about = ", ".join(dict.fromkeys(a.screen for a in questions))
        of_questions.append((len(questions), about))

    claims = [(own.calls_itself,) for own in shops.values()]
    no_merit = "In the order of their names: no order of merit."
    if any(claim for (claim,) in claims):
        no_merit += " What a shop calls itself is its own word; the log tells it apart."

    def table(name: str, title: str, *parts: _Part) -> Table:
        if any(claim for (claim,) in claims):
            parts = (_CLAIMED, claims), *parts
        columns = [column for heads, _ in parts for column in heads]
        rows = zip(shops, *(cells for _, cells in parts), strict=True)
        return Table(
            name=name,
            title=title,
            columns=(Column("shop", "shop"), *columns),
            rows=tuple((shop, *chain(*cells)) for shop, *cells in rows),
            note=no_merit,
        )

    log, repairs = (_OF_LOG, of_log), (_OF_REPAIR, of_repairs)
    about_it = (_OF_QUESTIONS, of_questions)
    if not has_register:
        return (table("shop_by_shop", "Shop by shop", log, repairs, about_it),)
    title = "Shop by shop, the vehicles of the register"
    return (
        table("register_by_shop", title, repairs),
        table("shop_by_shop", "Shop by shop, all that was collected", log, about_it),
    )


_Part = tuple[tuple[Column, ...], Sequence[tuple[Cell, ...]]]
_CLAIMED = (Column("calls_itself", "calls itself"),)
_OF_LOG = (
    Column("orders", "repair orders"),
    Column("here", "of its log delivered", "%"),
)
_OF_REPAIR = (
    Column("fixed", "fixed first time", "%"),
    Column("not_fixed", "not fixed first time", "%"),
    Column("seen", "came back"),
    Column("expected", "expected", "", 1),
    Column("mark", "comebacks"),
)
_OF_QUESTIONS = (Column("questions", "questions"), Column("about", "about"))


def _fixed(fix: FirstTimeFix | None, settings: Settings) -> tuple[Cell, Cell]:
    if fix is None or fix.repairs < settings.least_for_rate:
        return None, None
    return percent(fix.fixed / fix.repairs), percent(fix.not_fixed / fix.repairs)


def _standing(standing: Standing | None) -> tuple[Cell, Cell, Cell]:
    if standing is None:
        return 0, None, "no repair"
    expected = standing.expected if standing.expected > 0 else None
    return standing.seen, expected, str(standing.mark)
