"""Does a code's monitor owe a result of service 06? Pure."""

from __future__ import annotations

from auditkit.obd import Readout, rerun
from auditkit.obd.code_table import watch_of
from auditkit.obd.monitors import SINCE_CLEAR
from auditkit.order.events import RepairOrder
from auditkit.order.faults import Fault
from auditkit.order.self_test_evidence import mids_of, readouts_of


def owes_result(order: RepairOrder, fault: Fault) -> bool:
    """Return whether a monitor with results watches for a code, and owes one.

    It owes none where its module, asked last for all that service 06 holds, lists no
    result of it, gave none in any readout, and says that the monitor is complete.
    """
    if watch_of(fault.code) != "M":
        return False
    mids, read = mids_of(order, fault.code), readouts_of(order)
    if not read or any(t.mid in mids for _, r in read for t in r.self_tests):
        return True
    last = read[-1][1]
    return not any(
        last.lacks(who, mids) and is_complete(last, who, mids)
        for who in fault.witnesses
    )


def is_complete(readout: Readout, who: str, mids: frozenset[str]) -> bool | None:
    """Return whether a module says that its monitor of these ids is complete.

    Since the last clear (PID 01); None where it says nothing of it.
    """
    names = rerun.monitors_of(mids)
    told = [
        m.complete
        for m in readout.monitors
        if (m.responder, m.cycle) == (who, SINCE_CLEAR)
        and m.monitor in names
        and m.supported
    ]
    return all(told) if told else None
