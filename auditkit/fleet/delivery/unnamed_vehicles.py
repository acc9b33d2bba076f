"""Repair orders whose vehicle is not named, by shop. Pure but for ``ask``.

Nobody sees such a vehicle come back, to the shop that repaired it or to another. What
else a collection holds of it, such as calibrations, marks a model and not a vehicle.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from auditkit.fleet.audited import AskedOfShop, Column, Table
from auditkit.fleet.evidence.held_against import (
    SHARES,
    Counted,
    Held,
    held_against_peers,
)
from auditkit.fleet.evidence.packets import to_open
from auditkit.fleet.part import Ask
from auditkit.fleet.phrases import by_name, counted, in_100
from auditkit.fleet.settings import Settings

_UNNAMED = """SELECT shop, count(*) FILTER (vin IS NULL), count(*),
        count(*) FILTER (vin_state = 'withheld'),
        count(*) FILTER (vin_state = 'erased'),
        count(*) FILTER (vin_state = 'absent'), count(*) FILTER (is_incomplete)
    FROM counted_order GROUP BY shop ORDER BY shop"""
_ORDERS = """SELECT order_id, CAST(vin_state AS VARCHAR) FROM counted_order
    WHERE vin IS NULL AND shop = ? ORDER BY order_id"""
_REASONS = (
    "these customers did not agree that their vehicle is told",
    "vehicles that have no VIN to read, and whose plate is told in its place",
    "a policy of the shop's that withholds every VIN, since some day",
)


@dataclass(frozen=True, slots=True)
class Unnamed:
    """A shop's orders without a VIN, held against other shops' share.

    ``why`` is how many of them withhold it, had it erased, and never had one;
    ``incomplete`` how many lack entries.
    """

    held: Held
    why: tuple[int, int, int]
    incomplete: int


def read_unnamed(ask: Ask, settings: Settings) -> list[Unnamed]:
    """Return how many vehicles each shop does not name, by the shops' names."""
    rows = sorted(ask(_UNNAMED), key=lambda row: by_name(row[0]))
    counts = [Counted((), *row[:3]) for row in rows]
    held = {
        one.counted.shop: one
        for one in held_against_peers(counts, settings, settings.least_for_rate)
    }
    return [Unnamed(held[row[0]], row[3:6], row[6]) for row in rows]


def sentences(found: Sequence[Unnamed]) -> list[str]:
    """Return what is said of the shops that name fewer vehicles than others."""
    return [
        f"{one.counted.shop} does not name the vehicle in {one.counted.hits:,} of "
        f"{counted(one.counted.total, 'repair order')}: whether those repairs held, "
        "and whether they were comebacks, cannot be seen."
        for one in _standing_out(found)
    ]


def unnamed_table(found: Sequence[Unnamed]) -> Table:
    """Return by shop how many orders cannot be followed."""
    return Table(
        name="withheld",
        title="Repair orders that cannot be followed",
        columns=(
            Column("shop", "shop"),
            Column("orders", "repair orders"),
            Column("withheld", "VIN withheld"),
            Column("erased", "VIN erased"),
            Column("absent", "no VIN"),
            *SHARES,
            Column("incomplete", "lack entries of the order"),
        ),
        rows=tuple(
            (
                *(one.held.counted.shop, one.held.counted.total, *one.why),
                *(*one.held.shares, one.incomplete),
            )
            for one in found
        ),
        note="Without a VIN no comeback of that order can be seen, nor that it is one.",
    )


def questions(
    ask: Ask, found: Sequence[Unnamed], settings: Settings
) -> list[AskedOfShop]:
    """Ask the shops that leave the vehicle unnamed more often than others do."""
    return [_question(ask, one, settings) for one in _standing_out(found)]


def _standing_out(found: Sequence[Unnamed]) -> list[Held]:
    return [one.held for one in found if one.held.stands_out]


def _question(ask: Ask, one: Held, settings: Settings) -> AskedOfShop:
    if one.against is None:
        raise ValueError("a shop without peers is asked nothing")
    shop, others = one.counted.shop, in_100(one.against.peers_share)
    return AskedOfShop(
        screen="vehicles not named",
        shop=shop,
        question=(
            f"{one.counted.hits} of {one.counted.total} repair orders of {shop} do not "
            f"name their vehicle; in other shops it is {others}. Which vehicles are "
            "they, and do any stand in other orders too?"
        ),
        measured={
            "without a VIN": one.counted.hits,
            "repair orders": one.counted.total,
        },
        peers={"share": round(one.against.peers_share, 4), "shops": one.peers},
        at_least=(
            f"{settings.least_for_rate} repair orders, and {settings.least_peers} "
            "other shops with as many"
        ),
        honest_reasons=_REASONS,
        to_open=to_open(
            ask, {order: f"its VIN is {state}" for order, state in ask(_ORDERS, [shop])}
        ),
    )
