"""A repair order as the log holds it, ready to be judged: with all that lies beside."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

from auditkit.log import reading
from auditkit.log.logged_order import LoggedEvent, without_verdicts
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
        return without_verdicts(self.lines)

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
        signers=[line.signed_by for line in made.events],
        pictures={**_kept_pictures(log, events), **looked_at(pictures)},
    )
    others = reading.others(log, order, lines, sound)
    found = elsewhere(
        order,
        partial(reading.other_holder, log, sound=sound),
        partial(_of_vehicle, log, order, others, sound),
        partial(reading.first_holder, log, sound=sound),
    )
    return replace(made, order=replace(order, elsewhere=found, others=others))


def _of_vehicle(
    log: OpenLog, order: RepairOrder, others: Sequence[RepairOrder], sound: SoundRows
) -> frozenset[str]:
    """Return every order of an order's vehicle, also those begun since it closed."""
    known = {one.id for one in others}
    return frozenset(known).union(
        *(reading.holders(log, VIN, vin, sound) for vin in order.vins)
    )


def elsewhere(
    order: RepairOrder,
    other_holder: Callable[[str, str, Collection[str]], str | None],
    of_vehicle: Callable[[], Collection[str]],
    first_holder: Callable[[str, str], str | None] = lambda *_: None,
) -> dict[str, str]:
    """Return digest of an order -> another repair order that holds the same.

    ``other_holder`` gives an order with a mark, by its kind and value (see ``marks``),
    that is none of some; ``of_vehicle`` gives those of the same vehicle, which may have
    typed values alike. ``first_holder`` gives who had a mark first: a readout or values
    that others copied from this order are no fault of it.
    """
    asked = [
        *((SAID, digest) for digest in order.readouts),
        *((LIVE, digest) for digest in order.lives),
        *((ALIKE, digest) for digest in order.alike),
    ]
    asked = [(kind, d) for kind, d in asked if first_holder(kind, d) != order.id]
    asked += ((FILE, digest) for digest in order.attached)
    may_have = {order.id}
    alike = may_have.union(of_vehicle()) if (ALIKE in dict(asked)) else may_have
    found = {
        digest: other_holder(kind, digest, alike if kind == ALIKE else may_have)
        for kind, digest in asked
    }
    return {digest: name for digest, name in found.items() if name is not None}


def _kept_pictures(
    log: OpenLog, events: Sequence[Mapping[str, Json]]
) -> dict[str, str]:
    """Return what ``looked_at`` says of the bytes that lie beside the log."""
    named = [found.sha256 for found in map(attached_file, events) if found is not None]
    said = {digest: log.attachments.said_of(digest, looked_at_one) for digest in named}
    return {digest: why for digest, why in said.items() if why is not None}
