"""What a collection holds and what speaks against its logs, told at a run's end."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from auditkit.fleet.collected import Collected, FoundConflict, UnknownKey

if TYPE_CHECKING:
    from auditkit.fleet.tables_held import TablesHeld

_CONFLICTS = """
    SELECT c.kind, c.sentence, a.path, b.path
    FROM conflict c
    JOIN packet a ON a.packet_id = c.first_packet_id
    JOIN packet b ON b.packet_id = c.second_packet_id
    ORDER BY c.kind, c.log_id, c.first_packet_id, c.second_packet_id"""
_KEYS = """
    SELECT p.key_is, l.origin, l.key_id, l.shop, count(*)
    FROM packet p JOIN log l USING (log_id)
    WHERE p.key_is IN ('not listed', 'outside its dates')
    GROUP BY ALL ORDER BY ALL"""
_HOLDS = """
    SELECT (SELECT count(*) FROM packet WHERE is_verified),
        (SELECT count(*) FROM repair_order),
        (SELECT count(*) FROM log),
        (SELECT count(*) FROM event),
        (SELECT count(*) FROM repair_order WHERE is_overstated),
        (SELECT count(*) FROM repair_order WHERE is_incomplete)"""


def told(tables: TablesHeld, done: Collected) -> Collected:
    """Return what came of a run, with what its collection holds now."""
    ((packets, orders, logs, entries, overstated, incomplete),) = tables.ask(_HOLDS)
    return replace(
        done,
        conflicts=[FoundConflict(*map(str, row)) for row in tables.ask(_CONFLICTS)],
        unknown_keys=[UnknownKey(*row) for row in tables.ask(_KEYS)],
        holds={
            "packets": packets,
            "repair_orders": orders,
            "logs": logs,
            "entries": entries,
        },
        has_keys=tables.ask("SELECT keys_sha256 IS NOT NULL FROM collection")[0][0],
        overstated=overstated,
        incomplete=incomplete,
    )
