"""Bench tests of a part by a method that the newest entries of a log hold."""

from __future__ import annotations

from auditkit.log import reading
from auditkit.log.open_log import OpenLog
from auditkit.order.events import Event, RepairOrder

LOOKED_THROUGH = 5000
"""Entries, from the newest back: what a shop writes in weeks, and cheap to look at."""

_MOST = 60  # such tests that are looked at; an order may hold several


def lately_tested(log: OpenLog, part: str, method: str) -> tuple[str, ...]:
    """Return the orders that seem to hold such a test, the newest first."""
    size, _ = log.store.head()
    said = (f'"part":"{part}"', f'"method":"{method}"')
    since = max(0, size - LOOKED_THROUGH)
    return log.store.newest_with("bench_test", said, since, _MOST)


def last_test(
    log: OpenLog, name: str, part: str, method: str
) -> tuple[RepairOrder, Event] | None:
    """Return an order with its last such test; None where it holds none.

    Its entries are held against their signatures, and its corrections folded in.
    """
    lines = reading.logged_events(log, name)
    order = RepairOrder.fold(name, [line.event for line in lines])
    for test in reversed(order.of("bench_test")):
        if (test.text("part"), test.text("method")) == (part, method):
            return order, test
    return None
