"""What a readout holds since a clear that cannot be so if all went as is told. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from decimal import Decimal
from itertools import pairwise
from math import exp

from auditkit.obd import in_use
from auditkit.obd.parameters import (
    DISTANCE,
    LAMP_DISTANCE,
    LAMP_MINUTES,
    MINUTES,
    ODOMETER,
    WARM_UPS,
)
from auditkit.obd.readout import Readout
from auditkit.order.events import RepairOrder
from auditkit.order.self_test_evidence import captured_at, readout_of, readouts_of

_FREEZE_FRAME = frozenset({("02", "02"), ("01", "02")})
_LAMP = frozenset({("01", LAMP_DISTANCE), ("01", LAMP_MINUTES)})
_FASTEST = 250  # km/h
_COOLANT, _LEAST = "05", -40  # degC
_WARM_UP = 10  # minutes
_STARTS, _APART = 10, Decimal("1.1")
_BY_MAINS = 200  # km that a vehicle may drive on a charge, or two: our choice
_WARMED, _AIR, _COLDER = 60, -20, 60  # degC, degC, minutes to a 1/e of the difference


def more_than_passed(order: RepairOrder) -> Iterator[tuple[int, str]]:
    """Yield each readout that counts more since a recorded clear than can have been."""
    for event, readout in readouts_of(order):
        clears = order.before(event.index, "code_clear")
        if not clears:
            continue
        clear = clears[-1]
        passed = (captured_at(event) - clear.at.timestamp()) / 60
        ran = readout.value(MINUTES)
        far = passed * _FASTEST / 60 + 1
        by_engine = far if ran is None else float(ran) * _FASTEST / 60 + _BY_MAINS
        old = [readout_of(e) for e in order.before(clear.index, "readout")]
        told = [
            f"{found:f} {name}"
            for identifier, name, most in (
                (MINUTES, "min of engine run", passed + 1),
                (DISTANCE, "km", far),
                (DISTANCE, f"km, by {ran} min of engine run,", by_engine),
                (WARM_UPS, "warm-ups", passed / _WARM_UP + 1),
            )
            if (found := readout.value(identifier)) is not None and found > most
        ]
        for text in told:
            told_of = f"{passed:.0f} min after the clear the vehicle counts {text}"
            yield event.index, f"{told_of} since it"
        starts = _starts(old[-1:], readout)
        warm = readout.value(WARM_UPS)
        if starts and warm is not None and warm > starts + 1:
            text = f"{warm:f} warm-ups since it, and {starts} ignition cycles in all"
            yield event.index, f"from before the clear the vehicle counts {text}"


def cooled_too_soon(order: RepairOrder) -> Iterator[tuple[int, str]]:
    """Yield each readout whose coolant is colder than it can have become.

    Since a recorded clear a warm-up was counted (PID 30), which ends at 60 degC or more
    (22 K above its start and 71 degC, on compression ignition 60, from memory), and the
    engine stood for no longer than the rest of the time (PID 4E). Then, in air of
    -20 degC, the difference falls to 1/e in an hour: our choice, and quick for any
    engine. What reads the end of its scale is no temperature.
    """
    for event, readout in readouts_of(order):
        clears = order.before(event.index, "code_clear")
        ran, found = readout.value(MINUTES), readout.value(_COOLANT)
        if not clears or ran is None or found is None or found <= _LEAST:
            continue
        if not readout.value(WARM_UPS):
            continue
        passed = (captured_at(event) - clears[-1].at.timestamp()) / 60
        stood = max(passed - float(ran), 0) + 1
        least = _AIR + (_WARMED - _AIR) * exp(-stood / _COLDER)
        if found < least:
            told = f"{passed:.0f} min after the clear, {ran:f} of them with the engine "
            told += f"running and warmed up, the coolant is at {found:f} degC"
            yield event.index, told


def more_than_between(order: RepairOrder) -> Iterator[tuple[int, str]]:
    """Yield each readout that counts more since the one before it than can have been.

    Where no clear is recorded between them: kilometres since the last clear (PID 31)
    beyond a tenth, and 1 km, more than the odometer rose. In any case: more starts than
    one a minute, and ten (all our choice: cluster and module measure apart, and a
    workshop starts an engine again and again); none where it was repaired and driven.
    """
    for (old, was), (event, now) in pairwise(readouts_of(order)):
        passed = (captured_at(event) - captured_at(old)) / 60
        starts = _starts([was], now)
        if starts > passed + _STARTS:
            told = f"{starts} ignition cycles in {passed:.0f} min"
            yield event.index, f"from one readout to the next the vehicle counts {told}"
        far, road = (_rise(was, now, name) for name in (DISTANCE, ODOMETER))
        was_repaired = bool(order.between(old.index, event.index, "repair"))
        if road and road >= 1 and was_repaired and _never_started(was, now):
            told = f"{road:f} km, over a repair, and not one ignition cycle"
            yield event.index, f"from one readout to the next the vehicle counts {told}"
        is_cleared = bool(order.between(old.index, event.index, "code_clear"))
        if far is None or road is None or is_cleared:
            continue
        if far > road * _APART + 1:
            told = f"{far:f} km since the last clear, and the odometer {road:f} km"
            yield event.index, f"from one readout to the next the vehicle counts {told}"


def _rise(before: Readout, now: Readout, identifier: str) -> Decimal | None:
    was, new = before.value(identifier), now.value(identifier)
    return None if was is None or new is None else new - was


def _starts(before: Iterable[Readout], now: Readout) -> int:
    """Return how far the ignition counter rose; 0 where it is not known, or stood."""
    old = {
        c.responder: c.count
        for readout in before
        for c in readout.counters
        if c.name == in_use.IGNITION
    }
    rises = [
        in_use.rise(old[c.responder], c.count) or 0
        for c in now.counters
        if c.name == in_use.IGNITION and c.responder in old
    ]
    return max(rises, default=0)


def _never_started(was: Readout, now: Readout) -> bool:
    """Return whether ignition cycles were counted in both, and none between them."""
    old, new = (
        {c.responder: c.count for c in one.counters if c.name == in_use.IGNITION}
        for one in (was, now)
    )
    return bool(old) and old == new


def kept_since_clear(
    readout: Readout, who: str, code: str, *, counts_lamp: bool
) -> str:
    """Return what a module keeps that a clear empties and a failure fills.

    The code's freeze frame (ISO 15031-5:2006 7.4.1), by service 02 or PID 02, and,
    where ``counts_lamp`` and its lamp is off, km or minutes with the lamp on (PIDs 21
    and 4D, from memory). Empty ``who`` stands for any module; the answer is empty where
    it keeps neither.
    """
    is_dark = not any(on for name, on in readout.mil if not who or name == who)
    for value in readout.values:
        if who and value.responder != who:
            continue
        place = (value.service, value.id)
        if place in _FREEZE_FRAME and str(value.meaning) == code:
            return f"keeps a freeze frame of {code}"
        if place in _LAMP and value.value and is_dark and counts_lamp:
            return f"counts {value.value:f} {value.unit} with the lamp on"
    return ""
