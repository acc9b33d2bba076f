"""An order as it would be with one more event, to ask what that would need. Pure.

Nothing of it is ever written: the rules answer what is asked only of a fault that was
worked on, and which cautions a step calls for, before the step is taken.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from auditkit.order.events import Event, RepairOrder
from auditkit.text.values import Json


def with_event(
    order: RepairOrder, event: Mapping[str, Json], recorded: str | None = None
) -> RepairOrder:
    """Return the order with one more event at its end, recorded at a time.

    Without a time it counts as recorded when it is said to have happened, where the
    order lies in a log. An amendment corrects nothing here: fold it instead.
    """
    last = Event(len(order.events), event)
    times = order.recorded
    if recorded is not None or times:
        times = (*times, recorded or last.text("at"))
    return replace(order, events=(*order.events, last), recorded=times)


def with_repair(order: RepairOrder, part: str, code: str) -> RepairOrder:
    """Return the order as if a part were replaced for a code right after its end."""
    last = order.events[-1]
    repair: dict[str, Json] = {
        "kind": "repair",
        "at": last.text("at"),
        "by": last.by,
        "part": part,
        "action": "replaced",
        "codes": [code],
    }
    return with_event(order, repair, order.recorded[-1] if order.recorded else None)
