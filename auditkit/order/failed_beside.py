"""Self-tests that failed after a repair, beside the one that is looked for. Pure."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from auditkit.obd import SelfTest
from auditkit.obd.code_table import monitors_of, place_of
from auditkit.obd.dtc import codes_in
from auditkit.obd.rerun import MISFIRE_MIDS
from auditkit.obd.rerun import monitors_of as known_monitors
from auditkit.obd.scaling import SelfTestOutcome
from auditkit.order.events import Event, RepairOrder
from auditkit.order.faults import Fault
from auditkit.order.self_test_evidence import (
    mids_of,
    readout_of,
    readouts_after,
    results_after,
    typed_after,
    typed_of_none,
    typed_result,
)
from auditkit.order.typed_readout import typed_tests

ALL_CYLINDERS, _MEAN, _CYCLE, _COUNTS = "A1", "0B", "0C", "24"


@dataclass(frozen=True, slots=True)
class FailedBeside:
    """What speaks against a fault's own results: in words, and which event says so.

    ``is_own`` is true where it is the fault's own test, later than its last result.
    """

    said: str
    event: int
    is_own: bool


def failed_beside(order: RepairOrder, fault: Fault) -> Iterator[FailedBeside]:
    """Yield what the last readout, or a display after it, holds against a passed test.

    The misfires of all cylinders, since a recorded clear, where the code is of one; the
    misfires of its own cylinder in one driving cycle, where that test id has no limit,
    above the limit of their mean; its own monitor, typed as failed after the last
    readout that holds a result of it.
    """
    for event in readouts_after(order)[-1:]:
        tests = [
            test
            for test in readout_of(event).self_tests
            if test.mid in MISFIRE_MIDS and fault.may_be_of(test.responder)
        ]
        for test in tests:
            if _is_of_all(order, fault, test) or _is_above_mean(fault, test, tests):
                said = f"self-test {test.mid}/{test.tid} of {test.responder}"
                yield FailedBeside(f"{said}: {test.numbers}", event.index, is_own=False)
    results = results_after(order, fault.code)
    last = max((result.event for result in results), default=len(order.events))
    for typed in typed_after(order, fault.code):
        if typed.index > last and _has_failed(typed):
            said = f"{typed.text('monitor')} was typed as failed"
            yield FailedBeside(said, typed.index, is_own=True)


def _is_of_all(order: RepairOrder, fault: Fault, test: SelfTest) -> bool:
    is_of_one = place_of(fault.code).cylinder is not None
    has_failed = test.mid == ALL_CYLINDERS and test.outcome == SelfTestOutcome.FAILED
    return is_of_one and has_failed and fault.was_cleared(order)


def _is_above_mean(fault: Fault, test: SelfTest, tests: list[SelfTest]) -> bool:
    """Return whether one cycle's count is above what the mean of ten may be."""
    if (test.tid, test.uasid) != (_CYCLE, _COUNTS) or test.has_maximum:
        return False
    return test.mid in monitors_of(fault.code) and any(
        other.place == (test.responder, test.mid, _MEAN)
        and other.uasid == _COUNTS
        and other.has_maximum
        and test.raw_value > other.raw_maximum
        for other in tests
    )


def newest_typed(order: RepairOrder, typed: tuple[Event, ...]) -> tuple[Event, ...]:
    """Return the results that were typed after the last drive, else the last one."""
    drive = max((e.index for e in order.of("road_test")), default=0)
    return tuple(e for e in typed if e.index > drive) or typed[-1:]


def typed_as_failed(order: RepairOrder, code: str) -> Event | None:
    """Return the newest typed result that failed and is of a code, or of none."""
    own = typed_after(order, code)
    all_of_it = sorted((*own, *typed_of_none(order)), key=lambda event: event.index)
    for typed in (tuple(all_of_it), own):
        failed = [e for e in newest_typed(order, typed) if _has_failed(e)]
        if failed:
            return failed[-1]
    return None


def _has_failed(typed: Event) -> bool:
    return "failed" in {typed_result(typed), typed.text("outcome")}


def other_failures(
    order: RepairOrder, codes: frozenset[str]
) -> Iterator[tuple[str, int]]:
    """Yield each monitor that failed after the repair and is of none of these codes.

    By its last result, in words, and where it stands. Monitors of the standard alone
    are looked at, since a maker's own may mean anything; a value of zero is left out,
    which some modules keep beside its limits until the test has run (from memory); and
    so are, without a clear, words that were there before.
    """
    own = frozenset(mid for code in codes for mid in mids_of(order, code))
    if own & MISFIRE_MIDS:
        own |= {ALL_CYLINDERS}
    start = order.proof_starts
    if start is None:
        return
    old = {
        test.place: test.words
        for event in order.before(start, "readout")
        for test in readout_of(event).self_tests
        if order.clear_after_repair is None
    }
    last: dict[tuple[str, str, str], tuple[SelfTest, int]] = {}
    typed: dict[str, Event] = {
        e.text("mid"): e for e in order.after(start, "self_test")
    }
    for event in readouts_after(order):
        found = readout_of(event).self_tests
        last.update((test.place, (test, event.index)) for test in found)
        typed.update((test.text("mid"), test) for test in typed_tests(event))
    for test, place in last.values():
        is_new = old.get(test.place) != test.words and test.raw_value
        has_failed = test.outcome == SelfTestOutcome.FAILED and is_new
        if has_failed and _is_other(test.mid, own):
            said = f"self-test {test.mid}/{test.tid} of {test.responder}"
            yield f"{said}, which failed after the repair ({test.numbers}),", place
    for mid, event in typed.items():
        if mid and _is_other(mid, own) and _has_failed(event):
            yield f"{event.text('monitor')}, typed as failed,", event.index
    yield from _untied(order, codes)


def _untied(order: RepairOrder, codes: frozenset[str]) -> Iterator[tuple[str, int]]:
    """Yield typed failures that say of none of these codes that they are its own.

    The newest of a name, after the last readout with results: where there is none, they
    speak against each fault (``typed_as_failed``).
    """
    read = [e.index for e in readouts_after(order) if readout_of(e).self_tests]
    newest = {
        event.text("monitor").casefold(): event
        for event in typed_of_none(order)
        if read and event.index > read[-1]
    }
    for event in newest.values():
        named = codes_in(event.text("monitor"))
        if _has_failed(event) and not (named and named <= codes):
            yield f"{event.text('monitor')}, typed as failed,", event.index


def _is_other(mid: str, own: frozenset[str]) -> bool:
    return mid not in own and bool(known_monitors((mid,)))
