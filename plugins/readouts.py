"""Shop rules: can each readout be read, and is it of the time it stands at?"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from auditkit.events import RepairOrder
from auditkit.findings import Problem, Severity
from auditkit.hookspecs import hookimpl
from auditkit.rule import Parameters, Rule, rule
from auditkit.self_test_evidence import (
    captured,
    readout,
)


@rule("readout-has-problems", severity=Severity.ADVISORY)
def has_problems(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a readout in which something could not be decoded.

    What it checks
    Every line of every readout decodes without a problem.

    Why it matters
    What is lost or out of order is left out, never guessed.

    Example
    The second frame of an answer is missing.

    How to fix
    Capture the readout again.
    """
    for event in order.of("readout"):
        problems = readout(event).problems
        if problems:
            first, count = problems[0], len(problems)
            places = "1 place" if count == 1 else f"{count} places"
            line = f"line {first.line}" if first.line else "the whole text"
            yield Problem(
                f"{places} of the readout cannot be decoded; the first: {line}: "
                f"{first.problem}",
                "capture the readout again",
                event.index,
            )


@rule("old-readout-after-repair")
def old_readout(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a readout after the repair that was captured before it, or is a copy.

    What it checks
    A readout that stands after the last repair is dated after it, and its text is not
    exactly that of an earlier readout.

    Why it matters
    An old readout says nothing of the repaired vehicle.

    Example
    The readout of the morning is attached once more in the afternoon.

    How to fix
    Capture a new readout.
    """
    repair = order.last_repair
    if repair is None:
        return
    for event in order.after(repair.index, "readout"):
        raw = event.text("raw")
        copies = [
            e.index
            for e in order.before(event.index, "readout")
            if e.text("raw") == raw
        ]
        if copies:
            yield Problem(
                f"the readout is a copy of an earlier one (event {copies[0] + 1} of "
                "the record, counted from 1)",
                "capture a new readout after the repair",
                event.index,
            )
        elif captured(event) < repair.at.timestamp():
            yield Problem(
                "the readout was captured before the repair that it stands after",
                "capture a new readout after the repair",
                event.index,
            )


@hookimpl
def rules() -> Iterable[Rule]:
    """Return the rules of this file."""
    return (
        has_problems,
        old_readout,
    )
