"""What one module counts, without what others count beside it. Pure."""

from __future__ import annotations

from dataclasses import replace

from auditkit.obd.parameters import DISTANCE, MINUTES, WARM_UPS, Value
from auditkit.obd.readout import Readout
from auditkit.obd.transcript import UNKNOWN
from auditkit.order.events import RepairOrder
from auditkit.order.once import once
from auditkit.order.self_test_evidence import readouts_of

_SINCE_CLEAR = frozenset({WARM_UPS, DISTANCE, MINUTES})


def own_counts(order: RepairOrder, who: str, readout: Readout) -> Readout:
    """Return a readout without what other modules than this one count.

    That is what is counted since a clear (PIDs 30, 31 and 4E), which may have reached
    one module alone, and the in-use counters. Each is left as it is where this module
    tells none of its kind in any readout of the order, as one of brakes does; and so is
    what names no module, but beside the same count of this one, and every count where
    it is not known which module this is.
    """
    if who == UNKNOWN:
        return readout
    has_values, has_counters = _counts_itself(order, who)
    if has_values:
        named = {value.id for value in readout.values if _is_own(value, who)}
        values = (
            v
            for v in readout.values
            if not _counts(v)
            or v.responder == who
            or (v.responder == UNKNOWN and v.id not in named)
        )
        readout = replace(readout, values=tuple(values))
    if has_counters:
        counters = (c for c in readout.counters if c.responder in {who, UNKNOWN})
        readout = replace(readout, counters=tuple(counters))
    return readout


@once
def _counts_itself(order: RepairOrder, who: str) -> tuple[bool, bool]:
    """Return whether a module tells counts since a clear, and in-use counters."""
    every = [one for _, one in readouts_of(order)]
    return (
        any(_is_own(value, who) for one in every for value in one.values),
        any(c.responder == who for one in every for c in one.counters),
    )


def _counts(value: Value) -> bool:
    return value.service == "01" and value.id in _SINCE_CLEAR


def _is_own(value: Value, who: str) -> bool:
    return _counts(value) and value.responder == who
