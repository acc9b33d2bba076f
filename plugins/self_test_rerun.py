"""Shop rules: does the vehicle show that its own test ran anew after the repair?"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from auditkit.plugin import (
    Grade,
    InputError,
    Parameters,
    Problem,
    RepairOrder,
    Rule,
    best_evidence,
    hookimpl,
    provable_codes,
    results_after,
    rule,
    typed_after,
    why_not_cleared,
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
    is still stored.

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
    were cleared must confirm it: minutes of engine run (PID 4E) not above the time
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


@hookimpl
def rules() -> Iterable[Rule]:
    """Return the rules of this file."""
    return (
        not_rerun,
        older,
    )
