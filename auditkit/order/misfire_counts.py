"""Misfire counters without a limit: above zero before a repair, zero after it. Pure.

Service 06 gives a cylinder's misfires of the last or current driving cycle under test
id 0C, and their weighted mean over ten cycles under 0B (ISO 15031-5:2006 Table 161, in
counts, scaling 24). Where a maker gives them no limit, the number itself can pass: it
was above zero, and is zero over a whole cycle since.

Only 0C counts so. A clear sets the mean to zero (7.4.1), and without one a tenth of it
goes with each cycle, so that its zero is no cycle's; after a clear it must be zero too.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from auditkit.obd import Readout, SelfTest
from auditkit.obd.code_table import monitors_of
from auditkit.obd.comparison import clear_reasons
from auditkit.obd.in_use import rise
from auditkit.obd.monitors import COMPRESSION_ONLY, this_cycle
from auditkit.obd.parameters import WARM_UPS
from auditkit.obd.rerun import MISFIRE_MIDS, Grade
from auditkit.obd.scaling import SelfTestOutcome
from auditkit.order.events import Event, RepairOrder
from auditkit.order.faults import Fault
from auditkit.order.once import once
from auditkit.order.self_test_evidence import readout_of, why_not_cleared

_MEAN, _CYCLE, _COUNTS = "0B", "0C", "24"
_NO_CYCLE = (
    "no count shows a whole driving cycle since: two warm-ups since a recorded clear "
    "(PID 30), else three since the readout before the repair"
)
_DRIVEN = "OBDCOND"
"""The counter of driving cycles of 600 s and more, with driving and idling in them."""


@dataclass(frozen=True, slots=True)
class MisfiresAtZero:
    """What misfire counters without a limit show of a fault.

    ``said`` tells it with the evidence of ``grade`` and the places of the ``events``
    that show it; where they show nothing, it is empty and ``lacking`` says why, itself
    empty where no such counter was above zero before.
    """

    said: str
    lacking: str
    grade: Grade = Grade.NONE
    events: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class _Count:
    test: SelfTest
    event: Event


@once
def misfires_at_zero(order: RepairOrder, fault: Fault) -> MisfiresAtZero:
    """Return what the fault's misfire counters without a limit show.

    The same monitor, test id and scaling of the same module was above zero when it was
    last read before the last repair, has been zero in every readout since, and the
    vehicle's own counts show a whole driving cycle since. All three words zero are no
    count but a test that has not run (7.6.1). What was typed without its limits cannot
    be told from that, and shows nothing.
    """
    nothing = MisfiresAtZero("", "")
    start, last = fault.proof_starts(order), fault.last_repair
    mids = monitors_of(fault.code) & MISFIRE_MIDS
    if start is None or last is None or not mids:
        return nothing
    before, after = order.before(last, "readout"), order.after(start, "readout")
    old = {c.test.place: c for c in _counts(before, mids, fault)}
    high = [c for c in old.values() if c.test.tid == _CYCLE and c.test.raw_value]
    new = list(_counts(after, mids, fault))
    if not high or not new:
        return nothing
    newest = new[-1].event
    seen = [readout_of(e) for e in after if e.index <= newest.index]
    first = readout_of(before[-1])
    is_cleared = bool(clear_reasons(first, seen[-1]))
    grade, told = _whole_cycle(first, seen, high[0].test, is_cleared=is_cleared)
    doubts = [_counted(new, is_cleared=is_cleared), _missing(high, new)]
    if is_cleared and not fault.was_cleared(order):
        doubts.append("codes were cleared, and no clear is recorded")
    doubts += [why_not_cleared(order), "" if told else _NO_CYCLE]
    if any(doubts):
        return MisfiresAtZero("", next(filter(None, doubts)))
    numbers = "; ".join(f"{_number(c.test)} before the repair, 0 after" for c in high)
    events = (*dict.fromkeys(c.event.index for c in high), newest.index)
    return MisfiresAtZero(f"{numbers}; {told}", "", grade, events)


def _counted(new: list[_Count], *, is_cleared: bool) -> str:
    """Return what was counted since; the mean of ten cycles only since a clear."""
    tids = {_CYCLE, _MEAN} if is_cleared else {_CYCLE}
    for count in new:
        if count.test.raw_value and count.test.tid in tids:
            return f"misfires were counted since: {_number(count.test)}"
    return ""


def _missing(high: list[_Count], new: list[_Count]) -> str:
    """Return which counter that was above zero the newest readout does not hold."""
    now = {c.test.place for c in new if c.event is new[-1].event}
    gone = [_name(c.test) for c in high if c.test.place not in now]
    return f"{gone[0]} has no new count" if gone else ""


def _counts(
    events: Iterable[Event], mids: frozenset[str], fault: Fault
) -> Iterator[_Count]:
    for event in events:
        for test in readout_of(event).self_tests:
            is_count = test.tid in {_MEAN, _CYCLE} and test.uasid == _COUNTS
            is_own = test.mid in mids and fault.may_be_of(test.responder)
            if is_count and is_own and test.outcome == SelfTestOutcome.NO_LIMIT:
                yield _Count(test, event)


def _whole_cycle(
    before: Readout, after: list[Readout], test: SelfTest, *, is_cleared: bool
) -> tuple[Grade, str]:
    """Return what shows a whole driving cycle of a module since the repair, in words.

    Warm-ups and driven cycles rise at most once a cycle (13 CCR 1968.2, from memory),
    so a second one shows that the cycle of the first is over. Counted from the readout
    before the repair, the first may lie before the repair. On compression ignition the
    misfire monitor says itself that it is complete in this cycle (ISO 15031-5:2006
    B.2); on spark ignition it always says so.
    """
    new, who = after[-1], test.responder
    was, now = _warm_ups(before, who), _warm_ups(new, who)
    if now is not None and is_cleared and now >= 2:
        return Grade.RESULTS_AFTER_CLEAR, f"{now} warm-ups since the clear"
    if now is not None and was is not None and not is_cleared and now - was >= 3:
        told = f"{now - was} warm-ups since the readout before the repair"
        return Grade.COUNTER_ROSE, told
    for since, old, needed in (
        ("the first readout after the repair", after[0], 2),
        ("the readout before the repair", before, 3),
    ):
        then, count = _driven(old, who), _driven(new, who)
        risen = None if then is None or count is None else rise(then, count)
        if risen is not None and risen >= needed:
            return Grade.COUNTER_ROSE, f"{risen} driving cycles since {since}"
    own = {m.monitor for m in new.monitors if m.responder == who}
    ran = this_cycle(new.monitors).get((who, "misfire"))
    if own & COMPRESSION_ONLY and ran is not None and ran.supported and ran.complete:
        told = "its monitor is complete in this driving cycle"
        return Grade.READINESS_COMPLETED, told
    return Grade.NONE, ""


def _warm_ups(readout: Readout, who: str) -> int | None:
    found = [
        int(v.value)
        for v in readout.values
        if (v.service, v.id, v.responder) == ("01", WARM_UPS, who)
        and v.value is not None
    ]
    return found[-1] if found else None


def _driven(readout: Readout, who: str) -> int | None:
    counts = {(c.responder, c.name): c.count for c in readout.counters}
    return counts.get((who, _DRIVEN))


def _name(test: SelfTest) -> str:
    return f"self-test {test.mid}/{test.tid} of {test.responder}"


def _number(test: SelfTest) -> str:
    return f"{_name(test)}: {test.raw_value}"
