"""Was the part at fault before it was worked on?"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from auditkit.plugin import (
    BenchResult,
    Event,
    InputError,
    Lacking,
    Parameters,
    Problem,
    Question,
    RepairOrder,
    Rule,
    Shown,
    Strength,
    TestKind,
    asks_for_a_leak,
    borne_out,
    causes,
    displayed,
    faults_for,
    good_taken_back,
    hookimpl,
    is_unchecked,
    less_of_part,
    methods_for,
    not_of_part,
    outcomes_of,
    own_numbers,
    part_subject,
    quantity_of_another,
    result_of,
    rewriting,
    rewritten_tests,
    rule,
    same_limit,
    states_another_error,
    tests_before_work,
    typed_outcome,
    typed_units_differ,
    whose_word,
)

_TAUGHT = {"relearned", "regenerated"}
_Test = tuple[Event, BenchResult]
_ANY_QUANTITY = {"direct-reading", "intermittent", "known-good-swap"}


def _said(found: BenchResult) -> str:
    return f"{found.result or 'no result'}; {found.limit or 'no limit'}"


@rule("good-part-replaced", question=Question.PART_AT_FAULT)
def good_part(order: RepairOrder, parameters: Parameters) -> Iterator[Problem]:
    """Finds a part that was worked on although its bench test shows it good.

    What it checks
    The computed bench tests of the part before it was worked on are not all *good*:
    within the limit beyond their uncertainty. Those whose instrument was not in check
    are not asked.

    Why it matters
    The part was shown not to be the cause: the customer pays for a good part, and the
    fault stays.

    Example
    A coil of 13.0 ohm, limit 11 to 15 ohm, uncertainty 0.2 ohm, is replaced.

    What to do
    Keep looking for the cause. If the part fails only under other conditions, record a
    bench test under those.
    """
    for part in causes(order):
        found, _ = _results(order, part, parameters.catalogue.bench_tests)
        if found and all(result.outcome == "good" for _, result in found):
            test, result = found[-1]
            yield Problem(
                f"{part} was worked on, and its bench test shows it good: "
                f"{_said(result)}",
                "find the cause, or record a bench test that shows this part at fault",
                test.index,
                contradicts=True,
                subject=part_subject(part),
            )


@rule("part-not-shown-at-fault", question=Question.PART_AT_FAULT, version=4)
def not_at_fault(
    order: RepairOrder, parameters: Parameters
) -> Iterator[Shown | Lacking]:
    """Finds a part that was worked on and not shown to be at fault before.

    What it checks
    A bench test of the part, made before it was worked on or on the old part (and after
    any earlier attempt in which it was replaced), is faulty beyond its uncertainty, and
    none by the same method is good. A known-good or new part does not fail the same
    test. Its numbers, a result written beside them and what was seen do not say both
    faulty and good. Where the table of methods knows tests of the part's system for the
    code, another kind of test counts as a word. One whose instrument stands in another
    test of the part by that method with other limits of error, of one range and
    calibration, counts as typed: somebody chose which. So does one that somebody else
    signed than who made it, which is told; one that reads, to the digit, what the piece
    fitted before it read; one of the old part once it was replaced, else once the work
    was over; and every test where an amendment gave one of the part another outcome,
    also before the repair. A *good* that an amendment took away stays part of the
    story: what is measured after it counts where evidence bears the correction out (a
    photograph of that first test, recorded before a repair, of its display or of the
    check that its instrument failed; or two tests after it by different instruments),
    else it was tested good and faulty. A quantity that the table of methods knows of
    another part of the system counts as a word, and so does a seal at fault because it
    leaks too little. A current, pressure, flow or speed that was read on a supply below
    10.5 V (ISO 16750-2, code D, from memory), where the test states no least supply,
    shows nothing; nor does what says of a reading that it is of another cylinder or
    bank than the part; nor does the balance of a set in which another one stands out,
    or in which the part is twice and stands out by one reading alone (the other less
    than half as far from the median); one that does not say which reading is of which
    counts, of a part with a number, as typed. A part at fault that was only relearned
    or regenerated is a word. What is renewed with a part (a seal, a fluid, one of its
    set) owes no test; a suspect does whose system is another, or of which no note says
    why. A test without a method, or a finding that is seen, counts as what was typed,
    with a picture as a photograph. So does a test by a method whose instrument was not
    in check: *faulty* by it counts where no instrument in check says *good*, and *good*
    by it against another that is no measurement either. Where a part was not replaced,
    a test of the "new" one before the work on it started is of the old.
    Where nobody publishes a bench limit for the part (catalyst, particulate filter),
    the vehicle's own failing number before the repair counts, with each system that the
    table says to rule out first tested good.

    Why it matters
    A part that was changed cannot be shown to have been at fault any more, and a good
    part that was changed healed nothing.

    Example
    An EGR valve loses 6 inH2O in two minutes, at most 1 allowed, uncertainty 0.2.

    What to do
    Measure the part before it is touched, and photograph the display. Where it is too
    late, measure the old part if it was kept, and say so.
    """
    kinds = parameters.catalogue.bench_tests
    for part in causes(order):
        subject = part_subject(part)
        found, unchecked = _results(order, part, kinds)
        faulty = [(t, r) for t, r in found if r.outcome == "faulty"]
        if found and not faulty:
            continue  # good-part-replaced tells it
        good = {t.text("method") for t, r in found if r.outcome == "good"}
        clear = [(t, r) for t, r in faulty if t.text("method") not in good]
        by_it = {t.index: _said(r) for t, r in unchecked if r.outcome == "faulty"}
        typed = [
            (t, said)
            for t in tests_before_work(order, part)
            if (said := by_it.get(t.index, "") or _typed_fault(t))
        ]
        shows = [t for t, _ in clear] or [t for t, _ in typed if not good]
        if shows and (doubt := _doubt(order, shows[-1], kinds)):
            yield Lacking(*doubt, shows[-1].index, subject)
            continue
        if undone := _undone(order, part, shows, kinds):
            yield undone
            continue
        changed = "; ".join(
            rewriting(*pair) for pair in rewritten_tests(order, part, kinds)
        ) + _borne_out(order, part, shows, kinds)
        typed_most = Strength.TYPED if changed else None
        if shows:
            test, told = shows[-1], f"{part}: {typed[-1][1]}, as typed" if typed else ""
            if clear:
                told = f"{part}: {_said(clear[-1][1])}: faulty before it was worked on"
            strange = chosen = ""
            if test.text("method"):
                strange = _reads_another_quantity(order, part, test)
                strange = strange or quantity_of_another(order, test)
                strange = strange or asks_for_a_leak(test) or _only_taught(order, part)
                chosen = states_another_error(order, test) or less_of_part(order, test)
            beside = _good_unchecked(unchecked)
            told = "; ".join(filter(None, (told, strange, chosen, beside, changed)))
            if word := whose_word(order, [test]):
                told += f"; on {word}"
            by_choice = Strength.TYPED if chosen else typed_most
            most = Strength.WORD if strange else by_choice
            yield Shown(told, (test.index,), subject, most)
        elif numbers := own_numbers(order, part, kinds):
            yield Shown(*numbers, subject, typed_most)
        else:
            yield Lacking(*_why_not(order, part, found, good), None, subject)


def _undone(
    order: RepairOrder, part: str, shows: list[Event], kinds: Mapping[str, TestKind]
) -> Lacking | None:
    """Return that an amendment took a good test away, where nothing bears that out.

    It is measured again after it, and the first text is wrong by more than a word.
    """
    taken = good_taken_back(order, part, kinds)
    again = _made_after(taken, shows)
    for first, test in taken:
        if again and borne_out(order, test, again):
            continue
        told = "; and faulty when it was measured again" if again else ""
        return Lacking(
            f"the bench test of {part} was good as first written: "
            f"{rewriting(first, test)}{told}",
            "measure it again, before it is worked on or on the old part, and record "
            "that as a test of its own: twice, by different instruments, or beside a "
            "photograph of the first display, or of the check its instrument failed",
            test.index,
            part_subject(part),
        )
    return None


def _made_after(
    taken: Iterable[tuple[Event, Event]], shows: Iterable[Event]
) -> list[Event]:
    """Return the tests that were made once good ones had been taken back."""
    since = max((test.amended_by or 0 for _, test in taken), default=-1)
    return [t for t in shows if t.amended_by is None and t.index > since]


def _borne_out(
    order: RepairOrder, part: str, shows: list[Event], kinds: Mapping[str, TestKind]
) -> str:
    """Return what bears out that good tests were taken back; empty where none were."""
    taken = good_taken_back(order, part, kinds)
    again = _made_after(taken, shows)
    told = (borne_out(order, test, again) for _, test in taken)
    return "".join(f"; {said}" for said in dict.fromkeys(told))


def _results(
    order: RepairOrder, part: str, kinds: Mapping[str, TestKind]
) -> tuple[list[_Test], list[_Test]]:
    """Return the decided tests by instruments in check, and those by others."""
    found: list[_Test] = []
    unchecked: list[_Test] = []
    for test in tests_before_work(order, part):
        try:
            result = result_of(test, kinds)
        except InputError:
            continue  # bench-test-not-valid tells it
        if result is not None and result.outcome in {"good", "faulty"}:
            is_weak = is_unchecked(order, test, kinds)
            (unchecked if is_weak else found).append((test, result))
    return found, unchecked


def _good_unchecked(unchecked: Iterable[_Test]) -> str:
    said = [_said(result) for _, result in unchecked if result.outcome == "good"]
    return f"tested good, too, as typed: {said[-1]}" if said else ""


def _reads_another_quantity(order: RepairOrder, part: str, test: Event) -> str:
    """Return why a test by a method is no test of this fault; empty where it is one.

    A system and code without a row in the table of methods may be tested by any; so
    may one with a row whose kind reads any quantity.
    """
    suspect = order.suspect(part)
    codes = [fault.code for fault in faults_for(order, part)]
    system = "" if suspect is None else suspect.system
    kinds = {
        m.kind
        for code in codes
        for m in methods_for(code, (system,))
        if code in m.codes and m.system == system
    }
    method = test.text("method")
    if not kinds or kinds & _ANY_QUANTITY or method in kinds | _ANY_QUANTITY:
        return ""
    return f"{method} is no known test of it for {', '.join(codes)}"


def _only_taught(order: RepairOrder, part: str) -> str:
    """Return that nothing was done to a part but a relearn or a regeneration."""
    attempts = {fault.attempts[-1] for fault in faults_for(order, part)}
    done = {
        order.events[place].text("action")
        for attempt in attempts
        for place in attempt.repairs
        if order.events[place].text("part") == part
    }
    if done - _TAUGHT:
        return ""
    return (
        f"it was only {' and '.join(sorted(done))}, so that it is the same part still"
    )


def _doubt(
    order: RepairOrder, faulty: Event, kinds: Mapping[str, TestKind]
) -> tuple[str, str] | None:
    """Return why a faulty test shows nothing, and what to do; None where it does.

    What it read does not bear on the part. The last test of a known-good part, or of
    the new one, by the same method and limit is faulty too: the limit fails every part.
    Or a typed test of the same part is good by the same limit, or by the same test; so
    is one by an instrument not in check, or by the same method, where the faulty one is
    no measurement either. Or the test itself says both.
    """
    part = faulty.text("part")
    if nothing := not_of_part(order, faulty):
        return nothing
    if "good" in outcomes_of(faulty, kinds):
        return (
            f"the test of {part} says that it is faulty, and that it is good",
            "repeat it; record what was seen and what was measured each by itself",
        )
    alike = [
        test
        for test in order.of("bench_test")
        if test.text("part") == part and test.index != faulty.index
    ]
    for which in ("known-good", "new"):
        tests = [
            test
            for test in alike
            if test.text("of") == which
            and test.text("method") == faulty.text("method")
            and same_limit(test, faulty)
        ]
        in_check = [test for test in tests if not is_unchecked(order, test, kinds)]
        last = (*tests[-1:], *in_check[-1:])
        if any("faulty" in outcomes_of(test, kinds) for test in last):
            return (
                f"the {which} part fails the test that {part} failed",
                "the limit or the test is wrong: look it up, repeat it on both parts",
            )
    old = {test.index for test in tests_before_work(order, part)}
    is_weak = not faulty.text("method") or is_unchecked(order, faulty, kinds)
    for test in alike:
        same = same_limit(test, faulty) or test.text("test") == faulty.text("test")
        is_typed = not test.text("method")
        if not is_typed and is_weak and is_unchecked(order, test, kinds):
            is_typed = True
            same = same or test.text("method") == faulty.text("method")
        is_beside = test.index in old and is_typed and same
        if is_beside and "good" in outcomes_of(test, kinds):
            return (
                f"{part} was tested good and faulty by one test",
                "repeat the test under equal conditions; keep all readings",
            )
    return None


def _typed_fault(test: Event) -> str:
    """Return how a test without a method shows a fault; empty where it does not."""
    if test.text("method"):
        return ""
    seen = test.object("finding")
    if seen.get("is_fault") is True:
        return str(seen.get("seen", "a finding"))
    if typed_outcome(test) != "faulty":
        return ""
    return f"{displayed(dict(test.object('result')))}, outside its limit"


def _why_not(
    order: RepairOrder,
    part: str,
    found: list[_Test],
    good: set[str],
) -> tuple[str, str]:
    if good and len(found) > len(good):
        return (
            f"{part} was tested good and faulty by one method",
            "repeat the test under equal conditions; keep all readings",
        )
    tests = tests_before_work(order, part)
    typed = [test for test in tests if not test.text("method")]
    if typed and (units := typed_units_differ(typed[-1])):
        return (
            f"no bench test of {part} from before the work can be judged: {units}",
            "record the test again with result and limit in units of one kind",
        )
    if tests:
        return (
            f"no bench test shows {part} at fault before it was worked on",
            "do what the bench test says would settle it, or measure the old part",
        )
    mine = (event for event in order.of("repair") if event.text("part") == part)
    with_it = any(event.text("renewed_with") for event in mine)
    beside = ", nor a note why a part of its system went with it" if with_it else ""
    return (
        f"{part} was worked on without a bench test of it before{beside}",
        (
            "test the old part if it was kept, and record that it is the old one "
            '("of": "old"); it counts as typed. If not, it cannot be shown any more'
        ),
    )


@hookimpl
def rules() -> Iterable[Rule]:
    """Return the rules of this file."""
    return (not_at_fault, good_part)
