"""Counts since a clear that are too few: codes were cleared once more. Pure."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from decimal import Decimal

from auditkit.obd import Readout
from auditkit.obd.parameters import DISTANCE, MINUTES, ODOMETER, WARM_UPS
from auditkit.order.events import Event, RepairOrder
from auditkit.order.faults import addressed
from auditkit.order.own_counts import own_counts
from auditkit.order.self_test_evidence import captured_at, readout_of
from auditkit.text.values import quantity

_STEP = 1
"""Kilometres of a step of PID 31 (SAE J1979): a count may lack nearly one."""
_TYPED = Decimal("0.9")
"""How much of a drive's typed distance PID 31 has to count at least: our choice."""
_AWAY = timedelta(hours=24)


def cleared_again(
    order: RepairOrder, near: int, away: int
) -> Iterator[tuple[int, str]]:
    """Yield each readout that counts too few since a clear after the last repair.

    With what it counts, in words: codes were cleared once more. It is asked by what
    each module of an addressed fault counts itself, where it does; of kilometres that
    it leaves out, by what others count. ``near`` and ``away`` are the kilometres that
    the odometer may rise by beside what is recorded, up to a day from the readout
    before the repair to the clear, and after that.
    """
    whose = dict.fromkeys(w for fault in addressed(order) for w in fault.witnesses)
    told: dict[int, str] = {}
    for who in whose or [""]:
        for index, text in _by_one(order, who, near, away):
            told.setdefault(index, text)
    yield from told.items()


def _by_one(
    order: RepairOrder, who: str, near: int, away: int
) -> Iterator[tuple[int, str]]:
    repair, first = order.last_repair, order.clear_after_repair
    if repair is None or first is None:
        return
    before = [
        (event, readout)
        for event in order.before(repair.index, "readout")
        if (readout := readout_of(event)).value(ODOMETER) is not None
    ][-1:]
    last: tuple[Event, Readout, Readout] | None = None
    for event in order.after(first.index, "readout"):
        every = readout_of(event)
        readout = own_counts(order, who, every)
        counted = every if readout.value(DISTANCE) is None else readout
        clear = order.before(event.index, "code_clear")[-1]
        told = _too_few(order, clear, event, counted)
        if last is not None and last[0].index > clear.index:
            told = told or _fell(last[1], readout)
            if counted is every:
                told = told or _fell(_heard(last[2], every), every)
        for old in before:
            most = near if clear.at - old[0].at <= _AWAY else away
            told = told or _rose_more(order, old, clear, counted, most)
        if told:
            yield event.index, f"{told}: codes were cleared once more"
        last = event, readout, every


def _heard(before: Readout, now: Readout) -> Readout:
    """Return an earlier readout with what the same modules give of the same now."""
    here = {(value.responder, value.id) for value in now.values}
    kept = (v for v in before.values if (v.responder, v.id) in here)
    return replace(before, values=tuple(kept))


def _fell(before: Readout, now: Readout) -> str:
    """Return which count since the clear fell, or rose less than the odometer."""
    for identifier, name in (
        (WARM_UPS, "warm-ups"),
        (DISTANCE, "km"),
        (MINUTES, "min of engine run"),
    ):
        was, new = before.value(identifier), now.value(identifier)
        if was is not None and new is not None and new < was:
            return (
                f"since its last clear the vehicle counted {was:f} {name}, now {new:f}"
            )
    pairs = [[r.value(i) for r in (before, now)] for i in (ODOMETER, DISTANCE)]
    (was_km, now_km), (was, new) = pairs
    if was_km is None or now_km is None or was is None or new is None:
        return ""
    if now_km - was_km - (new - was) <= _STEP:
        return ""
    return (
        f"from one readout to the next the odometer rose by {now_km - was_km:f} km, "
        f"and what the vehicle counts since its last clear by {new - was:f} km"
    )


def _too_few(order: RepairOrder, clear: Event, event: Event, readout: Readout) -> str:
    far = readout.value(DISTANCE)
    driven = _driven(order, clear.at.timestamp(), captured_at(event))
    if far is None or far + _STEP >= driven * _TYPED:
        return ""
    return (
        f"drives of {driven:f} km are recorded since the clear, and the vehicle counts "
        f"{far:f} km since its last one"
    )


def _rose_more(
    order: RepairOrder,
    old: tuple[Event, Readout],
    clear: Event,
    readout: Readout,
    most: int,
) -> str:
    was, now = old[1].value(ODOMETER), readout.value(ODOMETER)
    far = readout.value(DISTANCE)
    if was is None or now is None or far is None:
        return ""
    known = far + _STEP + _driven(order, captured_at(old[0]), clear.at.timestamp())
    if now - was - known <= most:
        return ""
    return (
        f"the odometer rose by {now - was:f} km, and the vehicle counts {far:f} km "
        "since its last clear"
    )


def _driven(order: RepairOrder, start: float, end: float) -> Decimal:
    """Return the kilometres of the drives recorded between two times (s since 1970)."""
    far = Decimal(0)
    for drive in order.of("road_test"):
        times = [drive.text(name) for name in ("start", "end")]
        reading = quantity(dict(drive.object("distance")))
        if not all(times) or reading is None or reading.unit not in {"km", "mi"}:
            continue
        left, back = (datetime.fromisoformat(time).timestamp() for time in times)
        if start <= left and back <= end:
            far += reading.kilometres
    return far
