"""What came back: each comeback with its packets, in order. Pure but for ``ask``."""

from __future__ import annotations

from auditkit.fleet.audited import Column, Section, Table, ToOpen
from auditkit.fleet.part import Ask, Part
from auditkit.fleet.phrases import by_name, counted
from auditkit.fleet.settings import Settings

MOST_TO_OPEN = 40
"""Packets named with one question; the table has all."""
MOST_LISTED = 100
"""Comebacks that a report lists; more stand in its files alone."""
_ALL = """SELECT f.shop, f.vin, f.order_no, f.module, f.code, f.done_at, f.days,
        b.shop, b.order_no, lower(hex(p.sha256)), lower(hex(q.sha256))
    FROM followed_fault f JOIN packet p USING (packet_id)
    JOIN counted_order b ON b.order_id = f.back_order_id
    JOIN packet q ON q.packet_id = b.packet_id
    WHERE f.state = 'followed' AND f.came_back
    ORDER BY f.shop, f.done_at, f.order_no, f.order_id, f.module, f.code"""
_VEHICLES = """WITH visits AS (
        SELECT vin, count(*) AS visits FROM counted_order
        WHERE vin IS NOT NULL GROUP BY vin)
    SELECT vin, max(visits), count(*), count(*) FILTER (came_back),
        count(DISTINCT shop)
    FROM followed_fault JOIN visits USING (vin) WHERE state = 'followed'
    GROUP BY vin HAVING count(*) FILTER (came_back) > 0
    ORDER BY 4 DESC, 3 DESC, vin"""
_OF_SHOP = """SELECT lower(hex(p.sha256)), f.order_no, f.code, f.days, b.order_no,
        b.shop = f.shop
    FROM followed_fault f JOIN packet p USING (packet_id)
    JOIN counted_order b ON b.order_id = f.back_order_id
    WHERE f.state = 'followed' AND f.came_back AND f.shop = ?
    ORDER BY f.days, f.order_no, f.order_id, f.module, f.code"""


def came_back(ask: Ask, settings: Settings) -> Part:
    """List every comeback: which repair, after how long, where it was seen again.

    Vehicles are named to a reader who named them, in a register, and to nobody else.
    """
    names_vehicles = ask("SELECT count(*) FROM vehicle_in_view") != [(0,)]
    rows = sorted(ask(_ALL), key=lambda row: by_name(row[0]))
    table = Table(
        name="came_back",
        title="Each fault that came back",
        columns=(
            Column("shop", "shop"),
            *((Column("vin", "vehicle"),) if names_vehicles else ()),
            Column("order", "repair order"),
            Column("fault", "fault"),
            Column("repaired", "repaired"),
            Column("days", "came back after", "days"),
            Column("seen_by", "seen again by"),
            Column("seen_in", "in its order"),
            Column("packet", "packet"),
            Column("seen_packet", "packet that shows it again"),
        ),
        rows=tuple(
            (
                *(shop, *((vin,) if names_vehicles else ()), order),
                *(at_module(code, module), str(done.date()), days, by, seen_in),
                *packets,
            )
            for shop, vin, order, module, code, done, days, by, seen_in, *packets in (
                rows
            )
        ),
        is_for_files=len(rows) > MOST_LISTED,
    )
    elsewhere = sum(row[0] != row[7] for row in rows)
    said = (
        f"{counted(len(rows), 'fault')} came back within {settings.horizon_days} days, "
        f"{elsewhere:,} of them to another shop than the one that had repaired it."
    )
    tables = (_vehicle_table(ask), table) if names_vehicles else (table,)
    return Part(Section("came_back", "What came back", (said,), tables))


def _vehicle_table(ask: Ask) -> Table:
    rows = ask(_VEHICLES)
    return Table(
        name="vehicles_that_came_back",
        title="Vehicles of the register whose faults came back",
        columns=(
            Column("vin", "vehicle"),
            Column("visits", "visits"),
            Column("repairs", "faults repaired"),
            Column("seen", "came back"),
            Column("shops", "shops that repaired it"),
        ),
        rows=tuple(rows),
        note="Those with most comebacks first. 'auditkit audit FILE --vehicle VIN' "
        "tells of one, visit by visit.",
        is_for_files=len(rows) > MOST_LISTED,
    )


def at_module(code: str, module: str) -> str:
    """Return a fault as everywhere: P0401@7E8."""
    return f"{code}@{module}" if module else code


def to_open(ask: Ask, shop: str) -> tuple[ToOpen, ...]:
    """Return the packets of a shop's repairs that came back, the soonest first."""
    found = []
    for sha256, order, code, days, seen_in, is_here in ask(_OF_SHOP, (shop,)):
        where = f"order {seen_in}" if is_here else "at another shop"
        because = f"{code} came back after {counted(days, 'day')} ({where})"
        found.append(ToOpen(sha256, order, because))
    return tuple(found[:MOST_TO_OPEN])
