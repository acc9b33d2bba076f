"""A way to show that the test ran: the vehicle erased its permanent code."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from auditkit.plugin import (
    MINUTES,
    WARM_UPS,
    Event,
    Fault,
    Grade,
    Lacking,
    Parameters,
    Problem,
    Question,
    Readout,
    RepairOrder,
    Rule,
    Shown,
    addressed,
    best_evidence,
    hookimpl,
    in_use,
    is_complete,
    mids_of,
    own_counts,
    provable_codes,
    readout_of,
    readouts_after,
    related,
    rule,
    watch_of,
)

_THERMOSTAT = "P0128"  # coolant below the thermostat's temperature (SAE J2012)
_LEAST_RUN = 10  # minutes of one driving cycle, after a clear
_BY_ITS_TEST = frozenset({"M", "R"})


@rule(
    "permanent-code-not-erased",
    question=(Question.TEST_PASSED, Question.TEST_RERAN),
    version=3,
)
def not_erased(order: RepairOrder, _: Parameters) -> Iterator[Shown | Lacking]:
    """Finds a permanent code that the vehicle has not erased yet.

    What it checks
    A module held the code as permanent (service 0A) when it was asked last before the
    repair, and answers 0A without it after; its calibrations are read in both and
    equal, and no reprogramming is recorded. Where the code is watched by a monitor or a
    rationality test, its test ran and passed; else only its running is shown, since a
    general drive erases it (13 CCR 1968.2(d)(2.5), from memory). Since a recorded clear
    the engine ran for ten minutes at least (PID 4E; 600 s in one driving cycle, as a
    service manual states that regulation). The test of the thermostat (P0128) has not
    run where no warm-up was counted since a recorded clear (PID 30): it starts cold and
    ends warm. Both are asked of that module where it counts.

    Why it matters
    No tool clears a permanent code: the vehicle does, after its own test.

    Example
    P0442 is permanent before the repair, and gone after four days.

    What to do
    Drive until the vehicle has erased it, then capture service 0A and the calibrations.
    """
    for fault in addressed(order):
        if fault.first_repair is None or fault.last_repair is None:
            continue
        before = [
            (e, readout_of(e)) for e in order.before(fault.first_repair, "readout")
        ]
        had = [
            (event, readout, code.responder)
            for event, readout in before
            for code in readout.permanent
            if code.text == fault.code
        ]
        if not had:
            continue  # it was not permanent: this way is not there
        event, readout, who = had[-1]
        passes = watch_of(fault.code) in _BY_ITS_TEST
        asked = [Question.TEST_RERAN, *([Question.TEST_PASSED] if passes else [])]
        after = [
            (e, own_counts(order, who, r))
            for e in order.after(fault.last_repair, "readout")
            if (r := readout_of(e)).has_answered(who, "0A")
        ]
        lacking = "the permanent codes were not read after the repair (service 0A)"
        if after:
            lacking = _why_not(order, fault, who, readout, after[-1][1])
        for question in asked:
            if lacking:
                yield Lacking(
                    lacking,
                    "drive until the vehicle erases it, then read permanent codes and "
                    "calibrations again (services 0A and 09)",
                    None,
                    fault.subject,
                    can_come_later=True,
                    question=question,
                )
            else:
                yield Shown(
                    f"{who} erased the permanent code {fault.code} by itself",
                    (event.index, after[-1][0].index),
                    fault.subject,
                    None,
                    question,
                )


def _why_not(
    order: RepairOrder, fault: Fault, who: str, old: Readout, new: Readout
) -> str:
    """Return why a module did not erase a code by itself since; empty where it did."""
    told, same = "", _calibrations(old, who)
    if any(c.text == fault.code and c.responder == who for c in new.permanent):
        told = f"{who} holds {fault.code} as permanent still"
    elif _was_erased_before(order, fault, who):
        told = f"{who} had erased {fault.code} before the part was worked on"
    elif order.is_reprogrammed:
        told = "a reprogramming erases permanent codes too"
    elif not same or same != _calibrations(new, who):
        told = f"the calibrations of {who} are not read in both, and equal"
    elif fault.was_cleared(order) and (ran := _ran_too_short(fault.code, new)):
        told = f"{ran}: a vehicle erases no permanent code so soon"
    elif _never_warmed_up(order, fault, new):
        told = f"no warm-up was counted since {fault.code} was cleared"
    return told


def _was_erased_before(order: RepairOrder, fault: Fault, who: str) -> bool:
    read = [readout_of(e) for e in order.before(fault.last_repair or 0, "readout")]
    told = [r for r in read if r.has_answered(who, "0A")][-1:]
    held = [c for r in told for c in r.permanent if c.responder == who]
    return fault.code not in {c.text for c in held}


def _ran_too_short(code: str, readout: Readout) -> str:
    """Return how short the engine ran since a clear; empty where it ran long enough."""
    ran = readout.value(MINUTES)
    if ran is None or ran >= _LEAST_RUN:
        return ""
    return f"the engine ran for {ran:f} min since {code} was cleared"


def _never_warmed_up(order: RepairOrder, fault: Fault, readout: Readout) -> bool:
    """Return whether a test that takes a warm-up cannot have run since a clear."""
    is_of_thermostat = fault.code == _THERMOSTAT and fault.was_cleared(order)
    return is_of_thermostat and readout.value(WARM_UPS) == 0


def _calibrations(readout: Readout, who: str) -> frozenset[str]:
    found = (*readout.calibration_ids, *readout.cvns)
    return frozenset(text for name, text in found if name == who)


@rule("permanent-code-gone-without-rerun", question=Question.SAME_VEHICLE)
def permanent_gone(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a permanent fault code that is gone although its monitor did not run.

    What it checks
    A related permanent code (service 0A) that a readout before the repair shows and the
    last one after it does not: something shows that the monitor ran since, or a
    reprogramming is recorded. Of a code that no monitor or rationality test watches, a
    drive is enough: after a recorded clear, that the engine did not run for less than
    ten minutes (PID 4E; 13 CCR 1968.2(d)(2.5), from memory). That is enough for any
    code where no readout before the repair holds what could show a run (a result of the
    monitor, a count of its tests), as with most displays, unless the monitor is not
    complete in the last readout (PID 01), or its results there are all zero.

    Why it matters
    A tool cannot clear a permanent code. The vehicle erases it after the monitor ran
    and passed; reprogramming erases all (a service manual's statement of 13 CCR
    1968.2(d)(2.5)). Otherwise the readout may be of another vehicle.

    Example
    P0442 is permanent before the repair and gone an hour after it, with counters and
    results unchanged.

    What to do
    Look at both readouts with the vehicle at hand; capture the counters too.
    """
    repair = order.last_repair
    asked = [e for e in readouts_after(order) if "0A" in readout_of(e).reported]
    if repair is None or not asked:
        return
    reprogrammed = any(e.text("action") == "reprogrammed" for e in order.of("repair"))
    last = readout_of(asked[-1])
    left = {c.text for c in last.permanent}
    before = order.before(repair.index, "readout")
    had = dict.fromkeys(c.text for e in before for c in readout_of(e).permanent)
    for code in had:
        own = [c for c in provable_codes(order) if related(c, code)]
        if code in left or not own or reprogrammed:
            continue
        grades = [best_evidence(order, c).grade for c in own]
        too_soon = order.clear_after_repair and _ran_too_short(code, last)
        drove = not too_soon and (
            watch_of(code) not in _BY_ITS_TEST
            or all(_none_could_tell(order, repair, last, c) for c in own)
        )
        if not drove and not any(g.meets(Grade.RESULTS_CHANGED) for g in grades):
            yield Problem(
                f"permanent code {code} is gone, and nothing shows that its monitor "
                "ran: is this the same vehicle?",
                "look at both readouts with the vehicle at hand, and capture again",
                asked[-1].index,
            )


def _none_could_tell(
    order: RepairOrder, repair: Event, last: Readout, code: str
) -> bool:
    """Return whether nothing that was read could tell whether a code's test ran.

    A monitor that is not complete in the last readout tells that it did not, and so
    does one whose results there are all zero.
    """
    mids = mids_of(order, code)
    results = [t.outcome for t in last.self_tests if t.mid in mids]
    before = [readout_of(e) for e in order.before(repair.index, "readout")]
    counted = in_use.numerators(mids)
    return not (
        any(t.mid in mids for r in before for t in r.self_tests)
        or any(c.name in counted for r in before for c in r.counters)
        or any(is_complete(last, m.responder, mids) is False for m in last.monitors)
        or (results and all(one == "not-run" for one in results))
    )


@hookimpl
def rules() -> Iterable[Rule]:
    """Return the rules of this file."""
    return (not_erased, permanent_gone)
