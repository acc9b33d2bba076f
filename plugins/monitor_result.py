"""A way to show that the test passed: the result of the vehicle's own monitor."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from auditkit.plugin import (
    Fault,
    Grade,
    InputError,
    Lacking,
    Parameters,
    Problem,
    Question,
    RepairOrder,
    Rule,
    SelfTest,
    SelfTestResult,
    Shown,
    Strength,
    addressed,
    best_evidence,
    captured_at,
    failed_before,
    failed_beside,
    hookimpl,
    mids_of,
    misfires_at_zero,
    monitors_of,
    newest_typed,
    outcomes_at,
    readout_of,
    readouts_after,
    readouts_of,
    results_after,
    rule,
    same_place,
    typed_after,
    typed_as_failed,
    typed_of_none,
    typed_result,
    why_not_cleared,
    why_not_typed_again,
    why_waiting,
)

RERAN, PASSED = Question.TEST_RERAN, Question.TEST_PASSED
Said = Shown | Lacking | Problem


@rule(
    "no-monitor-result",
    question=(PASSED, RERAN),
    parameters={"least": "readiness-completed"},
)
def no_result(order: RepairOrder, parameters: Parameters) -> Iterator[Said]:
    """Finds a fault whose own monitor gave no new result within its limits.

    What it checks
    A result of service 06 of the fault's own monitor in a module that reported the
    fault (a failure counts in any), newer than the last attempt: the vehicle shows that
    the monitor ran again, at least as well as the parameter "least" names (strongest
    first: results-after-clear, counter-rose, readiness-completed, results-changed);
    without a clear, that a result changed is not enough alone: its in-use counter rose,
    or its monitor turned complete (PID 01) or is complete in this driving cycle (PID
    41). Every test that had failed before ran again, within its limits and within those
    of before; one with another scaling or other limits shows nothing unless a
    reprogramming is recorded. Nor do the misfires of all cylinders (A1) fail since a
    recorded clear, where the code is of one cylinder; nor were more misfires of its own
    cylinder counted in one driving cycle (0C without a limit) than their mean of ten
    may be (0B). At least one result has a limit
    that it could have failed; all zero is no result (ISO 15031-5:2006 7.6.1). A result
    outside its limits speaks against the repair.

    A misfire counter without a limit (test id 0C of monitors A1 to AD, in counts)
    passes by its number: the same one of the same module was above 0 before, is 0 in
    every readout after, and the module's own counts show a whole driving cycle since:
    two warm-ups since a recorded clear (PID 30), or two driven cycles since an earlier
    readout after the repair (OBDCOND), else three of either since the readout before
    the repair; on compression ignition, that PID 41 says complete. After a clear the
    mean of ten cycles (0B) is 0 too.

    A typed result counts where no readout after the repair holds one of that monitor,
    and its outcome is computed from its own numbers; one that failed after the last
    readout speaks against the repair all the same. It is of this fault by its monitor
    id; without one, by its name on the display, where that says this code and no other.
    One that says neither passes for no fault; where it failed, it speaks against each
    that has no readout's result. Where only the diagnosis links a monitor id to the
    code, its result is a word.

    Why it matters
    Only the test that raised the code can show that its cause is gone.

    Example
    EGR flow 2.14 of at least 3.50 before, 5.25 of at least 3.50 after.

    What to do
    Let the vehicle run the test, then capture service 06 with PIDs 01, 30, 31 and 4E,
    and the counters of service 09.
    """
    least = _least(parameters)
    for fault in addressed(order):
        results = results_after(order, fault.code)
        bad = [r for r in results if r.test.outcome == "failed"]
        if bad:
            yield Shown(
                f"the self-test for {fault.code} ran again, and failed",
                (bad[-1].event,),
                fault.subject,
                None,
                RERAN,
            )
            for result in bad:
                yield Problem(
                    f"{fault.code}: {_say(result.test)}: failed after the repair",
                    "find the remaining cause and let the self-test run again",
                    result.event,
                    contradicts=True,
                    subject=fault.subject,
                )
            continue
        if not results:
            yield from _typed(order, fault)
            continue
        results = tuple(r for r in results if fault.may_be_of(r.test.responder))
        if not results:
            said = f"only another module than that of {fault.code} gave a result"
            do = "capture the self-test of the module that reported the fault"
            yield from (_lacks(fault, said, do, each) for each in (PASSED, RERAN))
            continue
        for beside in failed_beside(order, fault):
            yield Problem(
                f"{fault.code}: {beside.said}: after the repair",
                "find the remaining cause; let the self-test run again",
                beside.event,
                contradicts=beside.is_own,
                subject=fault.subject,
                question=PASSED,
            )
        zero = misfires_at_zero(order, fault)
        by_number = zero.grade.meets(least) and not failed_before(order, fault.code)
        if zero.said and by_number:
            for question, end in ((RERAN, ""), (PASSED, ": passed after the repair")):
                said = f"{fault.code}: {zero.said}{end}"
                yield Shown(said, zero.events, fault.subject, None, question)
            continue
        lacking, ran = _captured(order, fault, results, least)
        if ran:
            cited = _cited(order, fault, results)
            yield Shown(ran, cited, fault.subject, _most(fault), RERAN)
        else:
            yield _lacks(fault, *lacking, RERAN)
        if lacking[0]:
            yield _lacks(fault, *lacking, PASSED)
        else:
            best = next(r for r in results if _passed(r.test))
            told = _first(_at_failed(order, fault, results), best)
            yield Shown(
                f"{fault.code}: {_say(told.test)}: passed after the repair",
                _cited(order, fault, results),
                fault.subject,
                _most(fault),
                PASSED,
            )


def _most(fault: Fault) -> Strength | None:
    """Return the most that a result can show: a word where no table links its id."""
    return None if monitors_of(fault.code) else Strength.WORD


def _first(found: list[SelfTestResult], other: SelfTestResult) -> SelfTestResult:
    return found[0] if found else other


def _cited(
    order: RepairOrder, fault: Fault, results: tuple[SelfTestResult, ...]
) -> tuple[int, ...]:
    """Return the readout that held the fault, and the one with the result."""
    first = fault.first_repair or 0
    before = [e.index for e in order.before(first, "readout")][-1:]
    return (*before, results[-1].event)


def _captured(  # noqa: PLR0911  one return for each thing that is not so
    order: RepairOrder, fault: Fault, results: tuple[SelfTestResult, ...], least: Grade
) -> tuple[tuple[str, str], str]:
    """Return what lacks for a pass, with what to do; and in words that it ran again."""
    code = fault.code
    again = (
        "let the self-test run, then read its result with limits, the readiness, and "
        "warm-ups, distance and minutes since codes were cleared (service 06; PIDs "
        "01, 30, 31, 41 and 4E; the counters of service 09)"
    )
    ran = [r for r in results if r.test.outcome != "not-run"]
    if not ran:
        waiting = [
            told
            for event in readouts_after(order)[-1:]
            for told in why_waiting(readout_of(event), mids_of(order, code))
        ]
        why = f"; {'; '.join(waiting)}" if waiting else ""
        said = f"the self-test for {code} has not run: value and limits are zero{why}"
        return (said, "drive until the monitor has run, then capture again"), ""
    if any(readout_of(order.events[r.event]).denies(r.test) for r in ran):
        said = f"its own module lists its monitors without the one of {code}"
        return (said, "capture service 06 again, with its lists (0600 and on)"), ""
    best = best_evidence(order, code)
    if not best.grade.meets(least):
        said = f"nothing shows that the self-test for {code} ran after the repair"
        return (f"{said} (asked: {least.value}, found: {best.grade.value})", again), ""
    settled = {Grade.COUNTER_ROSE, Grade.READINESS_COMPLETED}
    if (against := why_not_cleared(order)) and best.grade not in settled:
        said = f"the result for {code} may be older than the repair: {against}"
        return (said, again), ""
    told = f"the self-test for {code} ran again: {best.why}"
    for old in failed_before(order, code):
        outcomes = outcomes_at(order, code, old)
        place = f"self-test {old.mid}/{old.tid} of {old.responder}"
        if not outcomes or all(outcome == "not-run" for outcome in outcomes):
            said = f"{place}, which failed before the repair, has no new result"
            return (said, "let that very self-test run, then capture again"), told
        if said := _moved(order, old, ran):
            return (said, "read the calibration, and record a reprogramming"), told
        here = [r for r in ran if same_place(r.test, old)]
        if not any(_passed(r.test) for r in here):
            said = f"{place} has no limit after the repair: it cannot fail"
            return (said, "capture the result of a self-test that has a limit"), told
    if not any(_passed(r.test) for r in ran):
        if why := misfires_at_zero(order, fault).lacking:
            said = f"{code}: {_say(ran[-1].test)}: it has no limit, and {why}"
            return (
                said,
                f"warm the vehicle up twice from cold, and drive; {again}",
            ), told
        said = f"{code}: {_say(ran[-1].test)}: it cannot fail"
        return (said, "capture the result of a self-test that has a limit"), told
    return ("", ""), told


def _has_new_calibration(order: RepairOrder) -> bool:
    """Return whether the last readout gives another calibration than the first."""
    read = [set(r.calibration_ids) for _, r in readouts_of(order) if r.calibration_ids]
    return bool(read) and read[0] != read[-1]


def _moved(order: RepairOrder, old: SelfTest, ran: list[SelfTestResult]) -> str:
    """Return how a test is held against other limits than before; empty where not."""
    if order.has_new_program and _has_new_calibration(order):
        return ""
    for result in ran:
        new = result.test
        if not same_place(new, old):
            continue
        if new.uasid != old.uasid:
            return (
                f"self-test {new.mid}/{new.tid} has another scaling than before: "
                f"{old.uasid}, now {new.uasid}"
            )
        limits = (old.raw_minimum, old.raw_maximum)
        if (new.raw_minimum, new.raw_maximum) != limits:
            return (
                f"self-test {new.mid}/{new.tid} has other limits than before: "
                f"{old.numbers}; now {new.numbers}"
            )
    return ""


def _typed(order: RepairOrder, fault: Fault) -> Iterator[Said]:
    """Yield what typed results of the fault's monitor say, by their own numbers."""
    own, of_none = typed_after(order, fault.code), typed_of_none(order)
    failed = typed_as_failed(order, fault.code)
    if failed is not None:
        yield Problem(
            f"{fault.code}: {failed.text('monitor')} was typed as failed",
            "find the remaining cause and let the self-test run again",
            failed.index,
            contradicts=True,
            subject=fault.subject,
        )
        return
    if not own:
        mids = ", ".join(sorted(mids_of(order, fault.code)))
        if of_none:
            name = of_none[-1].text("monitor")
            said = f"{name} was typed without an id, and its name does not say that "
            said += f"it is the self-test of {fault.code}"
            do = "type the monitor's id, or the code it belongs to, as the display has "
            do += f"it{f' (ids of {fault.code}: {mids})' if mids else ''}"
        elif mids:
            said = (
                f"no self-test for {fault.code} ({mids}) is recorded since the repair"
            )
            do = "let the vehicle run the self-test, then capture a readout"
        else:
            said = f"no self-test with values is known for {fault.code}"
            do = "show it by its code's status, its lamp, or driven and measured again"
        later = bool(mids)
        yield from (_lacks(fault, said, do, q, later=later) for q in (PASSED, RERAN))
        return
    newest = newest_typed(order, own)
    event = newest[-1]
    outcome, name = typed_result(event), event.text("monitor")
    missing = why_not_typed_again(order, fault.code, newest)
    if missing or outcome != "passed" or event.text("outcome") == "not-run":
        do = "type its value and limits as they are displayed"
        said = f"{name} is typed without a value inside a limit"
        said = f"{name}: {missing}" if missing else said
        yield from (_lacks(fault, said, do, each) for each in (PASSED, RERAN))
        return
    told = f"{fault.code}: {name} was displayed as passed, with value and limit"
    for question in (PASSED, RERAN):
        yield Shown(told, (event.index,), fault.subject, _most(fault), question)


