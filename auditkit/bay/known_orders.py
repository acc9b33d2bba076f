"""What orders showed when they were read last: each state of one is judged once.

A step is judged before and after it, and the next step begins where it ended. Whoever
stays keeps one of these. Nothing in it is believed: an order is read from the log each
time, and what is known of it counts only where all is as it was.
"""

from __future__ import annotations

from collections import OrderedDict
from threading import Lock
from typing import TYPE_CHECKING

from auditkit.bay.so_far import SoFar, so_far
from auditkit.order.kept_events import keeping

if TYPE_CHECKING:
    from auditkit.order.catalogue import Catalogue
    from auditkit.order.events import RepairOrder
    from auditkit.order.policy import Policy

_MOST = 96  # orders that are remembered: more than a shop has under way


class KnownOrders:
    """The newest state of each order, by its id; several threads may ask."""

    def __init__(self) -> None:
        self._known: OrderedDict[str, SoFar] = OrderedDict()
        self._lock = Lock()

    def so_far(self, order: RepairOrder, catalogue: Catalogue, policy: Policy) -> SoFar:
        """Return what an order shows so far, as ``so_far`` says it.

        Where it grew, its earlier events keep what was computed of them.
        """
        with self._lock:
            known = self._known.get(order.id)
        if known is not None:
            judged = known.judgement
            order = keeping(order, known.order)
            is_same = judged.catalogue is catalogue and judged.policy == policy
            if is_same and order == known.order:
                return known
        found = so_far(order, catalogue.judge(order, policy))
        with self._lock:
            self._known[order.id] = found
            self._known.move_to_end(order.id)
            while len(self._known) > _MOST:
                self._known.popitem(last=False)
        return found
