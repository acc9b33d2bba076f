"""What a repair order shows of its codes' self-tests, before the repair and after it.

Rules of several plugins ask here. ``auditkit.obd.rerun`` compares two readouts; here it
is a whole order: which of its events speak of the repaired vehicle, and how well.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from auditkit.obd import Readout, SelfTest, decode
from auditkit.obd.code_table import monitors_of
from auditkit.obd.comparison import SINCE_CLEARED
from auditkit.obd.dtc import codes_in
from auditkit.obd.parameters import DISTANCE, MINUTES, ODOMETER
from auditkit.obd.rerun import Evidence, Grade, evidence
from auditkit.obd.transcript import UNKNOWN
from auditkit.order.events import Event, RepairOrder
from auditkit.order.module_names import renamed
from auditkit.order.once import once
from auditkit.order.typed_readout import typed_readout, typed_tests
from auditkit.text.values import quantity


@once
def mids_of(order: RepairOrder, code: str) -> frozenset[str]:
    """Return the monitor ids that belong to a code of this order.

    From the table; for a code that has none there, from the diagnosis that names the
    code and self-tests of the maker's own.
    """
    return monitors_of(code) or frozenset(
        str(item.get("mid"))
        for event in order.of("diagnosis")
        if code in event.texts("codes")
        for item in event.items("self_tests")
    )


def provable_codes(order: RepairOrder) -> tuple[str, ...]:
    """Return the codes for which a self-test can be looked for."""
    if order.proof_starts is None:
        return ()
    return tuple(code for code in order.codes if mids_of(order, code))


@once
def readout_of(event: Event) -> Readout:
    """Return what a readout event says: its text decoded, or what was typed.

    Its modules go by the names that the order knows them by.
    """
    if not event.text("raw") and event.object("typed"):
        return renamed(typed_readout(event), event.modules)
    return renamed(decode(event.text("raw")), event.modules)


@once
def readouts_of(order: RepairOrder) -> tuple[tuple[Event, Readout], ...]:
    """Return every readout event of an order with what its text says, in order."""
    return tuple((event, readout_of(event)) for event in order.of("readout"))


def captured_at(event: Event) -> float:
    """Return when a readout was captured, in seconds since 1970."""
    return datetime.fromisoformat(event.text("captured")).timestamp()


@once
def readouts_after(order: RepairOrder) -> tuple[Event, ...]:
    """Return the readouts that speak of the repaired vehicle."""
    start = order.proof_starts
    return () if start is None else order.after(start, "readout")


@dataclass(frozen=True, slots=True)
class SelfTestResult:
    """A self-test result after the repair, with the event that holds it."""

    test: SelfTest
    event: int


def _results(
    events: Iterable[Event], mids: frozenset[str]
) -> tuple[SelfTestResult, ...]:
    return tuple(
        SelfTestResult(test, event.index)
        for event in events
        for test in readout_of(event).self_tests
        if test.mid in mids
    )


@once
def results_after(order: RepairOrder, code: str) -> tuple[SelfTestResult, ...]:
    """Return the results that belong to a code and speak of the repaired vehicle.

    Without a clear after the repair the vehicle keeps old results until the test runs
    again (ISO 15031-5:2006 7.6.1), so words equal to those before prove nothing.
    """
    start = order.proof_starts
    if start is None:
        return ()
    mids = mids_of(order, code)
    found = _results(order.after(start, "readout"), mids)
    if order.clear_after_repair is not None:
        return found
    old = {
        r.test.place: r.test.words
        for r in _results(order.before(start, "readout"), mids)
    }
    return tuple(r for r in found if old.get(r.test.place) != r.test.words)


@once
def typed_after(order: RepairOrder, code: str) -> tuple[Event, ...]:
    """Return the results that a person typed for a code after the repair.

    A result is of a code by its monitor id; without one, by its name on the display,
    where that says this code and no other.
    """
    mids = mids_of(order, code)
    return tuple(
        event
        for event in _typed_after(order)
        if (mid := event.text("mid")) in mids
        or (not mid and codes_in(event.text("monitor")) == {code})
    )


def typed_of_none(order: RepairOrder) -> tuple[Event, ...]:
    """Return the typed results after the repair that say of no code that it is theirs.

    They have no monitor id, and their name on the display says no code of this order,
    or another one beside it.
    """
    codes = [{code} for code in order.codes]
    return tuple(
        event
        for event in _typed_after(order)
        if not event.text("mid") and codes_in(event.text("monitor")) not in codes
    )


@once
def _typed_after(order: RepairOrder) -> tuple[Event, ...]:
    start = order.proof_starts
    if start is None:
        return ()
    shown = order.after(start, "readout")
    typed = (test for event in shown for test in typed_tests(event))
    return (*order.after(start, "self_test"), *typed)


def typed_result(event: Event) -> str:
    """Return a typed result's outcome from its own numbers; empty where they lack."""
    value = quantity(event.data.get("value"))
    low, high = (quantity(event.data.get(n)) for n in ("minimum", "maximum"))
    if value is None or (low is None and high is None):
        return ""
    if value.value == 0 and all(q is None or q.value == 0 for q in (low, high)):
        return "not-run"
    if any(q is not None and q.unit != value.unit for q in (low, high)):
        return ""
    inside = (low is None or value.value >= low.value) and (
        high is None or value.value <= high.value
    )
    return "passed" if inside else "failed"


