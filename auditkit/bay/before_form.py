"""What a person is told before a step's form: what is so, what still waits. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

from auditkit.bay.after_repair import NO_FRAME, asked_for_frame, to_wait_for
from auditkit.bay.so_far import SuspectState
from auditkit.order.why_not_run import reasons_of_order
from auditkit.output.why_not_run_lines import reason_lines

if TYPE_CHECKING:
    from auditkit.bay.so_far import SoFar

_NOT_SHOWN = {SuspectState.UNTESTED, SuspectState.UNDECIDED, SuspectState.GOOD}
_READS = {"readout"}
_CHANGES = {"repair", "code_clear"}


def told_before(kind: str, found: SoFar, said: Mapping[str, str]) -> tuple[str, ...]:
    """Return lines to read before a form of a kind is filled; none for most."""
    told = {"repair": _repair, "code_clear": _clear, "road_test": _drive}.get(kind)
    return tuple(told(found, said)) if told else ()


def _repair(found: SoFar, said: Mapping[str, str]) -> Iterator[str]:
    part = said.get("part", "")
    for fault in found.faults:
        for suspect in fault.suspects:
            if suspect.part.id == part and suspect.state in _NOT_SHOWN:
                yield (
                    f"{suspect.part.name or part}: {suspect.state}, so it is not shown "
                    f"to be at fault for {fault.fault.code}. Test it before it is "
                    "touched; or go on, and it stays not shown."
                )


def _clear(found: SoFar, _: Mapping[str, str]) -> Iterator[str]:
    """Say whether the vehicle was read since it was last changed."""
    events = [e for e in found.order.events if e.kind in {*_READS, *_CHANGES}]
    is_unread = goes_unread(found)
    if not any(e.kind in _READS for e in events):
        yield (
            "Read the vehicle first: a clear wipes codes, freeze frame and self-tests, "
            "and what they said is then shown by nothing."
        )
    elif events[-1].kind in _READS:
        at = events[-1].text("captured")[11:16]
        fine = "" if is_unread else " It is fine to clear."
        yield f"The readout of {at} is kept.{fine}"
    else:
        now = "" if is_unread else ": clear it now"
        yield f"The vehicle was read before the work, and that is kept{now}."
    if is_unread:
        yield NO_FRAME
    yield "A battery that was disconnected clears too: write that as what cleared it."


def goes_unread(found: SoFar) -> bool:
    """Return whether a clear may wipe a freeze frame that raw data could still keep."""
    order = found.order
    reads = [e for e in order.of("readout") if e.text("raw")]
    return bool(reads) and not order.of("code_clear") and not asked_for_frame(order)


def _drive(found: SoFar, _: Mapping[str, str]) -> Iterator[str]:
    """Say which conditions of the vehicle's own tests still wait."""
    reads, clears = found.order.of("readout"), found.order.of("code_clear")
    if not reads:
        return
    if clears and clears[-1].index > reads[-1].index:
        yield (
            "Codes were cleared since the vehicle was read last: each of its own tests "
            "has to run again."
        )
        yield from to_wait_for(found)
    else:
        yield from reason_lines(reasons_of_order(found.order))
