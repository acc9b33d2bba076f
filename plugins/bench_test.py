"""Shop rules: was the suspect part shown to be at fault before it was touched?"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from decimal import Decimal

from auditkit.events import Event, RepairOrder, quantity
from auditkit.findings import Problem
from auditkit.hookspecs import hookimpl
from auditkit.rule import Parameters, Rule, rule


def _tests_before(order: RepairOrder, repair: Event) -> tuple[Event, ...]:
    """Return the bench tests of the repaired part that stand before the repair."""
    part = repair.text("part")
    return tuple(
        test
        for test in order.before(repair.index, "bench_test")
        if test.text("part") == part and test.at <= repair.at
    )


@rule("suspect-part-not-bench-tested")
def not_bench_tested(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a suspect part that was worked on without a bench test of it before.

    What it checks
    For every repair, a bench test of the same part stands before it in the record
    and is not dated after it.

    Why it matters
    A part that was changed cannot be shown to have been at fault any more.

    Example
    An ignition coil is replaced on suspicion; nobody measured it.

    How to fix
    Measure the part before it is touched. Where it is too late, measure the old part
    if it was kept and say so; the order stays unproven.
    """
    for repair in order.of("repair"):
        if not _tests_before(order, repair):
            part = repair.text("part")
            yield Problem(
                f"{part} was {repair.text('action')} without a bench test of it "
                "recorded before",
                f"record a bench test of {part}, made before it was touched",
                repair.index,
            )


@rule("bench-test-incomplete")
def incomplete(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a bench test that lacks its value, unit, instrument or limit.

    What it checks
    The result has a value and a unit, an instrument is named, and a limit is given in
    the same unit with its source.

    Why it matters
    "Tested bad" is an opinion. A value against a limit can be checked.

    Example
    A bench test of an EGR valve says only that it leaked.

    How to fix
    Write the value that was read, its unit, the instrument, and the limit with where
    it comes from.
    """
    for test in order.of("bench_test"):
        lacking = _lacking(test)
        if lacking:
            yield Problem(
                f"the bench test of {test.text('part')} has no {', no '.join(lacking)}",
                f"record the {' and the '.join(lacking)}",
                test.index,
            )


def _lacking(test: Event) -> list[str]:
    result, limit = test.object("result"), test.object("limit")
    lacking: list[str] = []
    if "value" not in result:
        lacking.append("measured value")
    if "unit" not in result:
        lacking.append("unit")
    if not any(test.items("instruments")):
        lacking.append("instrument")
    if not {"minimum", "maximum"} & set(limit):
        lacking.append("limit")
    elif "source" not in limit:
        lacking.append("source of the limit")
    elif "unit" in result and limit.get("unit") != result["unit"]:
        lacking.append("limit in the unit of the result")
    return lacking


@rule("bench-test-shows-no-fault")
def shows_no_fault(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a part that was worked on although its bench test lay within the limit.

    What it checks
    The last complete bench test of the part before the repair lies outside its limit.
    Limits are inclusive. Uncertainty is not looked at.

    Why it matters
    A part within its limit was not shown to be the cause: the customer pays for a
    good part, and the fault may come back.

    Example
    A coil of 0.70 ohm, limit 0.60 to 0.80 ohm, is replaced.

    How to fix
    Keep looking for the cause. If the part fails only under other conditions, record a
    bench test under those conditions.
    """
    for repair in order.of("repair"):
        complete = [t for t in _tests_before(order, repair) if not _lacking(t)]
        if complete and (said := _within(complete[-1])):
            yield Problem(
                f"the bench test of {repair.text('part')} shows no fault: {said}",
                "find the cause, or record a bench test that shows this part at fault",
                complete[-1].index,
            )


def _within(test: Event) -> str:
    """Return how the result lies within its limit; empty where it lies outside."""
    result, limit = quantity(dict(test.object("result"))), test.object("limit")
    if result is None:
        return ""
    low, high = limit.get("minimum"), limit.get("maximum")
    if isinstance(low, str) and result.value < Decimal(low):
        return ""
    if isinstance(high, str) and result.value > Decimal(high):
        return ""
    sides = [
        f"{word} {side}"
        for word, side in (("minimum", low), ("maximum", high))
        if side is not None
    ]
    return f"{result}, {' and '.join(sides)} {result.unit}"


@rule("repaired-part-never-suspected")
def never_suspected(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a repair of a part that no diagnosis named before.

    What it checks
    The part of every repair is a suspect part of a diagnosis that stands before it.

    Why it matters
    A part that no reasoning led to may have been changed for any reason.

    Example
    A throttle body is replaced; the diagnosis speaks of the EGR valve.

    How to fix
    Name the part in a diagnosis, with the reasoning, before it is touched.
    """
    for repair in order.of("repair"):
        part = repair.text("part")
        named = (s for s in order.suspect_parts if s.event < repair.index)
        if part not in {s.id for s in named}:
            yield Problem(
                f"{part} was {repair.text('action')}, but no diagnosis before names it",
                f"record the diagnosis that led to {part}",
                repair.index,
            )


@rule("no-repair-recorded")
def no_repair(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a repair order without any repair.

    What it checks
    At least one repair is recorded.

    Why it matters
    Where nothing was repaired, nothing can be proven repaired.

    Example
    The record ends with the diagnosis.

    How to fix
    Record what was done.
    """
    if not order.of("repair"):
        yield Problem("no repair is recorded", "record what was done to which part")


@hookimpl
def rules() -> Iterable[Rule]:
    """Return the rules of this file."""
    return (
        not_bench_tested,
        incomplete,
        shows_no_fault,
        never_suspected,
        no_repair,
    )
