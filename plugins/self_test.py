"""Shop rules: did the vehicle's own test run again after the repair, and pass?

This file is long because each of its sixteen rules carries its page.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files

from auditkit.errors import InputError
from auditkit.events import Event, RepairOrder, quantity
from auditkit.findings import Problem, Severity
from auditkit.hookspecs import hookimpl
from auditkit.obd import Readout, SelfTest, decode
from auditkit.obd.comparison import SINCE_CLEARED
from auditkit.obd.parameters import DISTANCE, MINUTES, ODOMETER
from auditkit.obd.rerun import Evidence, Grade, evidence, why_waiting
from auditkit.rule import Parameters, Rule, rule
from auditkit.statement import numbers_text


@dataclass(frozen=True, slots=True)
class Group:
    """Fault codes that belong together, and the self-tests that raise them."""

    system: str
    ranges: tuple[tuple[str, str], ...]
    mids: frozenset[str]

    def holds(self, code: str) -> bool:
        """Return whether the code belongs to this group."""
        return any(low <= code <= high for low, high in self.ranges)


@lru_cache(maxsize=1)
def groups() -> tuple[Group, ...]:
    """Return the table of ``self_test.toml``."""
    text = (files("auditkit_plugins") / "self_test.toml").read_text("utf-8")
    made: list[Group] = []
    for row in tomllib.loads(text)["group"]:
        ends = (codes.partition("-") for codes in row["codes"])
        ranges = tuple((low, high or low) for low, _, high in ends)
        made.append(Group(row["system"], ranges, frozenset(row["mids"])))
    return tuple(made)


def group_of(code: str) -> Group | None:
    """Return the group that a code belongs to."""
    return next((g for g in groups() if g.holds(code)), None)


def mids_of(order: RepairOrder, code: str) -> frozenset[str]:
    """Return the monitor ids that belong to a code of this order.

    From the table, and from the diagnosis that names the code and self-tests of the
    maker's own.
    """
    group = group_of(code)
    mids = set(group.mids if group else ())
    for event in order.of("diagnosis"):
        if code in event.texts("codes"):
            mids |= {str(item.get("mid")) for item in event.items("self_tests")}
    return frozenset(mids)


def _related(code: str, other: str) -> bool:
    group = group_of(code)
    return other == code or (group is not None and group.holds(other))


@dataclass(frozen=True, slots=True)
class _Result:
    """A self-test result after the repair, with the event that holds it."""

    test: SelfTest
    event: int


def _readout(event: Event) -> Readout:
    return decode(event.text("raw"))


def _results(events: Iterable[Event], mids: frozenset[str]) -> list[_Result]:
    return [
        _Result(test, event.index)
        for event in events
        for test in _readout(event).self_tests
        if test.mid in mids
    ]


def _after(order: RepairOrder, code: str) -> list[_Result]:
    """Return the results that belong to a code and speak of the repaired vehicle.

    Without a clear after the repair the vehicle keeps old results until the test runs
    again (ISO 15031-5:2006 7.6.1), so words equal to those before prove nothing.
    """
    start, repair = order.proof_starts, order.last_repair
    if start is None or repair is None:
        return []
    mids = mids_of(order, code)
    found = _results(order.after(start, "readout"), mids)
    if start != repair.index:
        return found
    old = {
        r.test.place: r.test.words
        for r in _results(order.before(start, "readout"), mids)
    }
    return [r for r in found if old.get(r.test.place) != r.test.words]


def _typed(order: RepairOrder, code: str) -> list[Event]:
    start = order.proof_starts
    if start is None:
        return []
    mids = mids_of(order, code)
    typed = order.after(start, "self_test")
    return [e for e in typed if not e.text("mid") or e.text("mid") in mids]


def _proven_codes(order: RepairOrder) -> tuple[str, ...]:
    """Return the codes for which a self-test can be looked for."""
    if order.proof_starts is None:
        return ()
    return tuple(code for code in order.codes if mids_of(order, code))


def _say(test: SelfTest) -> str:
    return f"self-test {test.mid}/{test.tid} of {test.responder}: {numbers_text(test)}"


@rule("no-fault-code-named")
def no_code(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a repair order whose diagnosis names no fault code.

    What it checks
    At least one diagnosis names at least one fault code.

    Why it matters
    Without the code nobody can tell which self-test has to run again.

    Example
    The diagnosis says "runs rough".

    How to fix
    Record the fault code that the vehicle raised.
    """
    if not order.codes:
        yield Problem("no diagnosis names a fault code", "record the fault code")


