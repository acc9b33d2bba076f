"""What readouts after a repair say against it: the fault is there still, or back."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from auditkit.obd import Readout
from auditkit.obd.code_table import related
from auditkit.order.events import Event, RepairOrder
from auditkit.order.faults import Fault, addressed
from auditkit.order.findings import Problem
from auditkit.order.self_test_evidence import readout_of


def speaks_against(
    order: RepairOrder, fault: Fault, after: Sequence[tuple[Event, Readout]]
) -> Iterator[Problem]:
    """Yield what readouts after its last attempt say against a fault being gone.

    It is pending, or stored after a clear or with a lamp on that no other code of its
    module explains; or a code of its row and place is new after a clear: that no part
    was worked on for that code, and that it is set aside, changes nothing. Without a
    clear the last answer to each service counts.
    """
    cleared = fault.was_cleared(order)
    repaired = {f.code for f in addressed(order)}
    before = {
        c.text
        for e in order.before(fault.last_repair or 0, "readout")
        for c in readout_of(e).codes
    }
    last = {s: e.index for e, r in after for s in r.reported}
    for event, readout in after:
        for found in (*readout.confirmed, *readout.pending):
            same = found.text == fault.code
            new = cleared and found.text not in before and found.text not in repaired
            if not same and not (new and related(fault.code, found.text)):
                continue
            lamp = dict(readout.mil).get(found.responder, False)
            others = _others(readout, found.responder, fault)
            pending = found.kind == "pending"
            if not cleared:
                service = "07" if pending else "03"
                if last.get(service) != event.index:
                    continue  # asked again later: that answer counts
                if not pending and not (lamp and not others):
                    continue  # history
            told = "is back" if cleared else "is still there"
            yield Problem(
                f"{found.text} ({found.kind}) {told} after the repair",
                "find the remaining cause; after the next repair, read again",
                event.index,
                contradicts=True,
                subject=fault.subject,
            )


def _others(readout: Readout, who: str, fault: Fault) -> list[str]:
    return [
        c.text for c in readout.confirmed if c.responder == who and c.text != fault.code
    ]
