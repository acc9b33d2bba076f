"""Did the vehicle itself report the fault before anything was done for it?"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import datetime
from itertools import pairwise

from auditkit.plugin import (
    DISTANCE,
    LAMP_DISTANCE,
    LAMP_MINUTES,
    MINUTES,
    ODOMETER,
    Event,
    Fault,
    Lacking,
    Parameters,
    Problem,
    Question,
    Readout,
    RepairOrder,
    Rule,
    Severity,
    Shown,
    Strength,
    addressed,
    captured_at,
    hookimpl,
    monitors_of,
    readout_of,
    rule,
    watch_of,
)

_SPEED = "0C"
_SLACK = 300  # seconds; our choice
_LAMP = 0x80  # ISO 14229-1 D.2, bit 7 of a status (from memory)


@rule("fault-never-reported", question=Question.FAULT_KNOWN)
def never_reported(
    order: RepairOrder, _: Parameters
) -> Iterator[Shown | Lacking | Problem]:
    """Finds a fault that the vehicle did not report before it was worked on.

    What it checks
    A readout before the first repair that is for the fault, captured before that work
    began, holds its code: confirmed, or confirmed or failed now in a status byte.
    Pending (in such a byte, too) or permanent alone counts only where the same readout
    holds a failing result of the code's own self-test, and so does history: its
    module's lamp is off, or where that is not told its status asks for none, and
    nothing of it is pending (07). By its status byte it is history where, of a module
    that keeps these bits, it is confirmed, and neither fails now nor is pending nor
    asks for a lamp. Where that readout says that the lamp came on, or that codes were
    cleared, no kilometre ago (PIDs 21 and 31) and no longer ago than the vehicle came
    in (PIDs 4D and 4E, where they are read), that the vehicle came in with the fault is
    somebody's word. So it is where an earlier readout of its module does not hold it,
    and no kilometre was driven between the two (A6, 31, else a recorded drive); and
    where the freeze frame of a misfire was kept with the engine at rest. No part is
    worked on for it once a readout since the last work for it shows it gone, its own
    self-test passed.

    Why it matters
    The fault is then the vehicle's word, not only the shop's.

    Example
    The diagnosis says P0401; the first readout was captured after the repair.

    What to do
    Capture a readout before anything is touched or cleared.
    """
    for fault in addressed(order):
        if fault.first_repair is None:
            continue
        yield from _healed_by_then(order, fault)
        events = _before_work(order, fault.first_repair)
        held = [(e, why) for e in events if (why := _holds(readout_of(e), fault.code))]
        if held:
            event, why = held[0]
            told = f"{fault.code} {why} before the repair"
            younger = _younger(order, event, fault.code)
            younger = younger or _not_yet(order, event, fault.code)
            if younger:
                told += f"; {younger}: it may be younger than the visit"
            most = Strength.WORD if younger else None
            yield Shown(told, (event.index,), fault.subject, most)
        else:
            yield Lacking(
                f"no readout before the repair holds {fault.code} as a fault of now",
                "put in the readout that was taken before the repair; where none was, "
                "it cannot be shown any more",
                fault.first_repair,
                fault.subject,
            )


def _healed_by_then(order: RepairOrder, fault: Fault) -> Iterator[Problem]:
    """Yield each later repair of the last attempt before which the fault had healed.

    A readout since the repair before it does not hold the fault, and its own self-test
    passed there.
    """
    repairs = fault.attempts[-1].repairs
    own = monitors_of(fault.code)
    for before, repair in pairwise(repairs):
        for event in order.between(before, repair, "readout")[-1:]:
            readout = readout_of(event)
            results = {t.outcome for t in readout.self_tests if t.mid in own}
            if results == {"passed"} and not any(
                code.text == fault.code for code in readout.codes
            ):
                part = order.events[repair].text("part")
                yield Problem(
                    f"{fault.code} had passed its self-test again when {part} was "
                    "worked on for it",
                    "record what was done for another reason as such: a repair that no "
                    "diagnosis names for this fault",
                    repair,
                    subject=fault.subject,
                )


def _before_work(order: RepairOrder, repair: int) -> list[Event]:
    """Return the readouts that were captured before the work of a repair began.

    Where no start is told, those that stand before it; five minutes are allowed for.
    """
    events = order.before(repair, "readout")
    started = order.events[repair].text("started")
    if not started:
        return list(events)
    begun = datetime.fromisoformat(started).timestamp() + _SLACK
    return [event for event in events if captured_at(event) < begun]


def _holds(readout: Readout, code: str) -> str:
    """Return how a readout holds a code, in words; empty where it does not."""
    kinds = {c.kind for c in readout.codes if c.text == code}
    status = [s for s in readout.statuses if s.code == code and s.is_present]
    listed = any(
        c.text == code and (not status or readout.has_answered(c.responder, "03"))
        for c in readout.confirmed
    )
    is_now = any(s.is_of_now(_kept(readout, s.responder)) for s in status)
    if is_now or (listed and not _is_history(readout, code)):
        return "was stored"
    kinds |= {"pending"} if status else set()
    own = monitors_of(code)
    failed = any(t.outcome == "failed" and t.mid in own for t in readout.self_tests)
    if kinds and failed:
        return f"was {' and '.join(sorted(kinds))}, with its self-test failing,"
    return ""


def _kept(readout: Readout, who: str) -> int:
    """Return the status bits that a module keeps."""
    return next((mask for name, mask in readout.availability if name == who), 0)


def _is_history(readout: Readout, code: str) -> bool:
    """Return whether a stored code is history: lamp off, and nothing of it pending."""
    who = {c.responder for c in readout.confirmed if c.text == code}
    return (
        all(_has_no_lamp(readout, name, code) for name in who)
        and all(readout.has_answered(name, "07") for name in who)
        and not any(c.text == code for c in readout.pending)
    )


def _has_no_lamp(readout: Readout, who: str, code: str) -> bool:
    """Return whether a module's lamp is off, or that of the code by its status byte."""
    lamp = dict(readout.mil).get(who)
    own = [s for s in readout.statuses if (s.responder, s.code) == (who, code)]
    if lamp is None and own and _kept(readout, who) & _LAMP:
        return not any(s.asks_for_lamp for s in own)
    return lamp is False


