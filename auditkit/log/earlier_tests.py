"""Bench tests of a part by a method that the newest entries of a log hold."""

from __future__ import annotations

from collections.abc import Iterator

from auditkit.log.held_order import held
from auditkit.log.open_log import OpenLog
from auditkit.order.events import Event, RepairOrder

LOOKED_THROUGH = 5000
"""Entries, from the newest back: what a shop writes in weeks, and cheap to look at."""


def earlier_tests(
    log: OpenLog, part: str, method: str, *, but: str = ""
) -> Iterator[tuple[RepairOrder, Event]]:
    """Yield each order with its last such test, the newest first; ``but`` one order.

    Each order is read as a page reads it: signatures checked, corrections folded in.
    """
    size, _ = log.store.head()
    orders: dict[str, None] = {}
    said = (f'"part":"{part}"', f'"method":"{method}"')
    for row in log.store.rows_of("bench_test", max(0, size - LOOKED_THROUGH)):
        if row.repair_order and all(one in row.entry.payload for one in said):
            orders.pop(row.repair_order, None)
            orders[row.repair_order] = None
    for name in reversed(orders):
        if name == but:
            continue
        order = held(log, name).order
        for test in reversed(order.of("bench_test")):
            if (test.text("part"), test.text("method")) == (part, method):
                yield order, test
                break