@rule("self-test-unknown-for-code")
def unknown(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a fault code for which no self-test is known.

    What it checks
    Every diagnosed code stands in the table, or the diagnosis names the self-tests of
    the maker's own that belong to it.

    Why it matters
    A self-test that nobody can name cannot be shown to have passed.

    Example
    P1400, a code of the maker's own.

    How to fix
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
    count.

    Why it matters
    Only the test that raised the code can show that its cause is gone.

    Example
    A catalyst is replaced and the order is closed after a road test.

    How to fix
    Drive until the monitor has run, then capture service 06 once more.
    """
    for code in _proven_codes(order):
        if not _after(order, code) and not _typed(order, code):
            mids = ", ".join(sorted(mids_of(order, code)))
            yield Problem(
                f"no self-test for {code} ({mids}) is recorded after the repair",
                "let the vehicle run the self-test, then capture a readout",
                order.proof_starts,
            )


@rule("self-test-not-run")
def not_run(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a self-test that reads all zero after the repair: it has not run.

    What it checks
    Among the last results that belong to the code at least one has run. Value and
    limits that are all zero mean "not run since the codes were cleared" (ISO
    15031-5:2006 7.6.1).

    Why it matters
    All zero looks like a value below its maximum. It is no result at all.

    Example
    Misfire of cylinder 1: value 0, minimum 0, maximum 0.

    How to fix
    Meet the conditions under which the monitor runs, then capture a new readout.
    """
    for code in _proven_codes(order):
        last = list(_last(_after(order, code)).values())
        typed = _typed(order, code)
        outcomes = [r.test.outcome for r in last] + [e.text("outcome") for e in typed]
        if outcomes and all(outcome == "not-run" for outcome in outcomes):
            waiting = [
                told
                for event in _after_readouts(order)[-1:]
                for told in why_waiting(_readout(event), mids_of(order, code))
            ]
            why = f"; {'; '.join(waiting)}" if waiting else ""
            yield Problem(
                f"the self-test for {code} has not run: value and limits are zero{why}",
                "drive until the monitor has run, then capture a new readout",
                last[-1].event if last else typed[-1].index,
            )


def _last(results: Iterable[_Result]) -> dict[tuple[str, str, str], _Result]:
    return {r.test.place: r for r in results}


def _grade(order: RepairOrder, code: str) -> Evidence:
    """Return the best evidence that the code's self-test ran after the repair."""
    repair, start = order.last_repair, order.proof_starts
    best = Evidence(Grade.NONE, "")
    if repair is None or start is None:
        return best
    mids = mids_of(order, code)
    old = order.before(repair.index, "readout")[-1:]
    seen = [_readout(e) for e in (*old, *order.after(repair.index, "readout"))]
    for place, after in enumerate(seen):
        for before in seen[:place]:
            for found in evidence(before, after, mids):
                if found.grade.meets(best.grade) and found.grade != best.grade:
                    best = found
    recorded = _recorded_clear(order, code)
    if recorded and any(r.test.outcome != "not-run" for r in _after(order, code)):
        return Evidence(Grade.RESULTS_AFTER_CLEAR, recorded)
    if best.grade is Grade.NONE and _typed(order, code):
        return Evidence(Grade.ONLY_TYPED, "a person typed it")
    return best


def _recorded_clear(order: RepairOrder, code: str) -> str:
    """Return why a recorded clear is believed: the vehicle no longer stores the code.

    A record alone is a person's word. Empty where there is no clear after the repair,
    or the vehicle does not bear it out.
    """
    repair, start = order.last_repair, order.proof_starts
    if repair is None or start is None or start == repair.index:
        return ""
    old = order.before(repair.index, "readout")
    stored = {c.text for e in old for c in _readout(e).confirmed}
    new = [
        r for e in order.after(start, "readout") if "03" in (r := _readout(e)).reported
    ]
    gone = bool(new) and code not in {c.text for c in new[0].confirmed}
    if code in stored and gone and not _not_cleared(order):
        return f"codes were cleared after the repair, and {code} is no longer stored"
    return ""


def _not_cleared(order: RepairOrder) -> str:
    """Return what the vehicle's own counts say against a clear that is recorded."""
    repair, start = order.last_repair, order.proof_starts
    if repair is None or start is None or start == repair.index:
        return ""
    cleared = order.events[start].at.timestamp()
    old = [_readout(e) for e in order.before(repair.index, "readout")[-1:]]
    for event in order.after(start, "readout"):
        new, minutes = _readout(event), (_captured(event) - cleared) / 60
        told = _ran_longer(new, minutes)
        for before in old:
            told = told or _drove_farther(before, new) or _counts_on(before, new)
        if told:
            return told
    return ""


def _ran_longer(new: Readout, passed: float) -> str:
    ran = new.value(MINUTES)
    if ran is None or float(ran) <= passed + 1:
        return ""
    return (
        f"the engine ran {ran:f} min since the last clear, and only {passed:.0f} min "
        "passed since the one recorded"
    )


def _drove_farther(before: Readout, new: Readout) -> str:
    far = new.value(DISTANCE)
    was, now = before.value(ODOMETER), new.value(ODOMETER)
    if far is None or was is None or now is None or far <= now - was + 1:
        return ""
    return (
        f"{far:f} km were driven since the last clear, but the odometer rose by "
        f"{now - was:f} km since the readout before the repair"
    )


def _counts_on(before: Readout, new: Readout) -> str:
    grew = ""
    for identifier, name in SINCE_CLEARED:
        was, now = before.value(identifier), new.value(identifier)
        if was is None or now is None or not was:
            continue
        if now < was:
            return ""
        grew = grew or f"{name}: {was:f} before the repair, {now:f} after"
    return f"a clear is recorded, but the vehicle counts on: {grew}" if grew else ""


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
    is stored still.

    How to fix
    Let the self-test run; capture service 06, PIDs 01, 30, 31 and 4E, and service 09
    InfoType 08 or 0B, before and after the repair.
    """
    least = _least(parameters)
    for code in _proven_codes(order):
        results, typed = _after(order, code), _typed(order, code)
        outcomes = [r.test.outcome for r in results] + [
            e.text("outcome") for e in typed
        ]
        if not outcomes or all(outcome == "not-run" for outcome in outcomes):
            continue
        best = _grade(order, code)
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
        mend = f"write one of {', '.join(grade.value for grade in Grade)}"
        where = "policy#rules.self-test-not-rerun.parameters.least"
        raise InputError(message, where=where, mend=mend) from error


@rule("self-test-older-than-repair")
def older(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a self-test result that may be older than the repair.

    What it checks
    Where a clear is recorded after the repair, the vehicle's own counts since codes
    were cleared must bear it out: minutes of engine run (PID 4E) not above the time
    since that clear, distance (PID 31) not above what the odometer gained, counts that
    fell. An in-use counter that rose, or readiness that turned, settles it.

    Why it matters
    A clear empties the results. Where the last clear came before the repair, a passing
    result may come from before the repair too.

    Example
    The recorded clear and the readout lie an hour apart; the vehicle counts 300 minutes
    of engine run since the last clear.

    How to fix
    Clear the codes after the repair where the maker's procedure says so, let the
    self-test run, and capture a new readout.
    """
    against = _not_cleared(order)
    if not against:
        return
    for code in _proven_codes(order):
        results = [r for r in _after(order, code) if r.test.outcome != "not-run"]
        settled = _grade(order, code).grade in {
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

    How to fix
    Look for the cause again; after the next repair let the self-test run once more.
    """
    for code in _proven_codes(order):
        for result in _after(order, code):
            if result.test.outcome == "failed":
                yield Problem(
                    f"{code}: {_say(result.test)}: failed after the repair",
                    "find the remaining cause and let the self-test run again",
                    result.event,
                    contradicts=True,
                )
        for event in _typed(order, code):
            if event.text("outcome") == "failed":
                yield Problem(
                    f"{code}: {event.text('monitor')} was typed as failed",
                    "find the remaining cause and let the self-test run again",
                    event.index,
                    contradicts=True,
                )


@rule("self-test-without-values")
def without_values(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a typed pass that gives no value or no limit.

    What it checks
    A typed self-test that passed states its value and at least one limit.

    Why it matters
    "Passed" without numbers cannot be checked by anyone.

    Example
    "EGR flow: passed", seen on a screen.

    How to fix
    Capture the raw readout, or type the value and its limits too.
    """
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

    How to fix
    Capture the responses of service 06 as text.
    """
    for code in _proven_codes(order):
        typed = _typed(order, code)
        if typed and not _after(order, code):
            yield Problem(
                f"the self-test for {code} was typed by {typed[-1].by}, not captured",
                "capture the raw readout",
                typed[-1].index,
            )


def _after_readouts(order: RepairOrder) -> tuple[Event, ...]:
    start = order.proof_starts
    return () if start is None else order.after(start, "readout")


@rule("fault-code-returned")
def returned(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a related fault code, confirmed or pending, after the repair.

    What it checks
    No readout after the repair shows the diagnosed code or another of its group. Where
    codes were cleared after the repair the evidence contradicts it; where they were
    not, the code may merely still be stored.

    Why it matters
    A code that comes back says that the fault is still there.

    Example
    P0442 is pending again the day after the clear.

    How to fix
    Find the remaining cause. Where codes were never cleared, clear them and let the
    self-test run again.
    """
    repair, start = order.last_repair, order.proof_starts
    if repair is None or start is None:
        return
    cleared = start != repair.index
    readouts = order.after(start, "readout")
    for event in readouts if cleared else readouts[-1:]:
        seen = _readout(event)
        for found in (*seen.confirmed, *seen.pending):
            if any(_related(code, found.text) for code in order.codes):
                told = "is back" if cleared else "is still stored; it was never cleared"
                yield Problem(
                    f"{found.text} ({found.kind}) {told} after the repair",
                    "find the remaining cause"
                    if cleared
                    else "clear the codes and let the self-test run again",
                    event.index,
                    contradicts=cleared,
                )


@rule("permanent-code-remains")
def permanent(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a related permanent fault code in the last readout after the repair.

    What it checks
    The last readout after the repair that asked for permanent codes (service 0A) shows
    none that is related.

    Why it matters
    Only the vehicle erases a permanent code, after its own monitor ran and passed. A
    clear does not touch it.

    Example
    P0401 is permanent still; the monitor passed in this drive only.

    How to fix
    Drive another cycle as the maker describes, switch off, and capture a new readout.
    """
    asked = [e for e in _after_readouts(order) if "0A" in _readout(e).reported]
    for event in asked[-1:]:
        for found in _readout(event).permanent:
            if any(_related(code, found.text) for code in order.codes):
                yield Problem(
                    f"permanent code {found.text} was not erased by the vehicle yet",
                    "drive until the vehicle erases it, then capture a new readout",
                    event.index,
                )


@rule("permanent-code-gone-without-rerun")
def permanent_gone(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a permanent fault code that is gone although its monitor did not run.

    What it checks
    A related permanent code (service 0A) that a readout before the repair shows and the
    last one after it does not: something shows that the monitor ran since, or a
    reprogramming is recorded.

    Why it matters
    A tool cannot clear a permanent code. The vehicle erases it after the monitor ran
    and passed; reprogramming erases all (a service manual's statement of 13 CCR
    1968.2(d)(2.5)). Otherwise the readout may be of another vehicle.

    Example
    P0442 is permanent before the repair and gone an hour after it, with counters and
    results unchanged.

    How to fix
    Look at both readouts with the vehicle at hand; capture the counters too.
    """
    repair = order.last_repair
    asked = [e for e in _after_readouts(order) if "0A" in _readout(e).reported]
    if repair is None or not asked:
        return
    reprogrammed = any(e.text("action") == "reprogrammed" for e in order.of("repair"))
    left = {c.text for c in _readout(asked[-1]).permanent}
    before = order.before(repair.index, "readout")
    had = dict.fromkeys(c.text for e in before for c in _readout(e).permanent)
    for code in had:
        related = [own for own in _proven_codes(order) if _related(own, code)]
        if code in left or not related or reprogrammed:
            continue
        if not any(
            _grade(order, own).grade.meets(Grade.RESULTS_CHANGED) for own in related
        ):
            yield Problem(
                f"permanent code {code} is gone, and nothing shows that its monitor "
                "ran: is this the same vehicle?",
                "look at both readouts with the vehicle at hand, and capture again",
                asked[-1].index,
            )


@rule("codes-not-read-after-repair")
def not_read(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a repair order whose codes were not read after the repair.

    What it checks
    Readouts after the repair hold answers to services 03 and 07.

    Why it matters
    Nobody can tell whether the code stayed away if nobody asked.

    Example
    Only service 06 was captured after the repair.

    How to fix
    Capture services 03 and 07 (and 0A where the vehicle has it) after the repair.
    """
    if order.proof_starts is None:
        return
    reported = {s for e in _after_readouts(order) for s in _readout(e).reported}
    lacking = sorted({"03", "07"} - reported)
    if lacking:
        yield Problem(
            f"no answer to service {' and '.join(lacking)} stands after the repair",
            "capture the fault codes once more",
            order.proof_starts,
        )


@rule("fault-code-not-read-before-repair", severity=Severity.ADVISORY)
def not_read_before(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a diagnosed code that no readout before the repair shows.

    What it checks
    A readout before the first repair shows each diagnosed code.

    Why it matters
    The fault is then the vehicle's word, not only the shop's.

    Example
    The diagnosis says P0401; the first readout was captured after the repair.

    How to fix
    Capture a readout before anything is touched or cleared.
    """
    repairs = order.of("repair")
    if not repairs:
        return
    seen: set[str] = set()
    for event in order.before(repairs[0].index, "readout"):
        seen |= {code.text for code in _readout(event).codes}
    for code in order.codes:
        if code not in seen:
            yield Problem(
                f"no readout before the repair shows {code}",
                "capture a readout before the repair",
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
        problems = _readout(event).problems
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
        elif _captured(event) < repair.at.timestamp():
            yield Problem(
                "the readout was captured before the repair that it stands after",
                "capture a new readout after the repair",
                event.index,
            )


def _captured(event: Event) -> float:
    from datetime import datetime

    return datetime.fromisoformat(event.text("captured")).timestamp()


@hookimpl
def rules() -> Iterable[Rule]:
    """Return the rules of this file."""
    return (
        no_code,
        unknown,
        missing,
        not_run,
        not_rerun,
        older,
        failed,
        without_values,
        only_typed,
        returned,
        permanent,
        permanent_gone,
        not_read,
        not_read_before,
        has_problems,
        old_readout,
    )
