"""Whether a vehicle's counts went on since the hand-over, stood, or fell. Pure."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from auditkit.inspection.standing import SaidBeside, Standing
from auditkit.obd import Readout
from auditkit.obd.in_use import rise
from auditkit.obd.monitors import CONTINUOUS, SINCE_CLEAR, monitor_in_words
from auditkit.obd.parameters import DISTANCE, MINUTES, ODOMETER, WARM_UPS
from auditkit.obd.responders import module_in_words
from auditkit.obd.transcript import UNKNOWN

_NAMES = {
    WARM_UPS: "warm-ups since the clear",
    DISTANCE: "km since the clear",
    MINUTES: "minutes of engine run since the clear",
    ODOMETER: "km on the odometer",
}
_ENDS = {WARM_UPS: Decimal(255), DISTANCE: Decimal(65535), MINUTES: Decimal(65535)}
"""A count since the clear -> the end at which it stays (from memory)."""
_APART = Decimal("1.1")  # cluster and module measure apart: our choice
_ASK_CLEAR = (
    "ask who cleared the codes, and why; let the vehicle be driven until its monitors "
    "have run, and read it again: until then this says nothing for or against the "
    "repair"
)
_OTHERS = "ask whether a module or the cluster was changed; if none, read again"

Counts = dict[tuple[str, str], tuple[Decimal, Decimal]]
"""Module and PID -> what it counted then, and counts now."""


def cleared_since(then: Readout, now: Readout) -> Iterator[SaidBeside]:
    """Yield what shows that a clear, or a loss of memory, lies in between."""
    if reasons := list(_reasons(then, now)):
        yield SaidBeside(
            Standing.CLEARED,
            "codes were cleared since the hand-over, or a module lost its memory (its "
            f"battery was off): {'; '.join(reasons)}",
            _ASK_CLEAR,
        )


def _reasons(then: Readout, now: Readout) -> Iterator[str]:
    if now.cleared:
        yield "a clear is answered within today's readout"
    for (who, pid), (was, is_) in _both(then, now).items():
        if pid in _ENDS and is_ < was:
            yield f"{_named(who)} counts {is_:f} {_NAMES[pid]}, and {was:f} then"
    far, road = _rise(then, now, DISTANCE), _rise(then, now, ODOMETER)
    stays = now.value(DISTANCE) == _ENDS[DISTANCE]
    if (
        far is not None
        and road is not None
        and not stays
        and 0 <= far * _APART + 1 < road
    ):
        yield f"the odometer rose by {road:f} km, and the km since the clear by {far:f}"
    done = {
        (m.responder, m.monitor)
        for m in then.monitors
        if m.cycle == SINCE_CLEAR and m.complete and m.monitor not in CONTINUOUS
    }
    for one in now.monitors:
        waits = one.cycle == SINCE_CLEAR and one.supported and not one.complete
        if waits and (one.responder, one.monitor) in done:
            who = module_in_words(one.responder)
            name = monitor_in_words(one.monitor)
            yield f"{name} of {who} was complete then, and is not now"


def counts_since(
    then: Readout, now: Readout, *, is_cleared: bool
) -> Iterator[SaidBeside]:
    """Yield which counts went on, and which fell that no clear sets back."""
    both = _both(then, now)
    for (who, pid), (was, is_) in both.items():
        if pid == ODOMETER and is_ < was:
            told = f"{_named(who)} counts {is_:f} {_NAMES[pid]}, and {was:f} then"
            yield SaidBeside(Standing.ASK, told, _OTHERS)
    yield from _in_use(then, now)
    far, road = _rise(then, now, DISTANCE), _rise(then, now, ODOMETER)
    if far is not None and road is not None and 0 <= road * _APART + 1 < far:
        told = (
            f"the km since the clear rose by {far:f}, and the odometer by {road:f} km"
        )
        yield SaidBeside(Standing.ASK, told, _OTHERS)
    if is_cleared:
        return
    risen = [
        f"{is_ - was:f} {_NAMES[pid]} ({_named(who)})"
        for (who, pid), (was, is_) in both.items()
        if is_ > was
    ]
    if risen:
        yield SaidBeside(
            Standing.HOLDS, f"went on since the hand-over: {', '.join(risen)}"
        )
    elif any(is_ != _ENDS.get(pid) for (_, pid), (_, is_) in both.items()):
        yield SaidBeside(
            Standing.UNDECIDED,
            "no count went on since the hand-over: nothing was driven, or this was not "
            "read from the vehicle today",
            "let it be driven, and read it again",
        )
    else:
        yield SaidBeside(
            Standing.UNDECIDED,
            "no count that could go on was read both times",
            "read PIDs 30, 31, 4E and A6 of service 01",
        )


def _in_use(then: Readout, now: Readout) -> Iterator[SaidBeside]:
    old = {(c.responder, c.name): c.count for c in then.counters}
    for one in now.counters:
        was = old.get((one.responder, one.name))
        if was is not None and rise(was, one.count) is None:
            yield SaidBeside(
                Standing.ASK,
                f"{module_in_words(one.responder)} counts {one.name} {one.count}, and "
                f"{was} then: a clear leaves this, and only a full count begins anew "
                "(from memory)",
                _OTHERS,
            )


def _both(then: Readout, now: Readout) -> Counts:
    """Return what was counted both times: by a module, else by any that is unnamed.

    What was typed off a display names no module.
    """
    found: Counts = {}
    for pid in _NAMES:
        old, new = (
            {
                v.responder: v.value
                for v in readout.values
                if (v.service, v.id) == ("01", pid) and v.value is not None
            }
            for readout in (then, now)
        )
        if named := old.keys() & new.keys() - {UNKNOWN}:
            found |= {(who, pid): (old[who], new[who]) for who in sorted(named)}
        elif old and new:
            found[UNKNOWN, pid] = max(old.values()), max(new.values())
    return found


def _named(who: str) -> str:
    return "the vehicle" if who == UNKNOWN else module_in_words(who)


def _rise(then: Readout, now: Readout, pid: str) -> Decimal | None:
    was, is_ = then.value(pid), now.value(pid)
    return None if was is None or is_ is None else is_ - was
