"""Shop rules: did the vehicle's own test run again after the repair, and pass?

This file is long because each of its rules carries its page.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from auditkit.plugin import (
    Grade,
    InputError,
    Parameters,
    Problem,
    RepairOrder,
    Rule,
    SelfTest,
    SelfTestResult,
    Severity,
    best_evidence,
    failed_before,
    hookimpl,
    mids_of,
    numbers_text,
    outcomes_at,
    provable_codes,
    quantity,
    readout_of,
    readouts_after,
    results_after,
    rule,
    same_place,
    typed_after,
    why_not_cleared,
    why_waiting,
)


@rule("self-test-unknown-for-code")
def unknown(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a fault code for which no self-test is known.

    What it checks
    Every diagnosed code stands in the table, or the diagnosis names the self-tests of
    the maker's own that belong to it. For a code that stands in the table only those of
    the table count.

    Why it matters
    A self-test that nobody can name cannot be shown to have passed.

    Example
    P1400, a code of the maker's own.

    What to do
    Look the monitor up in the maker's service information and name it, with that
    source, under self_tests of the diagnosis.
    """
    for code in order.codes:
        if not mids_of(order, code):
            yield Problem(
                f"no self-test is known for {code}",
                "name the maker's self-test and its source in the diagnosis",
                next(
                    (
                        e.index
                        for e in order.of("diagnosis")
                        if code in e.texts("codes")
                    ),
                    None,
                ),
            )


