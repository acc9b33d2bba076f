"""Shop rules: do the counts that the vehicle keeps fit one vehicle's driving?

A finding asks a person, with the values side by side, and accuses nobody: an
instrument cluster or a module may have been replaced.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from decimal import Decimal

from auditkit.plugin import (
    DISTANCE,
    MINUTES,
    ODOMETER,
    WARM_UPS,
    Event,
    InputError,
    Parameters,
    Problem,
    Question,
    Readout,
    RepairOrder,
    Rule,
    Severity,
    addressed,
    captured_at,
    cleared_again,
    cooled_too_soon,
    done_before_last_repair,
    hookimpl,
    in_use,
    more_than_between,
    more_than_passed,
    own_counts,
    quantity,
    readout_of,
    readouts_of,
    rule,
    why_not_cleared,
)

_FASTEST, _NEAR = 250, 1000  # km/h, km
_SINCE_START = "1F"
_ODD_CYCLES = 2
"""By how many a counter may rise more: our choice, for a test with the key off."""


@rule("count-went-back", question=Question.SAME_VEHICLE)
def went_back(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a count that a vehicle only ever raises and that is lower than before.

    What it checks
    Odometer (PID A6, and the written one) and in-use counters (service 09) do not fall
    from readout to readout, nor is the odometer beyond the written one by more than
    1,000 km and what 250 km/h allow since (our choice). A counter may begin anew past
    65,535, and a recorded reprogramming may set counters back. Where ignition cycles
    were counted, nothing else rose by over two more: a cycle counts once (13 CCR
    1968.2(d)(4), from memory).

    Why it matters
    A vehicle does not count backwards; a later readout with a lower count is an older
    one, or of another vehicle.

    Example
    120,345 km before the repair, 98,000 km after it.

    What to do
    Look at both readouts with the vehicle at hand; record a replaced instrument
    cluster or control module.
    """
    mended = "look at both readouts with the vehicle at hand, and capture again"
    odometer = _opening_km(order)
    counts: dict[tuple[str, str], int] = {}
    for event, readout in readouts_of(order):
        now = readout.value(ODOMETER)
        if now is not None:
            if odometer is not None and now < odometer - 1:
                yield Problem(
                    f"odometer: {odometer:.0f} km before, {now:f} km now",
                    mended,
                    event.index,
                )
            if told := _beyond_opening(order, event, now):
                yield Problem(told, mended, event.index)
            odometer = now
        for one in readout.counters:
            then = counts.get((one.responder, one.name), one.count)
            back = in_use.rise(then, one.count) is None
            if back and not order.has_new_program:
                yield Problem(
                    f"in-use counter {one.name} of {one.responder}: {then} before, "
                    f"{one.count} now",
                    mended,
                    event.index,
                )
        yield from (
            Problem(told, mended, event.index)
            for told in _more_than_cycles(counts, readout)
        )
        counts |= {(c.responder, c.name): c.count for c in readout.counters}


def _beyond_opening(order: RepairOrder, event: Event, now: Decimal) -> str:
    """Return how far an odometer lies beyond the written one; empty where near."""
    written, opening = _opening_km(order), order.opening
    if written is None or opening is None:
        return ""
    if not opening.text("at") or not event.text("captured"):
        return ""
    hours = (captured_at(event) - opening.at.timestamp()) / 3600
    if now - written <= Decimal(max(hours, 0) * _FASTEST + _NEAR):
        return ""
    return f"odometer: {written:.0f} km as it was written down, {now:f} km read"


def _more_than_cycles(
    counts: Mapping[tuple[str, str], int], readout: Readout
) -> Iterator[str]:
    """Yield counters of a module that rose by more than its ignition cycles did."""
    risen = {
        (one.responder, one.name): in_use.rise(then, one.count)
        for one in readout.counters
        if (then := counts.get((one.responder, one.name))) is not None
    }
    for (who, name), more in risen.items():
        cycles = risen.get((who, in_use.IGNITION))
        if more and cycles is not None and more > cycles + _ODD_CYCLES:
            yield f"in-use counter {name} of {who} rose by {more} in {cycles} cycles"


def _opening_km(order: RepairOrder) -> Decimal | None:
    if order.opening is None:
        return None
    found = quantity(order.opening.object("vehicle").get("odometer"))
    return None if found is None else found.kilometres