def _is_at_rest(readout: Readout, code: str) -> bool:
    """Return whether the frame of a misfire says 0 rpm; a stall may explain it."""
    frame = [v for v in readout.values if v.service == "02"]
    is_own = any(v.id == "02" and str(v.meaning) == code for v in frame)
    return (
        watch_of(code) == "X"
        and is_own
        and any(v.id == _SPEED and v.value == 0 for v in frame)
    )


def _younger(order: RepairOrder, event: Event, code: str) -> str:
    """Return what a readout says came to be since the vehicle came in; or nothing."""
    if order.opening is None:
        return ""
    readout = readout_of(event)
    if _is_at_rest(readout, code):
        return "its freeze frame was kept with the engine at rest"
    here = (captured_at(event) - order.opening.at.timestamp()) / 60
    for name, far, ran in (
        ("the lamp came on", LAMP_DISTANCE, LAMP_MINUTES),
        ("codes were cleared", DISTANCE, MINUTES),
    ):
        minutes = readout.value(ran)
        if readout.value(far) != 0 or (minutes is not None and minutes > here):
            continue
        if far == DISTANCE or any(on for _, on in readout.mil):
            since = "" if minutes is None else f" and {minutes:f} min of engine run"
            return f"{name} 0 km{since} ago"
    return ""


def _not_yet(order: RepairOrder, event: Event, code: str) -> str:
    """Return which earlier readout did not hold a code, no kilometre before this one.

    Its module was asked for stored codes or their status in both.
    """
    now = readout_of(event)
    holders = {c.responder for c in now.codes if c.text == code}
    holders |= {s.responder for s in now.statuses if s.code == code and s.is_present}
    for earlier in order.before(event.index, "readout"):
        was = readout_of(earlier)
        asked = any(was.has_answered(who, "03", "19") for who in holders)
        knew = any(c.text == code for c in was.codes) or any(
            s.code == code and s.is_present for s in was.statuses
        )
        if asked and not knew and not _was_driven(order, earlier, event):
            return f"the readout of {earlier.text('captured')} did not hold it"
    return ""


def _was_driven(order: RepairOrder, earlier: Event, event: Event) -> bool:
    """Return whether a kilometre or more was driven between two readouts.

    Where the vehicle counts none in both, a drive that is recorded between them counts.
    """
    known = False
    for far in (ODOMETER, DISTANCE):
        was, now = (readout_of(e).value(far) for e in (earlier, event))
        if was is not None and now is not None:
            known = True
            if now - was >= 1:
                return True
    drives = order.between(earlier.index, event.index, "road_test")
    return not known and bool(drives)


@rule(
    "no-fault-code-named",
    question=Question.FAULT_KNOWN,
    severity=Severity.ADVISORY,
)
def no_code(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a repair order whose diagnosis names no fault code.

    What it checks
    At least one diagnosis names at least one fault code.

    Why it matters
    Without the code nobody can tell which self-test has to run again: the order is
    unproven without this rule too, which only says what to do.

    Example
    The diagnosis says "runs rough".

    What to do
    Record the fault code that the vehicle raised.
    """
    if not order.codes:
        yield Problem("no diagnosis names a fault code", "record the fault code")


@hookimpl
def rules() -> Iterable[Rule]:
    """Return the rules of this file."""
    return (never_reported, no_code)
