"""Bench tests of a part by a method that the newest entries of a log hold."""

from __future__ import annotations

from collections.abc import Iterator

from auditkit.log.held_order import held
from auditkit.log.open_log import OpenLog
from auditkit.order.events import Event, RepairOrder

LOOKED_THROUGH = 5000
"""Entries, from the newest back: what a shop writes in weeks, and cheap to look at."""

_MOST = 60  # such tests that are looked at; an order may hold several


def earlier_tests(
    log: OpenLog, part: str, method: str, *, but: str = ""
) -> Iterator[tuple[RepairOrder, Event]]:
    """Yield each order with its last such test, the newest first; ``but`` one order.

    Each order is read as a page reads it: signatures checked, corrections folded in.
    """
    size, _ = log.store.head()
    said = (f'"part":"{part}"', f'"method":"{method}"')
    since = max(0, size - LOOKED_THROUGH)
    for name in log.store.newest_with("bench_test", said, since, _MOST):
        if name == but:
            continue
        order = held(log, name).order
        for test in reversed(order.of("bench_test")):
            if (test.text("part"), test.text("method")) == (part, method):
                yield order, test
                break
