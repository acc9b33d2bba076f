"""When, and by whose hand, the cautions were written down that steps rest on. Pure."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import TYPE_CHECKING

from auditkit.order.hazards import CLOCKS
from auditkit.order.on_behalf import whose_word
from auditkit.order.strength import Strength

if TYPE_CHECKING:
    from auditkit.order.events import Event, RepairOrder
    from auditkit.order.hazards import Called


def how_acknowledged(
    order: RepairOrder, called: Iterable[Called]
) -> tuple[str, Strength | None]:
    """Return what is to be said of acknowledged cautions, and the most they show.

    Second-hand where somebody signed for whoever acknowledged one, or did the step.
    """
    rest: dict[int, Event] = {}
    late: dict[int, bool] = {}
    for one in called:
        rest[one.step.index] = one.step
        if one.seen is not None:
            rest[one.seen.index] = one.seen
            late[one.seen.index] = late.get(one.seen.index, False) or _is_late(
                order, one
            )
    word = whose_word(order, [rest[place] for place in sorted(rest)])
    said = (
        _how_many(len(order.of("caution"))),
        _order_of_writing(order, late),
        f"on {word}" if word else "",
    )
    return "; ".join(filter(None, said)), Strength.SECOND_HAND if word else None


def _how_many(cautions: int) -> str:
    if not cautions:
        return "no step so far calls for one"
    if cautions == 1:
        return "1 caution was acknowledged before its step"
    return f"{cautions} cautions were acknowledged before their steps"


def _is_late(order: RepairOrder, called: Called) -> bool:
    """Return whether a caution was recorded when its step had begun."""
    if called.seen is None or called.seen.index >= len(order.recorded):
        return False
    recorded = datetime.fromisoformat(order.recorded[called.seen.index])
    return recorded - called.begins > CLOCKS


def _order_of_writing(order: RepairOrder, late: dict[int, bool]) -> str:
    if not late:
        return ""
    if not order.recorded:
        return "in the order that the record claims; it lies in no log yet"
    many = sum(late.values())
    if not many:
        return ""
    of = "all" if many == len(late) else f"{many} of them"
    return f"{of} recorded when the step had begun: before it by the shop's word"