@rule("self-test-missing")
def missing(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a fault code whose self-test does not appear after the repair.

    What it checks
    After the last repair (and the clearing of codes that followed it) a readout or a
    typed result holds a self-test that belongs to the code. Where codes were not
    cleared, words equal to those before the repair may be the old result and do not
    count. Every self-test of the code that failed in a readout before the repair is
    among them: the same test of the same monitor and responder.

    Why it matters
    Only the test that raised the code can show that its cause is gone.

    Example
    A catalyst is replaced and the order is closed after a road test.

    What to do
    Drive until the monitor has run, then capture service 06 once more.
    """
    for code in provable_codes(order):
        if not results_after(order, code) and not typed_after(order, code):
            mids = ", ".join(sorted(mids_of(order, code)))
            yield Problem(
                f"no self-test for {code} ({mids}) is recorded after the repair",
                "let the vehicle run the self-test, then capture a readout",
                order.proof_starts,
            )
            continue
        for test in failed_before(order, code):
            if not outcomes_at(order, code, test):
                yield Problem(
                    f"{_place(test)}, which failed before the repair, has no new "
                    f"result for {code} after it",
                    "let the vehicle run that very self-test, then capture a readout",
                    order.proof_starts,
                )


@rule("self-test-not-run")
def not_run(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a self-test that reads all zero after the repair: it has not run.

    What it checks
    Among the last results that belong to the code at least one has run, and so has
    every self-test that failed in a readout before the repair. Value and limits that
    are all zero mean "not run since the codes were cleared" (ISO 15031-5:2006 7.6.1).

    Why it matters
    All zero looks like a value below its maximum. It is no result at all.

    Example
    Misfire of cylinder 1: value 0, minimum 0, maximum 0.

    What to do
    Meet the conditions under which the monitor runs, then capture a new readout.
    """
    for code in provable_codes(order):
        last = list(_last(results_after(order, code)).values())
        typed = typed_after(order, code)
        outcomes = [r.test.outcome for r in last] + [e.text("outcome") for e in typed]
        if outcomes and all(outcome == "not-run" for outcome in outcomes):
            waiting = [
                told
                for event in readouts_after(order)[-1:]
                for told in why_waiting(readout_of(event), mids_of(order, code))
            ]
            why = f"; {'; '.join(waiting)}" if waiting else ""
            yield Problem(
                f"the self-test for {code} has not run: value and limits are zero{why}",
                "drive until the monitor has run, then capture a new readout",
                last[-1].event if last else typed[-1].index,
            )
            continue
        for test in failed_before(order, code):
            here = outcomes_at(order, code, test)
            if here and all(outcome == "not-run" for outcome in here):
                yield Problem(
                    f"{_place(test)}, which failed before the repair, has not run "
                    f"since for {code}: value and limits are zero",
                    "drive until that very self-test has run, then capture a new "
                    "readout",
                    last[-1].event if last else typed[-1].index,
                )


@rule("self-test-not-rerun", parameters={"least": "results-changed"})
def not_rerun(order: RepairOrder, parameters: Parameters) -> Iterator[Problem]:
    """Finds a self-test result of which nothing shows that it is new.

    What it checks
    How well the vehicle shows that the self-test of each diagnosed code ran after the
    repair. Grades, strongest first: results-after-clear (codes were cleared and the
    results are no longer all zero), counter-rose (the monitor's in-use counter went
    up), readiness-completed (the monitor went from not complete to complete),
    results-changed (other values without a clear), only-typed, none. The parameter
    "least" names the weakest grade that is enough.

    Why it matters
    A vehicle keeps an old result until the test runs again. A good value may be the one
    from before the fault.

    Example
    The same value and limits before and after, codes recorded as cleared, and the code
    is stored still.

    What to do
    Let the self-test run; capture service 06, PIDs 01, 30, 31 and 4E, and service 09
    InfoType 08 or 0B, before and after the repair.
    """
    least = _least(parameters)
    for code in provable_codes(order):
        results, typed = results_after(order, code), typed_after(order, code)
        outcomes = [r.test.outcome for r in results] + [
            e.text("outcome") for e in typed
        ]
        if not outcomes or all(outcome == "not-run" for outcome in outcomes):
            continue
        best = best_evidence(order, code)
        if not best.grade.meets(least):
            yield Problem(
                f"{_SHOWN[best.grade]} the self-test for {code} ran again after the "
                f"repair; the policy asks at least {_ASKED[least]} (grade found: "
                f"{best.grade.value}; least asked: {least.value})",
                "let the self-test run, then capture service 06, PIDs 01, 30, 31, 4E "
                "and the in-use counters of service 09",
                results[-1].event if results else typed[-1].index,
            )


_SHOWN = {
    Grade.RESULTS_AFTER_CLEAR: "results that came after a clear show that",
    Grade.COUNTER_ROSE: "only a risen in-use counter shows that",
    Grade.READINESS_COMPLETED: "only readiness that turned to complete shows that",
    Grade.RESULTS_CHANGED: "only changed results show that",
    Grade.ONLY_TYPED: "only a typed result says that",
    Grade.NONE: "nothing shows that",
}


_ASKED = {
    Grade.RESULTS_AFTER_CLEAR: "that its results came after a clear",
    Grade.COUNTER_ROSE: "that its in-use counter rose",
    Grade.READINESS_COMPLETED: "that its readiness turned to complete",
    Grade.RESULTS_CHANGED: "that its results changed",
    Grade.ONLY_TYPED: "that a person typed its result",
    Grade.NONE: "nothing",
}


def _least(parameters: Parameters) -> Grade:
    try:
        return Grade(str(parameters["least"]))
    except ValueError as error:
        message = f"{parameters['least']!r} is no grade of evidence"
        what_to_do = f"write one of {', '.join(grade.value for grade in Grade)}"
        where = "policy#rules.self-test-not-rerun.parameters.least"
        raise InputError(message, where=where, what_to_do=what_to_do) from error


@rule("self-test-older-than-repair")
def older(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a self-test result that may be older than the repair.

    What it checks
    Where a clear is recorded after the repair, the vehicle's own counts since codes
    were cleared must bear it out: minutes of engine run (PID 4E) not above the time
    since that clear, distance (PID 31) not above what the odometer gained, counts that
    fell. An in-use counter that rose, or readiness that turned, settles it.

    Why it matters
    A clear empties the results. Where the last clear came before the repair, a passing
    result may come from before the repair too.

    Example
    The recorded clear and the readout lie an hour apart; the vehicle counts 300 minutes
    of engine run since the last clear.

    What to do
    Clear the codes after the repair where the maker's procedure says so, let the
    self-test run, and capture a new readout.
    """
    against = why_not_cleared(order)
    if not against:
        return
    for code in provable_codes(order):
        results = [r for r in results_after(order, code) if r.test.outcome != "not-run"]
        settled = best_evidence(order, code).grade in {
            Grade.COUNTER_ROSE,
            Grade.READINESS_COMPLETED,
        }
        if results and not settled:
            yield Problem(
                f"the self-test result for {code} may be older than the repair: "
                f"{against}",
                "clear the codes, let the self-test run, and capture a new readout",
                results[-1].event,
            )


@rule("self-test-failed")
def failed(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a self-test that failed after the repair.

    What it checks
    No result that belongs to the code, captured or typed after the repair, lies outside
    its limits. Limits are inclusive (ISO 15031-5:2006 Tables 164 to 166).

    Why it matters
    The vehicle itself says that the fault is still there.

    Example
    Leak test 0.75 against a maximum of 0.40.

    What to do
    Look for the cause again; after the next repair let the self-test run once more.
    """
    for code in provable_codes(order):
        for result in results_after(order, code):
            if result.test.outcome == "failed":
                yield Problem(
                    f"{code}: {_say(result.test)}: failed after the repair",
                    "find the remaining cause and let the self-test run again",
                    result.event,
                    contradicts=True,
                )
        for event in typed_after(order, code):
            if event.text("outcome") == "failed":
                yield Problem(
                    f"{code}: {event.text('monitor')} was typed as failed",
                    "find the remaining cause and let the self-test run again",
                    event.index,
                    contradicts=True,
                )


@rule("self-test-without-values")
def without_values(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a pass that gives no value or no limit.

    What it checks
    A typed self-test that passed states its value and at least one limit. Among the
    captured results of a code after the repair at least one has a limit, and so has
    one of every self-test that failed before the repair: a minimum of the least word
    and a maximum of the greatest are none.

    Why it matters
    "Passed" without numbers cannot be checked by anyone, and a value without a limit
    cannot fail.

    Example
    "EGR flow: passed", seen on a screen.

    What to do
    Capture the raw readout of a self-test that has a limit, or type the value and its
    limits too.
    """
    for code in provable_codes(order):
        ran = [r for r in results_after(order, code) if r.test.outcome != "not-run"]
        again = [
            [r for r in ran if same_place(r.test, test)]
            for test in failed_before(order, code)
        ]
        for results in [ran, *again]:
            limited = any(r.test.has_minimum or r.test.has_maximum for r in results)
            if results and not limited:
                yield Problem(
                    f"{code}: {_say(results[-1].test)}: it cannot fail",
                    "capture the result of a self-test that has a limit",
                    results[-1].event,
                )
                break
    for event in order.of("self_test"):
        limits = quantity(event.data.get("minimum")) or quantity(
            event.data.get("maximum")
        )
        value = quantity(event.data.get("value"))
        if event.text("outcome") == "passed" and not (value and limits):
            yield Problem(
                f"{event.text('monitor')} is typed as passed, without value and limit",
                "record the value and its limits, or the raw readout",
                event.index,
            )


@rule("self-test-only-typed", severity=Severity.ADVISORY)
def only_typed(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a self-test that only someone typed.

    What it checks
    The code's self-test after the repair comes from a raw readout.

    Why it matters
    A typed result is a person's word; raw responses can be decoded again by anyone.

    Example
    A self_test event and no readout.

    What to do
    Capture the responses of service 06 as text.
    """
    for code in provable_codes(order):
        typed = typed_after(order, code)
        if typed and not results_after(order, code):
            yield Problem(
                f"the self-test for {code} was typed by {typed[-1].by}, not captured",
                "capture the raw readout",
                typed[-1].index,
            )


def _last(
    results: Iterable[SelfTestResult],
) -> dict[tuple[str, str, str], SelfTestResult]:
    return {r.test.place: r for r in results}


def _say(test: SelfTest) -> str:
    return f"{_place(test)}: {numbers_text(test)}"


def _place(test: SelfTest) -> str:
    return f"self-test {test.mid}/{test.tid} of {test.responder}"


@hookimpl
def rules() -> Iterable[Rule]:
    """Return the rules of this file."""
    return (
        unknown,
        missing,
        not_run,
        not_rerun,
        older,
        failed,
        without_values,
        only_typed,
    )
