"""Shop rules: was the suspect part shown to be at fault before it was touched?

It is long because each of its rules has its page beside its check.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from auditkit.plugin import (
    BenchResult,
    Event,
    InputError,
    Parameters,
    Problem,
    Question,
    RepairOrder,
    Rule,
    Severity,
    hookimpl,
    result_of,
    rule,
    typed_lacks,
    typed_undecided,
    typed_within,
    why_typed,
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


@rule(
    "bench-test-not-valid",
    question=Question.PART_AT_FAULT,
    severity=Severity.ADVISORY,
)
def not_valid(order: RepairOrder, parameters: Parameters) -> Iterator[Problem]:
    """Finds a computed bench test that decides nothing.

    What it checks
    A bench test that names its method has the readings and conditions that the method
    asks for, in units of their kind and within the range of what read them; and what
    was read can be judged by the method. An instrument that was not in check makes
    no test not valid: what it read counts as typed (instrument-out-of-calibration).

    Why it matters
    A number beyond what its instrument can show, or of a test that cannot show the
    fault, is no proof.

    Example
    The resistance of a winding is written, and nobody wrote how warm it was.

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


@rule(
    "bench-test-inconclusive",
    question=Question.PART_AT_FAULT,
    severity=Severity.ADVISORY,
)
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


@rule(
    "instrument-out-of-calibration",
    question=Question.PART_AT_FAULT,
    severity=Severity.ADVISORY,
    parameters={"days": 731},
)
def out_of_calibration(order: RepairOrder, parameters: Parameters) -> Iterator[Problem]:
    """Finds an instrument that was not in calibration on the day of the test.

    What it checks
    Where an instrument's specification is given, it names the day of its calibration
    and the day when it is due, at most the parameter "days" apart (two years: our
    choice), and the test lies between them. It states an error: none is without. A
    test that names its method names what read each value, with its specification.
    What an instrument shows that states less counts as typed: the result stands, no
    uncertainty is claimed of it, and it weighs no more than a value written by hand.

    Why it matters
    What an instrument shows counts only as long as somebody checked it.

    Example
    Tested on 4 March 2026 with a gauge that was due on 31 January 2026.

    What to do
    Have it calibrated and repeat the test; where it was in check, write its dates and
    what its data sheet says.
    """
    days = parameters["days"]
    if not isinstance(days, int) or isinstance(days, bool) or days < 1:
        raise InputError(
            f"{days!r} is no number of days",
            where="policy#rules.instrument-out-of-calibration.parameters.days",
            what_to_do="write a whole number",
        )
    for test in order.of("bench_test"):
        try:
            found = result_of(test, parameters.catalogue.bench_tests)
        except InputError:
            found = None  # bench-test-not-valid tells it
        if found is not None and found.unchecked:
            why = "; ".join(found.unchecked)
            yield Problem(
                f"the bench test of {test.text('part')} counts as typed: {why}",
                "; ".join(found.settles),
                test.index,
            )
            continue
        for item in test.items("instruments"):
            spec = item.get("specification")
            if not isinstance(spec, dict):
                continue
            why = why_typed(spec, test.at.date(), days)
            if why:
                yield Problem(
                    f"instrument {item.get('id')}: {why}",
                    "have it calibrated, then repeat the test",
                    test.index,
                )


@rule(
    "bench-test-incomplete",
    question=Question.PART_AT_FAULT,
    severity=Severity.ADVISORY,
)
def incomplete(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a bench test that lacks its value, unit, instrument or limit.

    What it checks
    The result has a value and a unit, an instrument is named, and a limit is given in
    a unit that the result converts to, with its source.

    Why it matters
    "Tested bad" is an opinion. A value against a limit can be checked.

    Example
    A bench test of an EGR valve says only that it leaked.

    What to do
    Write the value that was read, its unit, the instrument, and the limit with where
    it comes from.
    """
    for test in order.of("bench_test"):
        lacking = [] if test.text("method") else typed_lacks(test)
        if lacking:
            yield Problem(
                f"the bench test of {test.text('part')} has no {', no '.join(lacking)}",
                f"record the {' and the '.join(lacking)}",
                test.index,
            )


@rule(
    "bench-test-shows-no-fault",
    question=Question.PART_AT_FAULT,
    severity=Severity.ADVISORY,
)
def shows_no_fault(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a part that was worked on although its bench test lay within the limit.

    What it checks
    The last complete bench test of the part before the repair lies outside its limit.
    Limits are inclusive. A display that only says above or below something short of
    the limit decides nothing, and is told so. Uncertainty is not looked
    at: a test that names its method has its own rules.

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
        complete = [t for t in typed if not typed_lacks(t)]
        if not complete:
            continue
        if said := typed_undecided(complete[-1]):
            yield Problem(
                f"the bench test of {repair.text('part')} decides nothing: {said}",
                "record a value, or a display that ends beyond a limit (above the "
                "maximum, or below the minimum)",
                complete[-1].index,
            )
        elif said := typed_within(complete[-1]):
            yield Problem(
                f"the bench test of {repair.text('part')} shows no fault: {said}",
                "find the cause, or record a bench test that shows this part at fault",
                complete[-1].index,
            )


@hookimpl
def rules() -> Iterable[Rule]:
    """Return the rules of this file."""
    return (
        incomplete,
        not_valid,
        inconclusive,
        out_of_calibration,
        shows_no_fault,
    )
