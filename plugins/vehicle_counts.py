"""Shop rules: do the counts that the vehicle keeps fit one vehicle's driving?

A finding asks a person, with the values side by side, and accuses nobody: an
instrument cluster or a module may have been replaced.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from decimal import Decimal

from auditkit.plugin import (
    DISTANCE,
    MINUTES,
    ODOMETER,
    WARM_UPS,
    InputError,
    Parameters,
    Problem,
    Question,
    RepairOrder,
    Rule,
    Severity,
    hookimpl,
    in_use,
    quantity,
    readout_of,
    readouts_of,
    rule,
    why_not_cleared,
)

_MILE = Decimal("1.609344")
"""Kilometres in an international mile, exact (NIST Special Publication 811)."""


@rule("count-went-back", question=Question.SAME_VEHICLE)
def went_back(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a count that a vehicle only ever raises and that is lower than before.

    What it checks
    Odometer (PID A6, and the written one) and in-use counters (service 09) do not fall
    from readout to readout. A counter may begin anew past 65,535, and a recorded
    reprogramming may set counters back.

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
            counts[one.responder, one.name] = one.count


def _opening_km(order: RepairOrder) -> Decimal | None:
    if order.opening is None:
        return None
    reading = order.opening.object("vehicle").get("odometer")
    found = quantity(reading) if isinstance(reading, dict) else None
    if found is None:
        return None
    return found.value * (_MILE if found.unit == "mi" else 1)


@rule(
    "counts-since-clear-contradict",
    question=Question.SAME_VEHICLE,
    severity=Severity.ADVISORY,
)
def contradict(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds counts since codes were cleared that cannot be true together.

    What it checks
    Within one readout: no distance since the clear (PID 31) without minutes of engine
    run (PID 4E), none above the odometer, and no 500 km and more without one warm-up
    (PID 30; the 500 km are common practice, no published source).

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
        if far is None:
            continue
        told = [
            f"{far:f} km, {what}"
            for wrong, what in (
                (minutes == 0 and far > 0, "and 0 min of engine run"),
                (warm == 0 and far >= 500, "and no warm-up"),  # noqa: PLR2004
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
    parameters={"kilometres": 50},
)
def clear_contradicted(order: RepairOrder, parameters: Parameters) -> Iterator[Problem]:
    """Finds counts since the last clear that do not fit the clear that is recorded.

    What it checks
    Where a clear is recorded after the last repair, the readouts after it do not count
    on from before (PIDs 30, 31, 4E), count no more minutes of engine run than passed,
    and no more kilometres than the odometer rose; nor fewer than it rose by more than
    the parameter "kilometres", since then codes were cleared once more, later.

    Why it matters
    What is new since the clear is only new if it is that clear.

    Example
    A clear is recorded on Monday; on Tuesday the vehicle says 3,090 min since its last
    clear.

    What to do
    Record each clear when it is done, and a battery that was disconnected as one. Clear
    again, drive, and capture a new readout.
    """
    far = parameters["kilometres"]
    if not isinstance(far, int) or isinstance(far, bool) or far < 0:
        raise InputError(
            f"{far!r} is no number of kilometres",
            where="policy#rules.clear-contradicted-by-counts.parameters.kilometres",
            what_to_do="write a whole number",
        )
    told = why_not_cleared(order) or _cleared_again(order, far)
    if told:
        yield Problem(told, "record each clear; clear again, drive, and read again")


def _cleared_again(order: RepairOrder, far: int) -> str:
    repair, start = order.last_repair, order.proof_starts
    if repair is None or start is None or start == repair.index:
        return ""
    before = [readout_of(e) for e in order.before(repair.index, "readout")]
    known = [km for r in before if (km := r.value(ODOMETER)) is not None]
    for event in order.after(start, "readout") if known else ():
        readout = readout_of(event)
        now, since = readout.value(ODOMETER), readout.value(DISTANCE)
        if now is None or since is None or now - known[-1] - since <= far:
            continue
        return (
            f"the odometer rose by {now - known[-1]:f} km, and the vehicle counts "
            f"{since:f} km since its last clear: codes were cleared once more"
        )
    return ""


@rule("no-drive-since-clear", question=(Question.TEST_PASSED, Question.TEST_RERAN))
def no_drive(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a last readout that was taken after a clear and before any drive.

    What it checks
    Of the counts since the last clear that the last readout after a recorded clear
    holds (PID 30 warm-ups, 31 km, 4E minutes of engine run), one at least is not 0.

    Why it matters
    What the vehicle says then is that nothing has been tested yet.

    Example
    The codes are cleared in the bay, and the readout is taken with the key on.

    What to do
    Drive until the test has run, then capture again.
    """
    repair, start = order.last_repair, order.proof_starts
    if repair is None or start is None or start == repair.index:
        return
    for event in order.after(start, "readout")[-1:]:
        readout = readout_of(event)
        counts = [readout.value(i) for i in (WARM_UPS, DISTANCE, MINUTES)]
        read = [count for count in counts if count is not None]
        if read and not any(read):
            for question in (Question.TEST_PASSED, Question.TEST_RERAN):
                yield Problem(
                    "the last readout was taken before any drive since the clear",
                    "drive until the test has run, then capture again",
                    event.index,
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
    )