def _at_failed(
    order: RepairOrder, fault: Fault, results: tuple[SelfTestResult, ...]
) -> list[SelfTestResult]:
    old = failed_before(order, fault.code)
    return [
        r
        for r in results
        if r.test.outcome == "passed" and any(same_place(r.test, one) for one in old)
    ]


def _passed(test: SelfTest) -> bool:
    return test.outcome == "passed"


def _say(test: SelfTest) -> str:
    return f"self-test {test.mid}/{test.tid} of {test.responder}: {test.numbers}"


def _lacks(
    fault: Fault, said: str, do: str, question: Question, *, later: bool = True
) -> Lacking:
    return Lacking(said, do, None, fault.subject, later, question)


def _least(parameters: Parameters) -> Grade:
    try:
        return Grade(str(parameters["least"]))
    except ValueError as error:
        raise InputError(
            f"{parameters['least']!r} is no grade of evidence",
            where="policy#rules.no-monitor-result.parameters.least",
            what_to_do=f"write one of {', '.join(grade.value for grade in Grade)}",
        ) from error


@rule("self-test-failed-in-another-order", question=PASSED)
def failed_elsewhere(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a failed self-test in another repair order, after the repair.

    What it checks
    Of the other repair orders of this vehicle (by VIN), among the records judged
    together and in the shop's log, no readout captured after the clear that followed
    the last attempt holds a failed result of the fault's own monitor. Without such a
    clear a module keeps old results, and nothing is said. What was recorded after this
    order had been closed is left out.

    Why it matters
    A failed test is not undone by being put under another number.

    Example
    The leak test of 14:00, outside its limit, lies in a second order, opened for it.

    What to do
    Find the remaining cause and let the self-test run again.
    """
    for fault in addressed(order):
        start = fault.proof_starts(order)
        if start is None or not fault.was_cleared(order):
            continue
        since, mids = order.events[start].at.timestamp(), mids_of(order, fault.code)
        for other in order.others:
            for event, readout in readouts_of(other):
                if captured_at(event) <= since:
                    continue
                for test in readout.self_tests:
                    if (
                        test.outcome == "failed"
                        and test.mid in mids
                        and fault.may_be_of(test.responder)
                    ):
                        yield Problem(
                            f"{fault.code}: {_say(test)}: failed after the repair, in "
                            f"the readout that repair order {other.id} of the same "
                            f"vehicle captured {event.text('captured')}",
                            "find the remaining cause and let the self-test run again",
                            contradicts=True,
                            subject=fault.subject,
                        )


@hookimpl
def rules() -> Iterable[Rule]:
    """Return the rules of this file."""
    return (no_result, failed_elsewhere)
