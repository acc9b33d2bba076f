"""What somebody recorded for another: the entry names one person, and another signed.

Whoever does a step signs it; where somebody else does, an entry shows what the signer
says of the other, no more. An assistant may type for a technician, and a record may
be handed over whole under one key: nothing is refused for it. What vehicles sent, and
what was typed from a display, is as strong by any hand; a measurement counts as
typed, since who signed did not make it, and an acknowledgement as second-hand. Pure.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

from auditkit.order.event_text import event_name
from auditkit.order.events import Event

if TYPE_CHECKING:
    from auditkit.order.events import RepairOrder

_NAMED = 3  # events that a line names


def signed_for(order: RepairOrder, event: Event) -> tuple[str, ...]:
    """Return who else than the one that did an event signed what it says.

    Its own entry, or the correction whose text it is. Where no log holds them, each
    counts as signed by the person that it names.
    """
    places = (event.index, event.amended_by)
    signers = (_signer(order, place) for place in places if place is not None)
    return tuple(dict.fromkeys(one for one in signers if one != event.by))


def _signer(order: RepairOrder, place: int) -> str:
    if place < len(order.signers):
        return order.signers[place]
    return _written(order.events[place]).by


def _written(event: Event) -> Event:
    return event if event.recorded is None else Event(event.index, event.recorded)


def whose_word(order: RepairOrder, events: Iterable[Event]) -> str:
    """Return on whose word events rest that others did; empty where on nobody else's.

    Such as "mechanic-1's word for mechanic-2 (repair of egr-valve)".
    """
    told: dict[tuple[str, str], list[Event]] = {}
    for event in events:
        for signer in signed_for(order, event):
            told.setdefault((signer, event.by), []).append(event)
    return "; ".join(
        f"{signer}'s word for {by} ({_names(those)})"
        for (signer, by), those in told.items()
    )


def on_behalf_lines(order: RepairOrder) -> Iterator[str]:
    """Yield a line for each two people of whom one signed what the other did."""
    told: dict[tuple[str, str], list[Event]] = {}
    for place in range(len(order.events)):
        event = _written(order.events[place])
        if (signer := _signer(order, place)) != event.by:
            told.setdefault((signer, event.by), []).append(event)
    for (signer, by), events in told.items():
        yield f"Recorded by {signer} for {by}, who did not sign: {_names(events)}."


def _names(events: Iterable[Event]) -> str:
    names = [event_name(event) for event in events]
    more = len(names) - _NAMED
    return ", ".join(names[:_NAMED]) + (f" and {more} more" if more > 0 else "")
