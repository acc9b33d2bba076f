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
    Parameters,
    Problem,
    RepairOrder,
    Rule,
    Severity,
    hookimpl,
    in_use,
    quantity,
    readouts_of,
    rule,
)

_MILE = Decimal("1.609344")
"""Kilometres in an international mile, exact (NIST Special Publication 811)."""


@rule("count-went-back")
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
            if back and not order.is_reprogrammed:
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


@rule("counts-since-clear-contradict", severity=Severity.ADVISORY)
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


@hookimpl
def rules() -> Iterable[Rule]:
    """Return the rules of this file."""
    return (
        went_back,
        contradict,
    )
