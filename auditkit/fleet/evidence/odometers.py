"""Distances of one vehicle that go back, or grow faster than anyone drives.

Miles written as kilometres, and two digits that changed places, are looked for first:
they are told in the list, and asked of nobody. What is left points at either visit.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from auditkit.fleet.audited import AskedOfShop, Cell, Column, Section, Table
from auditkit.fleet.evidence.packets import to_open
from auditkit.fleet.evidence.wording import SHOP
from auditkit.fleet.part import Ask, Part
from auditkit.fleet.phrases import by_name, counted
from auditkit.fleet.settings import Settings

MILE_KM = 1.609344
"""International mile, exactly (NIST SP 811, from memory)."""

_MUCH_DRIVEN_KM_A_DAY = 150
"""Two digits in each other's place have to leave no more than that: else the swap of a
leading digit would explain nearly everything. Our own choice, no published source."""

_LEAST_BACK_KM = 2.0
"""Both readings show whole kilometres or miles: less is no step back."""

_VISITS = """
    WITH visits AS (
        SELECT vin, shop, order_id, order_no, opened_at, odometer_m / 1000 AS km,
            coalesce(odometer_text, CAST(odometer_m // 1000 AS VARCHAR)) AS text
        FROM counted_order
        WHERE vin IS NOT NULL AND odometer_m IS NOT NULL AND opened_at IS NOT NULL),
    pairs AS (
        SELECT vin, lag(shop) OVER v, lag(order_id) OVER v, lag(order_no) OVER v,
            lag(opened_at) OVER v, lag(km) OVER v AS before, lag(text) OVER v,
            shop, order_id, order_no, opened_at, km, text
        FROM visits WINDOW v AS (PARTITION BY vin ORDER BY opened_at, order_id))
    SELECT * FROM pairs WHERE before IS NOT NULL
        AND (km < before - ? OR km > before + ?)
    ORDER BY ALL"""
_REASONS = (
    "the instrument cluster, or its module, was replaced",
    "the number was mistyped, at either visit",
    "the orders were written down in another order than they happened",
)


@dataclass(frozen=True, slots=True)
class Visit:
    """One visit: shop, order, when, and its odometer in km and as it was read."""

    shop: str
    order_id: int
    order_no: str
    opened_at: datetime
    km: float
    text: str


@dataclass(frozen=True, slots=True)
class Step:
    """Two visits of one vehicle in a row whose odometers do not fit each other."""

    vin: str
    before: Visit
    after: Visit
    explained: str
    """What mistake of writing would make it fit; empty where none would."""


def odometers(ask: Ask, settings: Settings) -> Part:
    """Say where an odometer goes back between visits, or runs too fast."""
    steps = []
    for row in ask(_VISITS, [_LEAST_BACK_KM, settings.most_km_a_day]):
        before, after = Visit(*row[1:7]), Visit(*row[7:])
        if not fits(before, after, settings.most_km_a_day):
            told = explained(before, after)
            steps.append(Step(row[0], before, after, told))
    left = [step for step in steps if not step.explained]
    sentence = (
        f"At {counted(len(steps), 'visit')} the odometer does not fit the visit "
        f"before: {len(steps) - len(left)} would fit if miles were meant, or if two "
        f"digits had changed places; about {len(left)} a shop is asked."
        if steps
        else "No odometer goes back, or runs too fast, between two visits."
    )
    section = Section(
        "odometers",
        "Odometers that do not fit",
        (sentence,),
        (_table(steps),) if steps else (),
    )
    shops = {visit.shop for step in left for visit in (step.before, step.after)}
    asked = (_question(ask, shop, left) for shop in sorted(shops, key=by_name))
    return Part(section, tuple(asked))


def fits(before: Visit, after: Visit, most_km_a_day: int) -> bool:
    """Say whether a vehicle could show both, with no more than that a day. Pure."""
    days = max(1.0, (after.opened_at - before.opened_at).total_seconds() / 86_400)
    driven = after.km - before.km
    return -_LEAST_BACK_KM <= driven <= most_km_a_day * days


def explained(before: Visit, after: Visit) -> str:
    """Return which mistake of writing would make two odometers fit. Pure.

    Miles are tested first (a ratio within a tenth of 1.609344, either way), then two
    neighbouring digits that changed places, of either reading.
    """
    for one, other in ((before.km, after.km), (after.km, before.km)):
        if other > 0 and one > 0 and abs(math.log(one / (MILE_KM * other))) < 0.1:
            return "miles in place of kilometres?"
    for km in _swapped(after):
        if fits(before, replace(after, km=km), _MUCH_DRIVEN_KM_A_DAY):
            return "two digits of the later one changed places?"
    for km in _swapped(before):
        if fits(replace(before, km=km), after, _MUCH_DRIVEN_KM_A_DAY):
            return "two digits of the earlier one changed places?"
    return ""


def _swapped(visit: Visit) -> list[float]:
    """Return the kilometres with any two neighbouring digits in each other's place."""
    digits = [c for c in visit.text.split(".", 1)[0] if c in "0123456789"]
    number = int("".join(digits) or "0")
    if not number:
        return []
    found = []
    for place in range(len(digits) - 1):
        a, b = digits[place : place + 2]
        if a != b:
            other = [*digits[:place], b, a, *digits[place + 2 :]]
            found.append(int("".join(other)) * visit.km / number)
    return found


def _question(ask: Ask, shop: str, left: Sequence[Step]) -> AskedOfShop:
    own = [s for s in left if shop in {s.before.shop, s.after.shop}]
    because = {
        visit.order_id: f"{visit.text} on {visit.opened_at:%Y-%m-%d}, VIN {step.vin}"
        for step in own
        for visit in (step.before, step.after)
    }
    return AskedOfShop(
        screen="odometers that do not fit",
        shop=shop,
        question=(
            f"For {counted(len({s.vin for s in own}), 'vehicle')} of {shop} the "
            "odometer goes back, or runs too fast, between two visits. Either visit "
            "may be the one to look at: what did the vehicle show?"
        ),
        measured={"visits that do not fit": len(own)},
        peers={},
        at_least="two visits of one vehicle: this needs no comparison",
        honest_reasons=_REASONS,
        to_open=to_open(ask, because),
    )


def _table(steps: Sequence[Step]) -> Table:
    columns = (
        Column("vin", "VIN"),
        SHOP,
        Column("order", "Order"),
        Column("day", "On"),
        Column("odometer", "Odometer"),
        Column("seen_by", "And by"),
        Column("seen_in", "In order"),
        Column("other_day", "On"),
        Column("other_odometer", "Odometer"),
        Column("explained", "It would fit with"),
    )
    rows: list[tuple[Cell, ...]] = []
    for step in steps:
        one, other, fits_with = step.before, step.after, step.explained or "nothing"
        rows.append((step.vin, *_cells(one), *_cells(other), fits_with))
        if one.shop != other.shop:  # a row for each shop, so that each sees its own
            rows.append((step.vin, *_cells(other), *_cells(one), fits_with))
    return Table("odometers", "Odometers that do not fit", columns, tuple(rows))


def _cells(visit: Visit) -> tuple[str, str, str, str]:
    return visit.shop, visit.order_no, f"{visit.opened_at:%Y-%m-%d}", visit.text
