"""What the log holds: its repair orders, and one of them event by event."""

from __future__ import annotations

import heapq
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence

from auditkit.errors import AuditkitError, InputError, LogError
from auditkit.log.logged_order import (
    LoggedEvent,
    LoggedOrder,
    OrderLine,
    altered_line,
    held_attachment,
    held_texts,
    new_events,
    order_line,
    without_verdicts,
)
from auditkit.log.marks import DAY, VIN, marks_of
from auditkit.log.open_log import OpenLog
from auditkit.log.sound_rows import SoundRows
from auditkit.obd.vin import is_well_formed
from auditkit.order.events import RepairOrder
from auditkit.order.record import Record
from auditkit.proof import disclosure
from auditkit.proof.row import Row
from auditkit.text.display_text import nearest

_AROUND = 20  # repair orders that a misspelt one is compared with on each side


def orders(  # noqa: PLR0913  each is one way to look for them
    log: OpenLog,
    *,
    starts: str = "",
    vin: str = "",
    day: str = "",
    only_open: bool = False,
    most: int | None = None,
) -> tuple[OrderLine, ...]:
    """Return a line for each repair order that fits, in order of their first entry.

    ``starts`` is how its id begins, ``vin`` how a VIN ends that it states or that was
    read, ``day`` a date (YYYY-MM-DD) on which it was opened, or the vehicle read or
    repaired. ``only_open`` are those without a verdict, or with one that waits for a
    later readout. ``most`` are returned, those begun last.
    """
    sets = [_with_vin(log, vin.strip().upper())] if vin else []
    sets += [holders(log, DAY, day)] if day else []
    if sets:
        fit = (i for i in sets[0].intersection(*sets[1:]) if i.startswith(starts))
        ids = set(fit if only_open or most is None else _newest(log, fit, most))
    else:
        ids = set(log.store.pointers.newest_orders(most, starts, only_open=only_open))
    with log.store.snapshot():
        sound = SoundRows(log)
        lines = [line for i in ids if (line := _line(log, i, sound)) is not None]
    if only_open:
        lines = [line for line in lines if line.verdict is None or line.waiting]
    lines.sort(key=lambda line: line.first_seq)
    return tuple(lines[-most:] if most else lines)


def _newest(log: OpenLog, ids: Iterable[str], most: int) -> list[str]:
    """Return the ids of the repair orders begun last, by where they are said to lie."""
    rows = filter(None, map(log.store.pointers.order, ids))
    return [row[0] for row in heapq.nlargest(most, rows, key=lambda row: row[1])]


def _line(log: OpenLog, order_id: str, sound: SoundRows) -> OrderLine | None:
    """Return a repair order in a line; one that cannot be believed says just so."""
    rows = log.store.order_rows(order_id)
    if not rows:
        return None
    try:
        return order_line(
            LoggedOrder(order_id, _logged_all(log, order_id, rows, sound))
        )
    except AuditkitError as error:
        return altered_line(order_id, [row.entry.seq for row in rows], error.message)


def entries_of_form(log: OpenLog, order_id: str, form: str) -> tuple[int, ...]:
    """Return the entries of a repair order that a form made, if any."""
    return tuple(line.seq for line in logged_events(log, order_id) if line.form == form)


def show(log: OpenLog, order_id: str) -> LoggedOrder:
    """Return a repair order's events; raise InputError where there is none."""
    events = logged_events(log, order_id)
    if not events:
        known = log.store.pointers
        some = known.orders_near(order_id, _AROUND) + known.newest_orders(_AROUND)
        near = nearest(order_id, tuple(dict.fromkeys(some)), 3)
        raise InputError(
            f"the log holds no repair order {order_id!r}",
            where=str(log.store.path),
            what_to_do=f"did you mean {', '.join(near)}?"
            if near
            else "see 'auditkit list'",
        )
    return LoggedOrder(order_id, events)


def logged_events(
    log: OpenLog, order_id: str, sound: SoundRows | None = None
) -> tuple[LoggedEvent, ...]:
    """Return a repair order's events, none where the log does not know it.

    Each is held against its signature and its place in the log; LogError where one is
    not as it was signed. ``sound`` is of this state of the log, within a snapshot.
    """
    with log.store.snapshot():
        rows = log.store.order_rows(order_id)
        if not rows:
            return ()
        return _logged_all(log, order_id, rows, sound or SoundRows(log))


def _logged_all(
    log: OpenLog, order_id: str, rows: Iterable[Row], sound: SoundRows
) -> tuple[LoggedEvent, ...]:
    kept: dict[int, dict[str, str]] = {}
    for seq, digest, text in log.store.disclosures_of(order_id):
        kept.setdefault(seq, {})[digest] = text
    return tuple(_logged(log, row, sound, kept.get(row.entry.seq, {})) for row in rows)


