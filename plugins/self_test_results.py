"""Shop rules: did the vehicle's own test pass, by numbers that it gave itself?"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from auditkit.plugin import (
    Parameters,
    Problem,
    RepairOrder,
    Rule,
    SelfTest,
    Severity,
    failed_before,
    hookimpl,
    numbers_text,
    provable_codes,
    quantity,
    results_after,
    rule,
    same_place,
    typed_after,
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


def _say(test: SelfTest) -> str:
    return f"self-test {test.mid}/{test.tid} of {test.responder}: {numbers_text(test)}"


@hookimpl
def rules() -> Iterable[Rule]:
    """Return the rules of this file."""
    return (
        failed,
        without_values,
        only_typed,
    )
