"""The next step for a fault once a part was worked on for it. Pure."""

from __future__ import annotations

from collections.abc import Iterator

from auditkit.bay.due_step import Rank, Step, because
from auditkit.bay.so_far import STILL_THERE, Asked, FaultSoFar, SoFar
from auditkit.obd.code_table import monitors_of, soonest_of, watch_of
from auditkit.order.event_text import method_in_words
from auditkit.order.events import RepairOrder
from auditkit.order.part_tests import outcomes_of
from auditkit.order.questions import Question, State
from auditkit.order.self_test_evidence import readout_of
from auditkit.order.why_not_run import reasons_of_order

NO_FRAME = (
    "No freeze frame was read, and clearing wipes it: read it first (service 02), "
    "where the vehicle keeps one."
)


def after_repair(found: SoFar, one: FaultSoFar) -> Iterator[Step]:
    """Yield what is missing of a fault for which a part was worked on."""
    order, fault = found.order, one.fault
    start, last = fault.proof_starts(order), fault.last_repair
    if start is None or last is None:
        return
    yield from _old_part(order, one)
    waiting = [
        asked
        for asked in one.asked
        if asked.answer.question in STILL_THERE
        and asked.answer.state in {State.NOT_SHOWN, State.WAITING}
    ]
    others = any(not other.is_named for other in found.faults)
    if others and {a.answer.question for a in waiting} == {Question.FAULT_GONE}:
        return  # a code that nobody speaks of may be why its lamp is on
    if not waiting:
        return
    if step := _measure_again(found, one):
        yield step
    read = order.after(start, "readout")
    driven = order.after(start, "road_test")
    if not read and not driven and not fault.was_cleared(order):
        yield Step(
            Rank.CLEAR,
            "code_clear",
            fault.code,
            f"{_frame(order, one)}Clear the codes with your tool and record it; "
            "or leave them, and record the drive instead: the lamp then goes off by "
            "itself after some drives.",
            ("code_clear",),
        )
    if not driven or (read and read[-1].index > driven[-1].index):
        yield Step(
            Rank.DRIVE,
            "road_test",
            fault.code,
            f"Drive so that the vehicle's own test for {fault.code} runs"
            f"{_drive(order)}; or let the customer drive, and read the vehicle again.",
            ("road_test",),
        )
    yield Step(
        Rank.READOUT,
        "readout",
        fault.code,
        f"Read the vehicle again: {_lacks(one, waiting[0])}.",
        ("readout", "--raw", "FILE"),
    )


def _lacks(one: FaultSoFar, asked: Asked) -> str:
    """Return why an answer is not shown.

    Of a code without a self-test of its own, which path is left, and what to do.
    """
    because_, to_do = asked.answer.because, asked.answer.what_to_do
    if monitors_of(one.fault.code) or len(because_) < 2 or not to_do:
        return because(asked)
    return f"{because_[1]}; {to_do[min(1, len(to_do) - 1)]}"


def to_wait_for(found: SoFar) -> list[str]:
    """Return what has to be driven before a waiting order can be read again.

    The drive that published texts give for a monitor, and how soon after a clear a test
    can have run.
    """
    lines = [f"Drive{drive}" for drive in [_drive(found.order)] if drive]
    for one in found.faults:
        soonest = soonest_of(one.fault.code) if one.is_named else None
        if soonest is not None and one.fault.was_cleared(found.order):
            lines.append(
                f"{one.fault.code}: not before {soonest.minutes} min of engine run "
                f"since the clear: {soonest.why} ({soonest.source})"
            )
    return lines


def _old_part(order: RepairOrder, one: FaultSoFar) -> Iterator[Step]:
    """Yield the test of an old part that was kept, where none shows it at fault."""
    asked = one.of(Question.PART_AT_FAULT)
    repairs = [order.events[n] for n in one.fault.attempts[-1].repairs]
    kept = [e.text("part") for e in repairs if e.text("old_part") == "kept"]
    if asked is None or asked.stands != "not-shown" or not kept:
        return
    part = kept[-1]
    if any(
        test.text("of") == "old" and test.index > repairs[-1].index
        for test in order.of("bench_test")
        if test.text("part") == part
    ):
        return
    yield Step(
        Rank.PART_AT_FAULT,
        "bench_test",
        part,
        f"Test the old part, which was kept: {because(asked)}.",
        ("bench_test", "--part", part, "--set", "of=old"),
    )


def _measure_again(found: SoFar, one: FaultSoFar) -> Step | None:
    """Return the test of the part now fitted, where a watched fault needs it."""
    passed = one.of(Question.TEST_PASSED)
    order, kinds = found.order, found.judgement.catalogue.bench_tests
    if passed is None or passed.stands == "shown" or _tells_itself(order, one):
        return None
    for part in one.fault.causes:
        tests = [t for t in order.of("bench_test") if t.text("part") == part]
        new = [t for t in tests if t.text("of") == "new"]
        faulty = [t for t in tests if "faulty" in outcomes_of(t, kinds)]
        methods = [t.text("method") for t in faulty if t.text("method")]
        if not methods or any("good" in outcomes_of(t, kinds) for t in new):
            continue
        name = found.judgement.part_names.get(part, part)
        return Step(
            Rank.MEASURED_AGAIN,
            "bench_test",
            part,
            f"Measure {name} as it is fitted now, by the same test "
            f"({method_in_words(kinds, methods[-1])}) and the same limit.",
            (
                *("bench_test", "--part", part, "--method", methods[-1]),
                *("--set", "of=new"),
            ),
        )
    return None


def _has_own_test(order: RepairOrder, one: FaultSoFar) -> bool:
    """Return whether the vehicle gives a result of the code's own self-test."""
    own = monitors_of(one.fault.code)
    return any(
        test.mid in own
        for event in order.of("readout")
        for test in readout_of(event).self_tests
    )


def _tells_itself(order: RepairOrder, one: FaultSoFar) -> bool:
    """Return whether the vehicle may tell by itself that the fault's test passed.

    By a result, by the code's status, by a permanent code that it will erase, or by a
    lamp that goes off after drives without a clear.
    """
    code, last = one.fault.code, one.fault.last_repair or 0
    readouts = [readout_of(event) for event in order.of("readout")]
    drives = order.after(last, "road_test")
    return (
        _has_own_test(order, one)
        or any(status.code == code for r in readouts for status in r.statuses)
        or any(held.text == code for r in readouts for held in r.permanent)
        or (bool(drives) and not one.fault.was_cleared(order))
    )


def _frame(order: RepairOrder, one: FaultSoFar) -> str:
    """Return what to read before codes are cleared; empty where nothing goes with them.

    A code without a self-test of its own is watched in a drive like that of its frame.
    """
    if (
        asked_for_frame(order)
        or watch_of(one.fault.code) == "M"
        or _has_own_test(order, one)
    ):
        return ""
    return f"{NO_FRAME} "


def asked_for_frame(order: RepairOrder) -> bool:
    """Return whether a readout holds a freeze frame, or shows that it was asked for.

    Service 02; a vehicle that keeps none answers nothing.
    """
    readouts = [readout_of(event) for event in order.of("readout")]
    return any(
        any(value.service == "02" for value in one.values)
        or any(request.startswith("02") for request in one.requests)
        for one in readouts
    )


def _drive(order: RepairOrder) -> str:
    """Return a drive that published texts give for a monitor that waits."""
    found = reasons_of_order(order)
    drives = (r.drive for w in found.waiting for r in w.requirements if r.drive)
    return f" ({next(drives, '')})".replace(" ()", "")
