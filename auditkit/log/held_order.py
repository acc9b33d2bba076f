"""A repair order as the log holds it, ready to be judged: with all that lies beside."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

from auditkit.log import reading
from auditkit.log.logged_order import LoggedEvent
from auditkit.log.marks import ALIKE, FILE, LIVE, SAID, VIN
from auditkit.log.open_log import OpenLog
from auditkit.log.sound_rows import SoundRows
from auditkit.order.events import RepairOrder
from auditkit.order.photographs import looked_at, looked_at_one
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
    with log.store.snapshot():
        return _held(log, order_id, new, pictures or {}, SoundRows(log))


def _held(
    log: OpenLog,
    order_id: str,
    new: Sequence[Mapping[str, Json]],
    pictures: Mapping[str, bytes],
    sound: SoundRows,
) -> HeldOrder:
    lines = reading.logged_events(log, order_id, sound)
    made = HeldOrder(RepairOrder(order_id, ()), lines)
    events = [line.event for line in made.events] + [dict(event) for event in new]
    recorded = [line.recorded_at for line in made.events]
    recorded += [log.at()] * len(new)
    order = RepairOrder.fold(
        order_id,
        events,
        recorded=recorded,
        pictures={**_kept_pictures(log, events), **looked_at(pictures)},
    )
    others = reading.others(log, order, lines, sound)
    found = elsewhere(
        order,
        partial(reading.holders, log, sound=sound),
        {one.id for one in others},
        partial(reading.first_holder, log, sound=sound),
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


def _kept_pictures(
    log: OpenLog, events: Sequence[Mapping[str, Json]]
) -> dict[str, str]:
    """Return what ``looked_at`` says of the bytes that lie beside the log."""
    named = [found.sha256 for found in map(attached_file, events) if found is not None]
    said = {digest: log.attachments.said_of(digest, looked_at_one) for digest in named}
    return {digest: why for digest, why in said.items() if why is not None}