@rule(
    "counts-since-clear-contradict",
    question=Question.SAME_VEHICLE,
    severity=Severity.ADVISORY,
)
def contradict(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds counts since codes were cleared that cannot be true together.

    What it checks
    Within one readout: no distance since the clear (PID 31) without minutes of engine
    run (PID 4E), none that would take more than 250 km/h in these minutes (a minute
    more is allowed for, our choice), none above the odometer, and no 500 km and more
    without one warm-up (PID 30; the 500 km are common practice, no published source).
    Nor did the engine run longer since its start (PID 1F) than since the clear, but for
    a minute. It is advice: a hybrid, or an engine that stops at each light, may count
    the one and not the other.

    Why it matters
    Counts that contradict each other did not come from one vehicle's driving. A vehicle
    that drives without its engine can have distance without minutes.

    Example
    4,000 km since the clear and not one warm-up.

    What to do
    Capture again; ask where the readout came from.
    """
    for event, readout in readouts_of(order):
        far, minutes = readout.value(DISTANCE), readout.value(MINUTES)
        warm, odometer = readout.value(WARM_UPS), readout.value(ODOMETER)
        ran = readout.value(_SINCE_START)
        if ran is not None and minutes is not None and ran / 60 > minutes + 1:
            yield Problem(
                f"{ran:f} s since the engine was started, and since the last clear "
                f"{minutes:f} min of engine run",
                "capture again, and ask where the readout came from",
                event.index,
            )
        if far is None:
            continue
        told = [
            f"{far:f} km, {what}"
            for wrong, what in (
                (minutes == 0 and far > 0, "and 0 min of engine run"),
                (
                    minutes and far > (minutes + 1) * _FASTEST / 60,
                    f"and {minutes} min of engine run",
                ),
                (warm == 0 and far >= 500, "and no warm-up"),
                (
                    odometer is not None and far > odometer + 1,
                    f"and an odometer of {odometer} km",
                ),
            )
            if wrong
        ]
        for text in told:
            yield Problem(
                f"since the last clear: {text}",
                "capture again, and ask where the readout came from",
                event.index,
            )


@rule(
    "clear-contradicted-by-counts",
    question=Question.ORDER_OF_TIME,
    version=3,
    parameters={"kilometres": 5, "kilometres_when_away": 50},
)
def clear_contradicted(order: RepairOrder, parameters: Parameters) -> Iterator[Problem]:
    """Finds counts since the last clear that do not fit the clears that are recorded.

    What it checks
    Where a clear is recorded after the last repair, the readouts after it do not count
    on from before (PIDs 30, 31, 4E), count no more minutes of engine run than passed,
    and no more kilometres than the odometer rose. A vehicle that was cleared shortly
    before it came counts more after than before all the same: where the odometer rose
    by over 2 km more than PID 31 did, that began anew. Nor do they count too few, for
    then codes were cleared once more, later. That is asked of each module of a repaired
    fault by what it counts itself, where it does, for a clear may reach one alone:

    From one readout to the next, with no clear recorded between them, no count since
    the clear falls, and PID 31 rises as the odometer does, but for its step of 1 km.

    PID 31 counts the drives that are recorded between the clear and the readout, but
    for 1 km and a tenth of what was typed (our choice: a trip meter is read, not kept).

    From the last readout before the repair the odometer rises by what PID 31 counts,
    by the drives recorded before the clear, by 1 km, and by the parameter "kilometres",
    5, for the yard and the drive that shows the complaint. Where over 24 h lie between
    that readout and the clear, the customer may have had the vehicle until the part
    came: then by "kilometres_when_away", 50. Both are our choice.

    No readout counts more warm-ups than minutes of engine run, nor than one and one
    more for each ten minutes since the recorded clear before it; nor, where the
    ignition counter of service 09 went on since the readout before that clear, more
    than one beyond its rise. No readout counts more minutes than passed since that
    clear, nor more kilometres than 250 an hour, or than 250 an hour of engine run and
    200 that a charge from the mains may give. Ten minutes, 250 km/h and 200 km are our
    choice: no engine cools and warms again sooner, no vehicle on a road is faster. Nor
    is its coolant colder than an engine that warmed up since can have become, in the
    time that it stood: by 1/e an hour towards -20 degC, our choice, too.

    From one readout to the next, with no clear recorded between them, PID 31 rises by
    no more than a tenth, and 1 km, beyond the odometer; and no more ignition cycles are
    counted than one a minute and ten: our choice, too. Some are, where a repair lies
    between them and the odometer rose by 1 km.

    Minutes of engine run (PID 4E) are not held against recorded drives: an engine that
    stops at each light, or a hybrid's, runs less than the drive lasts.

    Why it matters
    What is new since the clear is only new if it is that clear.

    Example
    A clear is recorded on Monday, and a drive of 27 km; on Tuesday the vehicle counts
    3 km since its last clear.

    What to do
    Record each clear when it is done, and a battery that was disconnected as one; each
    drive too. Clear again, drive, and capture a new readout.
    """
    near, away = (
        _kilometres(parameters, name) for name in ("kilometres", "kilometres_when_away")
    )
    told = why_not_cleared(order) or _warmed_too_often(order)
    found = [(None, told)] if told else list(more_than_passed(order))
    found = found or [*more_than_between(order), *cooled_too_soon(order)]
    for index, text in found or cleared_again(order, near, away):
        yield Problem(
            text, "record each clear; clear again, drive, and read again", index
        )


def _kilometres(parameters: Parameters, name: str) -> int:
    far = parameters[name]
    if not isinstance(far, int) or isinstance(far, bool) or far < 0:
        raise InputError(
            f"{far!r} is no number of kilometres",
            where=f"policy#rules.clear-contradicted-by-counts.parameters.{name}",
            what_to_do="write a whole number",
        )
    return far


def _warmed_too_often(order: RepairOrder) -> str:
    for _, readout in readouts_of(order):
        warm, ran = readout.value(WARM_UPS), readout.value(MINUTES)
        if warm is not None and ran is not None and warm > ran + 1:
            return f"since the last clear: {warm:f} warm-ups in {ran:f} min of running"
    return ""


@rule(
    "no-drive-since-clear",
    question=(Question.TEST_PASSED, Question.TEST_RERAN),
    version=2,
)
def no_drive(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a last readout that was taken after a clear and before any drive.

    What it checks
    Of the counts since the last clear that the last readout after a recorded clear
    holds (PID 30 warm-ups, 31 km, 4E minutes of engine run), one at least is not 0, of
    each module of a repaired fault that counts itself. Nor are codes cleared within
    that readout (service 04).

    Why it matters
    What the vehicle says then is that nothing has been tested yet.

    Example
    The codes are cleared in the bay, and the readout is taken with the key on.

    What to do
    Drive until the test has run, then capture again.
    """
    clear = order.clear_after_repair
    if clear is None:
        return
    whose = dict.fromkeys(w for fault in addressed(order) for w in fault.witnesses)
    for event in order.after(clear.index, "readout")[-1:]:
        readout = readout_of(event)
        own = [own_counts(order, who, readout) for who in whose] or [readout]
        if readout.cleared or any(map(_has_counted_nothing, own)):
            for question in (Question.TEST_PASSED, Question.TEST_RERAN):
                yield Problem(
                    "the last readout was taken before any drive since the clear",
                    "drive until the test has run, then capture again",
                    event.index,
                    can_come_later=True,
                    question=question,
                )


def _has_counted_nothing(readout: Readout) -> bool:
    counts = [readout.value(i) for i in (WARM_UPS, DISTANCE, MINUTES)]
    read = [count for count in counts if count is not None]
    return bool(read) and not any(read)


@rule("worked-on-after-the-drive", question=(Question.TEST_PASSED, Question.TEST_RERAN))
def worked_on_after(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds work on a fault after its clear or its drive, and nothing since.

    What it checks
    Codes are cleared after the last repair for a fault. Else, from the readout before
    it until its work began, no codes were cleared, no drive is recorded after an
    earlier repair for it, and no more than 24 h passed (our choice: the customer may
    have had the vehicle until the part came). Or, from one readout after it to the
    last, the vehicle's counts rise (PIDs 30, 31, 4E, A6), and a result of service 06
    changes where the fault has one (misfires stay at zero). Where only a clear stands
    before that repair, a drive recorded after it will do.

    Why it matters
    A result since a clear may be of any drive since then. Where another part was fitted
    in the meantime, it may be that of the part before; or the fault was gone before the
    part was sold.

    Example
    A valve is replaced, codes are cleared, it is driven; the next morning another valve
    goes in, and the readout is taken at once.

    What to do
    Clear codes, drive until the test has run, then capture again. Or capture now, and
    once more after a drive. A vehicle that was away is read again before its repair.
    """
    for fault in addressed(order):
        if fault.points or not (told := done_before_last_repair(order, fault)):
            continue
        for question in (Question.TEST_PASSED, Question.TEST_RERAN):
            yield Problem(
                f"{fault.code}: {told} before the last work for it, and nothing shows "
                "what the vehicle did since",
                "clear codes, drive until the test has run, then capture again",
                fault.last_repair,
                subject=fault.subject,
                can_come_later=True,
                question=question,
            )


@hookimpl
def rules() -> Iterable[Rule]:
    """Return the rules of this file."""
    return (
        went_back,
        contradict,
        clear_contradicted,
        no_drive,
        worked_on_after,
    )
