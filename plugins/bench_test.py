"""Shop rules: was the suspect part shown to be at fault before it was touched?"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import date
from decimal import Decimal

from auditkit.plugin import (
    BenchResult,
    Bound,
    Event,
    InputError,
    Parameters,
    Problem,
    Quantity,
    RepairOrder,
    Rule,
    displayed,
    hookimpl,
    result_of,
    rule,
)


def _tests_before(order: RepairOrder, repair: Event) -> tuple[Event, ...]:
    """Return the bench tests of the repaired part that stand before the repair."""
    part = repair.text("part")
    return tuple(
        test
        for test in order.before(repair.index, "bench_test")
        if test.text("part") == part and test.at <= repair.at
    )


def _computed(
    order: RepairOrder, parameters: Parameters, outcome: str
) -> Iterator[tuple[Event, Event, BenchResult]]:
    """Yield repairs whose last computed bench test of the part has an outcome."""
    for repair in order.of("repair"):
        tests = [t for t in _tests_before(order, repair) if t.text("method")]
        for test in tests[-1:]:
            try:
                found = result_of(test, parameters.catalogue.bench_tests)
            except InputError:
                continue  # bench-test-not-valid tells it
            if found is not None and found.outcome == outcome:
                yield repair, test, found


def _said(found: BenchResult) -> str:
    return f"{found.result or 'no result'}; {found.limit or 'no limit'}"


@rule("bench-test-not-valid")
def not_valid(order: RepairOrder, parameters: Parameters) -> Iterator[Problem]:
    """Finds a computed bench test that decides nothing.

    What it checks
    A bench test that names its method has the readings, conditions and instruments that
    the method asks for; the instruments are in calibration and within range; and what
    was read can be judged by the method.

    Why it matters
    A number from an instrument that nobody checked, or of a test that cannot show the
    fault, is no proof.

    Example
    A winding is measured with a meter whose calibration lapsed last month.

    What to do
    Repeat the test with what the reasons ask for, before the part is touched.
    """
    for test in order.of("bench_test"):
        try:
            found = result_of(test, parameters.catalogue.bench_tests)
        except InputError as error:
            why, what_to_do = error.message, error.what_to_do
        else:
            if found is None or found.outcome != "not-valid":
                continue
            why = "; ".join(found.reasons)
            what_to_do = (
                "; ".join(found.settles) or "repeat the test with what is missing"
            )
        yield Problem(
            f"the bench test of {test.text('part')} decides nothing: {why}",
            what_to_do,
            test.index,
        )


@rule("bench-test-inconclusive")
def inconclusive(order: RepairOrder, parameters: Parameters) -> Iterator[Problem]:
    """Finds a part that was worked on although its bench test decided nothing.

    What it checks
    The last computed bench test of the part before its repair is not inconclusive: its
    result lies outside the limit by more than its uncertainty allows (JCGM 106:2012,
    from memory; the risk is the test's alpha, 5 % unless stated).

    Why it matters
    A reading near its limit may be a good part read wrongly.

    Example
    7.9 inH2O left after two minutes, at least 8 asked, uncertainty 0.35.

    What to do
    Do what would settle it: a finer instrument, a longer hold, repeats.
    """
    for _, test, found in _computed(order, parameters, "inconclusive"):
        yield Problem(
            f"the bench test of {test.text('part')} is inconclusive: {_said(found)}",
            "; ".join(found.settles) or "repeat it with a finer instrument",
            test.index,
        )


@rule("good-part-replaced")
def good_part(order: RepairOrder, parameters: Parameters) -> Iterator[Problem]:
    """Finds a part that was worked on although its bench test shows it good.

    What it checks
    The last computed bench test of the part before its repair is not *good*: within its
    limit beyond its uncertainty.

    Why it matters
    The part was shown not to be the cause: the customer pays for a good part, and the
    fault stays.

    Example
    A coil of 13.0 ohm, limit 11 to 15 ohm, uncertainty 0.2 ohm, is replaced.

    What to do
    Keep looking for the cause. If the part fails only under other conditions, record a
    bench test under those.
    """
    for repair, test, found in _computed(order, parameters, "good"):
        yield Problem(
            f"{repair.text('part')} was {repair.text('action')}, and its bench test "
            f"shows it good: {_said(found)}",
            "find the cause, or record a bench test that shows this part at fault",
            test.index,
        )


@rule("limit-without-source")
def without_source(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a bench test whose limit does not say where it comes from.

    What it checks
    Every limit of a bench test names its source.

    Why it matters
    A limit from nowhere lets any part be called bad. The maker's specification wins;
    a limit of common practice is called so.

    Example
    "At least 15 inHg", and nothing more.

    What to do
    Write the service information and its page, the standard and its clause, or "common
    practice, no published source".
    """
    for test in order.of("bench_test"):
        limit = test.object("limit")
        if limit and not str(limit.get("source", "")).strip():
            yield Problem(
                f"the limit of the bench test of {test.text('part')} has no source",
                "write where the limit comes from",
                test.index,
            )


@rule("instrument-out-of-calibration")
def out_of_calibration(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds an instrument that was not in calibration on the day of the test.

    What it checks
    Where an instrument's specification is given, it names the day of its calibration
    and the day when it is due, and the test lies between them.

    Why it matters
    What an instrument shows counts only as long as somebody checked it.

    Example
    Tested on 4 March 2026 with a gauge that was due on 31 January 2026.

    What to do
    Have it calibrated and repeat the test.
    """
    for test in order.of("bench_test"):
        for item in test.items("instruments"):
            spec = item.get("specification")
            if not isinstance(spec, dict):
                continue
            why = _out_of_date(spec, test.at.date())
            if why:
                yield Problem(
                    f"instrument {item.get('id')}: {why}",
                    "have it calibrated, then repeat the test",
                    test.index,
                )


def _out_of_date(spec: Mapping[str, object], day: date) -> str:
    since, due = str(spec.get("calibrated_on", "")), str(spec.get("due", ""))
    if not since or not due:
        return "the days of its calibration are not both given"
    if not since <= day.isoformat() <= due:
        return f"tested on {day}, calibrated on {since}, due on {due}"
    return ""


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

    What to do
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

    What to do
    Write the value that was read, its unit, the instrument, and the limit with where
    it comes from.
    """
    for test in order.of("bench_test"):
        lacking = [] if test.text("method") else _lacking(test)
        if lacking:
            yield Problem(
                f"the bench test of {test.text('part')} has no {', no '.join(lacking)}",
                f"record the {' and the '.join(lacking)}",
                test.index,
            )


def _lacking(test: Event) -> list[str]:
    result, limit = test.object("result"), test.object("limit")
    lacking: list[str] = []
    if not {"value", "above", "below"} & set(result):
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
    Limits are inclusive. Uncertainty is not looked at: a test that names its method has
    its own rules.

    Why it matters
    A part within its limit was not shown to be the cause: the customer pays for a
    good part, and the fault may come back.

    Example
    A coil of 0.70 ohm, limit 0.60 to 0.80 ohm, is replaced.

    What to do
    Keep looking for the cause. If the part fails only under other conditions, record a
    bench test under those conditions.
    """
    for repair in order.of("repair"):
        typed = [t for t in _tests_before(order, repair) if not t.text("method")]
        complete = [t for t in typed if not _lacking(t)]
        if complete and (said := _within(complete[-1])):
            yield Problem(
                f"the bench test of {repair.text('part')} shows no fault: {said}",
                "find the cause, or record a bench test that shows this part at fault",
                complete[-1].index,
            )


def _within(test: Event) -> str:
    """Return how the result lies within its limit; empty where it lies outside."""
    result, limit = displayed(dict(test.object("result"))), test.object("limit")
    if result is None:
        return ""
    low, high = limit.get("minimum"), limit.get("maximum")
    if isinstance(low, str) and _beyond(result, Decimal(low), "below"):
        return ""
    if isinstance(high, str) and _beyond(result, Decimal(high), "above"):
        return ""
    sides = [
        f"{word} {side}"
        for word, side in (("minimum", low), ("maximum", high))
        if side is not None
    ]
    return f"{result}, {' and '.join(sides)} {result.unit}"


def _beyond(result: Quantity, limit: Decimal, side: Bound) -> bool:
    """Return whether a result, or all that its bound leaves, lies past a limit."""
    past = result.value - limit if side == "above" else limit - result.value
    return past >= 0 if result.bound == side else past > 0 and not result.bound


@hookimpl
def rules() -> Iterable[Rule]:
    """Return the rules of this file."""
    return (
        not_bench_tested,
        incomplete,
        not_valid,
        inconclusive,
        good_part,
        without_source,
        out_of_calibration,
        shows_no_fault,
    )
