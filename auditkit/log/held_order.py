"""A repair order as the log holds it, ready to be judged: with all that lies beside."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

from auditkit.log import reading
from auditkit.log.logged_order import LoggedEvent
from auditkit.log.marks import ALIKE, FILE, LIVE, SAID, VIN
from auditkit.log.open_log import OpenLog
from auditkit.order.events import RepairOrder
from auditkit.order.photographs import looked_at
from auditkit.proof.attached import attached_file
from auditkit.text.values import Json


@dataclass(frozen=True, slots=True)
class HeldOrder:
    """A repair order with the entries that hold it, verdicts among them.

    ``order`` may have events at its end that no entry holds yet.
    """

    order: RepairOrder
    lines: tuple[LoggedEvent, ...]

    @property
    def events(self) -> tuple[LoggedEvent, ...]:
        """The entries of its events, in order: verdicts left out."""
        return tuple(e for e in self.lines if e.event.get("kind") != "verdict")

    @property
    def verdict(self) -> Mapping[str, Json] | None:
        """The verdict, where the last entry is one: the order is closed."""
        last = self.lines[-1].event if self.lines else {}
        return last if last.get("kind") == "verdict" else None


def held(
    log: OpenLog,
    order_id: str,
    new: Sequence[Mapping[str, Json]] = (),
    pictures: Mapping[str, bytes] | None = None,
) -> HeldOrder:
    """Return an order as the log holds it, with events that are to be recorded now.

    None is in it where the log does not know the order. ``pictures`` are the bytes of
    new attachments, by SHA-256 in hex.
    """
    lines = reading.logged_events(log, order_id)
    made = HeldOrder(RepairOrder(order_id, ()), lines)
    events = [line.event for line in made.events] + [dict(event) for event in new]
    recorded = [line.recorded_at for line in made.events]
    recorded += [log.at()] * len(new)
    order = RepairOrder.fold(
        order_id,
        events,
        recorded=recorded,
        pictures=looked_at(_pictures(log, events, pictures or {})),
    )
    others = reading.others(log, order)
    found = elsewhere(
        order,
        partial(reading.holders, log),
        {one.id for one in others},
        partial(reading.first_holder, log),
    )
    return replace(made, order=replace(order, elsewhere=found, others=others))


def elsewhere(
    order: RepairOrder,
    holders: Callable[[str, str], frozenset[str]],
    of_vehicle: Collection[str],
    first_holder: Callable[[str, str], str | None] = lambda *_: None,
) -> dict[str, str]:
    """Return digest of an order -> another repair order that holds the same.

    ``holders`` gives the orders with a mark, by its kind and value (see ``marks``);
    ``of_vehicle`` are known to be of the same vehicle, which may answer alike twice.
    ``first_holder`` gives who had a mark first: typed values that others copied from
    this order are no fault of it.
    """
    same = {other for vin in order.vins for other in holders(VIN, vin)}
    marks = {
        SAID: (order.readouts, set()),
        LIVE: (order.lives, set()),
        ALIKE: (order.alike, same.union(of_vehicle)),
        FILE: (order.attached, set()),
    }
    found = {
        digest: holders(kind, digest) - {order.id} - may_have
        for kind, (digests, may_have) in marks.items()
        for digest in digests
        if kind != ALIKE or first_holder(kind, digest) != order.id
    }
    return {digest: min(names) for digest, names in found.items() if names}


def _pictures(
    log: OpenLog,
    events: Sequence[Mapping[str, Json]],
    new: Mapping[str, bytes],
) -> dict[str, bytes]:
    named = [found.sha256 for found in map(attached_file, events) if found is not None]
    kept = {digest: log.attachments.get(digest) for digest in named}
    return {d: data for d, data in kept.items() if data is not None} | dict(new)
