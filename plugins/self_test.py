"""Shop rules: did the vehicle's own test run after the repair?"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from auditkit.plugin import (
    Parameters,
    Problem,
    RepairOrder,
    Rule,
    SelfTest,
    SelfTestResult,
    failed_before,
    hookimpl,
    mids_of,
    outcomes_at,
    provable_codes,
    readout_of,
    readouts_after,
    results_after,
    rule,
    typed_after,
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


def _last(
    results: Iterable[SelfTestResult],
) -> dict[tuple[str, str, str], SelfTestResult]:
    return {r.test.place: r for r in results}


def _place(test: SelfTest) -> str:
    return f"self-test {test.mid}/{test.tid} of {test.responder}"


@hookimpl
def rules() -> Iterable[Rule]:
    """Return the rules of this file."""
    return (
        unknown,
        missing,
        not_run,
    )
