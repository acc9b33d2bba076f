"""What a closed order shows: nothing in it comes later, or is told to be done. Pure."""

from __future__ import annotations

from dataclasses import replace

from auditkit.bay.so_far import Asked, FaultSoFar, SoFar
from auditkit.order.questions import State

_NOT_REPAIRED = "nothing was repaired"


def as_closed(found: SoFar) -> SoFar:
    """Return an order so far as one that was closed, and waits for nothing.

    Where no part was worked on, what would come after the repair is not shown, and
    nothing is left to do before one.
    """
    if found.order.last_repair is not None:
        return found
    return replace(
        found,
        faults=tuple(_fault(one) for one in found.faults),
        asked=tuple(map(_ended, found.asked)),
    )


def _fault(one: FaultSoFar) -> FaultSoFar:
    return replace(one, asked=tuple(map(_ended, one.asked)))


def _ended(asked: Asked) -> Asked:
    """Return a question whose time does not come any more."""
    answer = asked.answer
    if asked.later:
        because = (_NOT_REPAIRED,)
        answer = replace(answer, state=State.NOT_SHOWN, because=because)
    return Asked(replace(answer, what_to_do=()))


def going_on_lines(order_id: str) -> list[str]:
    """Return how an order that was closed, and is not proven, is gone on with."""
    return [
        "What was missing can still be added, and the order closed again:",
        f"    auditkit add {order_id} KIND",
        f"    auditkit close {order_id}",
    ]
