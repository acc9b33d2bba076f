"""An event that says the same as one before keeps what was computed of it. Pure."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from auditkit.order.events import Event, RepairOrder


def kept_or_new(old: Event, new: Event) -> Event:
    """Return the old event where the new one, of the same place, says the same."""
    is_same = (
        new.data == old.data
        and new.recorded == old.recorded
        and new.amended_by == old.amended_by
        and new.modules == old.modules
    )
    return old if is_same else new


def keeping(order: RepairOrder, known: RepairOrder) -> RepairOrder:
    """Return an order with the events of one known, where they say the same.

    An event of it, or of another order of its vehicle, keeps what was computed.
    """
    here = len(known.events)
    events = (*map(kept_or_new, known.events, order.events), *order.events[here:])
    before = {other.id: other for other in known.others}
    others = tuple(
        keeping(other, before[other.id]) if other.id in before else other
        for other in order.others
    )
    return replace(order, events=events, others=others)
