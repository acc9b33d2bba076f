"""Does the vehicle itself count a test as run whose result is shown as new?"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from auditkit.plugin import (
    Parameters,
    Problem,
    Question,
    RepairOrder,
    Rule,
    Severity,
    addressed,
    hookimpl,
    not_counted,
    rule,
)


@rule("result-not-counted", question=Question.TEST_RERAN, severity=Severity.ADVISORY)
def result_not_counted(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Tells of a new result of a test that the vehicle does not count as run.

    What it checks
    Of the last readout after the repair that holds a passed result of the fault's own
    monitor, read or typed from a display: its module's readiness since the clear
    (PID 01) does not say that this group of monitors is not complete; and where its
    module counted ignition cycles since the readout before the repair, a count of
    completed tests of that group rose too (service 09). It is advice and lowers
    nothing: readiness waits for every monitor of a group, of both banks, and of valve
    timing beside EGR; a module shows the count of but one of several tests, that which
    runs least often, and pauses its counts while a fault is pending (13 CCR
    1968.2(d)(4) and (5), from memory).

    Why it matters
    A result that was written into a readout by hand seldom brings its count along.

    Example
    Self-test 31 of the engine module passed; in twelve ignition cycles since the repair
    its count of completed EGR tests stayed at 40.

    What to do
    Read the module once more after another drive, with the results of its other
    monitors of that group.
    """
    for fault in addressed(order):
        for told, place in not_counted(order, fault.code):
            yield Problem(
                f"{fault.code}: its result is new and passed, and {told}",
                "read it again after another drive, with the group's other monitors",
                place,
                subject=fault.subject,
            )


@hookimpl
def rules() -> Iterable[Rule]:
    """Return the rules of this file."""
    return (result_not_counted,)
