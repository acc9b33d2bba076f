"""Do the clocks inside the readouts agree with when they were captured? Pure."""

from __future__ import annotations

from datetime import datetime, timedelta

from auditkit.obd.clock import ToolClock, tool_clock, went_back
from auditkit.order.events import Event, RepairOrder

_SLACK = timedelta(minutes=10)
_FAR = timedelta(hours=24)


def strange_clock(order: RepairOrder) -> tuple[str, int] | None:
    """Return what a tool's clock says against a readout's time, and of which event.

    A clock that is set wrong is as wrong in every readout of its tool: where two
    differ by more than ten minutes, and by more than the captures lasted, one of them
    was captured at another time. So was one that is more than a day off, where no other
    readout of that tool is off alike; and so were lines that are stamped more than ten
    minutes before a line above them. Ten minutes and a day are our choice.
    None where the clocks agree, or nothing was stamped.
    """
    seen: dict[str, list[tuple[Event, ToolClock, timedelta]]] = {}
    for event in order.of("readout"):
        captured = datetime.fromisoformat(event.text("captured"))
        clock = tool_clock(event.text("raw"), captured)
        if clock is None:
            continue
        if back := went_back(event.text("raw"), captured, _SLACK):
            told = f"a line of the readout is stamped {back}, before a line above it"
            return told, event.index
        behind = clock.behind(captured)
        others = seen.setdefault(event.text("tool"), [])
        for _, earlier, other in others:
            if abs(behind - other) > _SLACK + clock.ran + earlier.ran:
                told = (
                    f"the clock in the readout says {clock.text}; in an earlier one of "
                    f"the same tool it says {earlier.text}, and is not off by as much"
                )
                return told, event.index
        others.append((event, clock, behind))
    for alone in seen.values():
        event, clock, behind = alone[0]
        if len(alone) == 1 and abs(behind) > _FAR + clock.ran:
            told = (
                f"the clock in the readout says {clock.text}, and it is told as "
                f"captured at {event.text('captured')}"
            )
            return told, event.index
    return None
