"""Shop rules: is what was repaired recorded, and was it suspected before?"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from auditkit.plugin import (
    Parameters,
    Problem,
    Question,
    RepairOrder,
    Rule,
    Severity,
    hookimpl,
    rule,
)


@rule(
    "repaired-part-never-suspected",
    question=Question.PART_EXPLAINS,
    severity=Severity.ADVISORY,
)
def never_suspected(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a repair of a part that no diagnosis named before.

    What it checks
    The part of every repair is a suspect part of a diagnosis that stands before it and
    is not dated after it.

    Why it matters
    A part that no reasoning led to may have been changed for any reason.

    Example
    A throttle body is replaced; the diagnosis speaks of the EGR valve.

    What to do
    Name the part in a diagnosis, with the reasoning, before it is touched.
    """
    for repair in order.of("repair"):
        part = repair.text("part")
        before = {
            e.index
            for e in order.before(repair.index, "diagnosis")
            if e.at <= repair.at
        }
        if part not in {s.id for s in order.suspect_parts if s.event in before}:
            yield Problem(
                f"{part} was {repair.text('action')}, but no diagnosis before names it",
                f"record the diagnosis that led to {part}",
                repair.index,
            )


@rule(
    "no-repair-recorded",
    question=Question.PART_AT_FAULT,
    severity=Severity.ADVISORY,
)
def no_repair(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a repair order without any repair.

    What it checks
    At least one repair is recorded.

    Why it matters
    Where nothing was repaired, nothing can be proven repaired: the order is unproven
    without this rule too, which only says what to do.

    Example
    The record ends with the diagnosis.

    What to do
    Record what was done.
    """
    if not order.of("repair"):
        yield Problem("no repair is recorded", "record what was done to which part")


@hookimpl
def rules() -> Iterable[Rule]:
    """Return the rules of this file."""
    return (never_suspected, no_repair)