def recorded_at(log: OpenLog, order_id: str) -> tuple[str, ...]:
    """Return when each event of a repair order was recorded, verdicts left out."""
    lines = without_verdicts(logged_events(log, order_id))
    return tuple(line.recorded_at for line in lines)


def signed_by(log: OpenLog, order_id: str) -> tuple[str, ...]:
    """Return who signed each event of a repair order, verdicts left out."""
    lines = without_verdicts(logged_events(log, order_id))
    return tuple(line.signed_by for line in lines)


def refuse_altered(log: OpenLog, record: Record) -> None:
    """Raise InputError where a record has an event otherwise than the log holds it."""
    new_events(record, logged_events(log, record.repair_order))


def _logged(
    log: OpenLog, row: Row, sound: SoundRows, kept: Mapping[str, str]
) -> LoggedEvent:
    proven = sound.prove(row)
    payload = proven.payload
    given = tuple(t for t in kept.values() if not disclosure.is_decoy(t))
    try:
        event, hidden = proven.reveal(given)
    except AuditkitError as error:
        raise LogError(
            f"a text kept for entry {payload.seq} is not the one that was sealed: "
            f"{error.message}",
            where=str(log.store.path),
            what_to_do=f"run 'auditkit verify {log.store.path}', and restore it from a "
            "backup",
        ) from error
    return LoggedEvent(
        row.entry.seq,
        payload.recorded_at,
        payload.by,
        event,
        hidden,
        held_texts(proven.places(), kept, log.ring.erased) if payload.withheld else (),
        held_attachment(event, log.attachments, log.ring.erased_attachments),
        payload.form,
    )


def holders(
    log: OpenLog, kind: str, value: str, sound: SoundRows | None = None
) -> frozenset[str]:
    """Return the repair orders with an event that bears a mark (see ``marks``).

    The table only points: each entry is opened, held against its signature and its
    place, and its mark made anew. ``sound`` is as for ``logged_events``.
    """
    pointed = log.store.pointers.marked(kind, value)
    return frozenset(_bearing(log, kind, ((value, seq) for seq in pointed), sound))


def other_holder(
    log: OpenLog,
    kind: str,
    value: str,
    but: Collection[str],
    sound: SoundRows | None = None,
) -> str | None:
    """Return the repair order that bore a mark first but for some, None without one.

    However many bear it, no more entries are opened than it takes to find one.
    """
    pointed = ((value, seq) for seq in log.store.pointers.marked(kind, value, but))
    found = _bearing(log, kind, pointed, sound)
    return next((order for order in found if order not in but), None)


def _with_vin(log: OpenLog, end: str) -> frozenset[str]:
    """Return the repair orders with an event that states a VIN that ends so."""
    if is_well_formed(end):
        return holders(log, VIN, end)
    pointed = log.store.pointers.marked_at_the_end(VIN, end)
    return frozenset(_bearing(log, VIN, pointed))


def first_holder(
    log: OpenLog, kind: str, value: str, sound: SoundRows | None = None
) -> str | None:
    """Return the repair order that bore a mark first, None where none does."""
    pointed = log.store.pointers.marked(kind, value)
    return next(_bearing(log, kind, ((value, seq) for seq in pointed), sound), None)


def _bearing(
    log: OpenLog,
    kind: str,
    pointed: Iterable[tuple[str, int]],
    sound: SoundRows | None = None,
) -> Iterator[str]:
    """Yield the repair order of each entry that bears the mark that points to it."""
    for value, seq in pointed:
        row = log.store.row(seq)
        if row is None:
            continue
        sound = sound or SoundRows(log)
        payload = sound.read(row)
        is_marked = (kind, value) in marks_of(payload.event)
        if payload.repair_order is not None and is_marked:
            yield payload.repair_order


def others(
    log: OpenLog,
    order: RepairOrder,
    own: Sequence[LoggedEvent] | None = None,
    sound: SoundRows | None = None,
) -> tuple[RepairOrder, ...]:
    """Return the other repair orders of an order's vehicle, by its VINs.

    Of each what was written down before the log had this one as it is closed now: what
    came later nobody could know then. ``own`` are its events, where they are at hand;
    ``sound`` is as for ``logged_events``.
    """
    own = logged_events(log, order.id, sound) if own is None else own
    is_closed = bool(own) and own[-1].event.get("kind") == "verdict"
    until = own[-1].seq if is_closed else None
    ids = {other for vin in order.vins for other in holders(log, VIN, vin, sound)}
    ids.discard(order.id)
    found = []
    for other in sorted(ids):
        lines = logged_events(log, other, sound)
        known = [line.event for line in lines if until is None or line.seq < until]
        if known:
            found.append(RepairOrder.fold(other, known))
    return tuple(found)