@once
def failed_before(order: RepairOrder, code: str) -> tuple[SelfTest, ...]:
    """Return the self-tests of a code that failed before the last repair.

    One for each place (responder, monitor id, test id): the last failure.
    """
    repair = order.last_repair
    if repair is None:
        return ()
    old = _results(order.before(repair.index, "readout"), mids_of(order, code))
    failed = {r.test.place: r.test for r in old if r.test.outcome == "failed"}
    return tuple(failed.values())


def outcomes_at(order: RepairOrder, code: str, failed: SelfTest) -> list[str]:
    """Return what came out after the repair where a self-test had failed before it.

    A typed result counts only where no readout holds a result of the code: what the
    vehicle gave before, it can give again.
    """
    results = results_after(order, code)
    if results:
        return [r.test.outcome for r in results if same_place(r.test, failed)]
    return [
        e.text("outcome")
        for e in typed_after(order, code)
        if e.text("mid") == failed.mid and e.text("tid") in {"", failed.tid}
    ]


def same_place(one: SelfTest, other: SelfTest) -> bool:
    """Return whether two results are of one place, as far as responders are named."""
    who = {one.responder, other.responder} - {UNKNOWN}
    return (one.mid, one.tid) == (other.mid, other.tid) and len(who) <= 1


@once
def best_evidence(order: RepairOrder, code: str) -> Evidence:
    """Return the best evidence that the code's self-test ran after the repair."""
    repair, start = order.last_repair, order.proof_starts
    best = Evidence(Grade.NONE, "")
    if repair is None or start is None:
        return best
    recorded = _recorded_clear(order, code)
    if recorded and any(
        r.test.outcome != "not-run" for r in results_after(order, code)
    ):
        return Evidence(Grade.RESULTS_AFTER_CLEAR, recorded)
    mids = mids_of(order, code)
    old = order.before(repair.index, "readout")[-1:]
    seen = [readout_of(e) for e in (*old, *order.after(repair.index, "readout"))]
    for after, before in ((a, b) for n, a in enumerate(seen) for b in seen[:n]):
        for found in evidence(before, after, mids):
            if found.grade.meets(best.grade) and found.grade != best.grade:
                best = found
        if best.grade is Grade.RESULTS_AFTER_CLEAR:
            return best  # none is better
    if best.grade is Grade.NONE and typed_after(order, code):
        return Evidence(Grade.ONLY_TYPED, "a person typed it")
    return best


def _recorded_clear(order: RepairOrder, code: str) -> str:
    """Return why a recorded clear is believed: the vehicle no longer stores the code.

    A record alone is a person's word. Empty where there is no clear after the repair,
    or the vehicle does not confirm it.
    """
    repair, clear = order.last_repair, order.clear_after_repair
    if repair is None or clear is None:
        return ""
    old = order.before(repair.index, "readout")
    stored = {c.text for e in old for c in readout_of(e).confirmed}
    new = [
        r
        for e in order.after(clear.index, "readout")
        if "03" in (r := readout_of(e)).reported
    ]
    gone = bool(new) and code not in {c.text for c in new[0].confirmed}
    if code in stored and gone and not why_not_cleared(order):
        return f"codes were cleared after the repair, and {code} is no longer stored"
    return ""


@once
def why_not_cleared(order: RepairOrder) -> str:
    """Return what the vehicle's own counts say against a clear that is recorded."""
    repair, clear = order.last_repair, order.clear_after_repair
    if repair is None or clear is None:
        return ""
    cleared = clear.at.timestamp()
    old = [readout_of(e) for e in order.before(repair.index, "readout")[-1:]]
    for event in order.after(clear.index, "readout"):
        new, minutes = readout_of(event), (captured_at(event) - cleared) / 60
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
    if _began_anew_by_odometer(before, new):
        return ""
    grew = ""
    for identifier, name in SINCE_CLEARED:
        was, now = before.value(identifier), new.value(identifier)
        if was is None or now is None or not was:
            continue
        if now < was:
            return ""
        grew = grew or f"{name}: {was:f} before the repair, {now:f} after"
    return f"a clear is recorded, but the vehicle counts on: {grew}" if grew else ""


def _began_anew_by_odometer(before: Readout, new: Readout) -> bool:
    """Return whether the distance since the clear grew less than the odometer did.

    Both count whole kilometres at worst: 1 km for each of the two differences.
    """
    was, now = before.value(DISTANCE), new.value(DISTANCE)
    then, later = before.value(ODOMETER), new.value(ODOMETER)
    if was is None or now is None or then is None or later is None:
        return False
    return later - then > now - was + 2
