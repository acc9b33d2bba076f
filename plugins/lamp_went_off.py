"""A way to show that the test passed: the lamp went off by itself."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from auditkit.plugin import (
    DISTANCE,
    MINUTES,
    WARM_UPS,
    Event,
    Fault,
    Lacking,
    Parameters,
    Question,
    Readout,
    RepairOrder,
    Rule,
    Shown,
    addressed,
    clear_reasons,
    hookimpl,
    in_use,
    own_counts,
    readout_of,
    rule,
)

_CYCLES = 3
Pair = tuple[Event, Readout]


@rule(
    "lamp-not-gone-off",
    question=(Question.TEST_PASSED, Question.TEST_RERAN),
    version=3,
)
def not_gone_off(order: RepairOrder, _: Parameters) -> Iterator[Shown | Lacking]:
    """Finds a lamp that was never seen to go off by itself.

    What it checks
    Nothing was cleared since the lamp was read on. Before the repair the lamp of the
    fault's module was on, for this code alone, and no later readout before it says that
    it is off; after it the lamp is off and nothing is pending, the calibrations are
    equal where they are read, and what counts since the last clear (PIDs 30, 31 or 4E)
    went on, by that module where it counts: a clear may reach one alone. A vehicle puts
    its lamp out after three driving cycles in which the test ran and passed (from
    memory): where the ignition counter of service 09 is read both times, it rose by
    three at least.

    Why it matters
    That it went off without a clear is the vehicle's own pass. No number goes with it.

    Example
    P0340, never cleared: the lamp goes off on the third day.

    What to do
    Clear nothing; drive three cycles, then capture PIDs 01, 30, 31 and 4E with the
    codes.
    """
    for fault in addressed(order):
        first, last = fault.first_repair, fault.last_repair
        if first is None or last is None or fault.was_cleared(order):
            continue  # cleared: what a clear put out went not off by itself
        before = [(e, readout_of(e)) for e in order.before(first, "readout")]
        lit = [pair for pair in before if _was_lit(fault, pair[1])]
        after = [(e, readout_of(e)) for e in order.after(last, "readout")]
        if not lit or not after:
            continue
        too_soon = order.after(lit[-1][0].index, "code_clear") or _was_off_before(
            order, fault, lit[-1]
        )
        told = "" if too_soon else _off(order, fault, lit[-1][1], after[-1][1])
        for question in (Question.TEST_PASSED, Question.TEST_RERAN):
            if told:
                yield Shown(
                    told,
                    (lit[-1][0].index, after[-1][0].index),
                    fault.subject,
                    None,
                    question,
                )
            else:
                yield Lacking(
                    f"the lamp that {fault.code} lit is not shown to have gone off by "
                    "itself",
                    "clear nothing; drive three cycles, then read the lamp again",
                    None,
                    fault.subject,
                    can_come_later=True,
                    question=question,
                )


def _was_lit(fault: Fault, readout: Readout) -> bool:
    for who, on in readout.mil:
        listed = {c.text for c in readout.confirmed if c.responder == who}
        if on and listed == {fault.code}:
            return True
    return False


def _whose(readout: Readout) -> list[str]:
    """Return the modules whose lamp is on, for a code that they list."""
    listing = {code.responder for code in readout.confirmed}
    return [who for who, on in readout.mil if on and who in listing]


def _was_off_before(order: RepairOrder, fault: Fault, lit: Pair) -> bool:
    """Return whether the lamp was off again when the part was worked on."""
    event, readout = lit
    lamps = dict(readout.mil)
    for later in order.before(fault.last_repair or 0, "readout"):
        if later.index > event.index:
            lamps |= dict(readout_of(later).mil)
    return not all(lamps[who] for who in _whose(readout))


def _off(order: RepairOrder, fault: Fault, before: Readout, after: Readout) -> str:
    """Return in words that the lamp went off by itself; empty where it is not shown."""
    if before.cleared or after.cleared:
        return ""
    whose = _whose(before)
    lamps = dict(after.mil)
    if not whose or any(lamps.get(who, True) for who in whose):
        return ""
    if any(not after.has_answered(who, "07") for who in whose) or any(
        c.text == fault.code for c in after.pending
    ):
        return ""
    for kept in ("calibration_ids", "cvns"):
        old, new = getattr(before, kept), getattr(after, kept)
        if old and new and set(old) != set(new):
            return ""
    pairs = [[own_counts(order, who, r) for r in (before, after)] for who in whose]
    went_on = [_went_on(*pair) for pair in pairs]
    if not all(went_on):
        return ""
    return (
        f"the lamp that {fault.code} lit went off by itself, with nothing cleared: "
        f"{went_on[0]}; no value is given"
    )


def _went_on(before: Readout, after: Readout) -> str:
    """Return in words that what counts since the last clear went on; empty if not."""
    if clear_reasons(before, after) or _started_too_seldom(before, after):
        return ""
    for identifier, name in (
        (MINUTES, "minutes of engine run"),
        (DISTANCE, "kilometres"),
        (WARM_UPS, "warm-ups"),
    ):
        was, now = before.value(identifier), after.value(identifier)
        if was is not None and now is not None:
            if now <= was:
                return ""
            return f"{name} since the last clear went on from {was:f} to {now:f}"
    return ""


def _started_too_seldom(before: Readout, after: Readout) -> bool:
    old = {c.responder: c.count for c in before.counters if c.name == in_use.IGNITION}
    return any(
        (in_use.rise(old[c.responder], c.count) or 0) < _CYCLES
        for c in after.counters
        if c.name == in_use.IGNITION and c.responder in old
    )


@hookimpl
def rules() -> Iterable[Rule]:
    """Return the rules of this file."""
    return (not_gone_off,)
