"""Was a fault worked on after its clear or its drive, and nothing shown since? Pure."""

from __future__ import annotations

from datetime import datetime

from auditkit.obd.parameters import DISTANCE, MINUTES, ODOMETER, WARM_UPS
from auditkit.obd.readout import Readout
from auditkit.obd.rerun import MISFIRE_MIDS
from auditkit.order.events import Event, RepairOrder
from auditkit.order.faults import Fault
from auditkit.order.self_test_evidence import captured_at, mids_of, readout_of

_AWAY = 24 * 3600  # s


def done_before_last_repair(order: RepairOrder, fault: Fault) -> str:
    """Return what stands before the last repair only, in words; empty if nothing."""
    last = fault.last_repair
    if last is None or fault.was_cleared(order) or _went_on(order, fault.code, last):
        return ""
    old = order.before(last, "readout")[-1:]
    read = old[0].index if old else 0
    clears = order.between(read, last, "code_clear")
    begun = min((e.index for e in clears), default=last)
    begun = max(read, min(begun, fault.attempts[-1].first))
    if order.between(begun, last, "road_test"):
        return "it was driven"
    if old and _began(order.events[last]) - captured_at(old[0]) > _AWAY:
        return "it may have been driven"
    if clears and not order.after(last, "road_test"):
        return "codes were cleared"
    return ""


def _began(repair: Event) -> float:
    """Return when the work on a part began, in seconds since 1970."""
    told = repair.text("started") or repair.text("at")
    return datetime.fromisoformat(told).timestamp()


def _went_on(order: RepairOrder, code: str, last: int) -> bool:
    """Return whether counts, and its results, went on from one readout to the last."""
    every = [readout_of(event) for event in order.after(last, "readout")]
    return any(
        _rose(was, every[-1]) and _has_new_result(was, every[-1], mids_of(order, code))
        for was in every[:-1]
    )


def _rose(before: Readout, now: Readout) -> bool:
    pairs = (
        (before.value(i), now.value(i)) for i in (WARM_UPS, DISTANCE, MINUTES, ODOMETER)
    )
    return any(was is not None and new is not None and new > was for was, new in pairs)


def _has_new_result(before: Readout, now: Readout, mids: frozenset[str]) -> bool:
    """Return whether results of monitors changed, where there are any but of misfire.

    Misfires stay at zero however often they are counted.
    """
    every = [t for t in now.self_tests if t.mid in mids and t.mid not in MISFIRE_MIDS]
    old = {t.place: t.words for t in before.self_tests}
    return not every or any(old.get(t.place) != t.words for t in every)
