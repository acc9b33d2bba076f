"""What the log holds: its repair orders, and one of them event by event."""

from __future__ import annotations

from auditkit.errors import InputError
from auditkit.log.logged_order import (
    LoggedEvent,
    LoggedOrder,
    OrderLine,
    held_attachment,
    held_texts,
    order_line,
)
from auditkit.log.open_log import OpenLog
from auditkit.obd.fingerprint import said_sha256
from auditkit.proof import disclosure
from auditkit.proof import entry as entries
from auditkit.proof.attached import ATTACHMENT, attached_file
from auditkit.proof.row import Row
from auditkit.text.display_text import nearest


def orders(log: OpenLog) -> tuple[OrderLine, ...]:
    """Return a line for every repair order, in order of their first entry."""
    return tuple(order_line(show(log, i)) for i in log.store.order_ids())


def show(log: OpenLog, order_id: str) -> LoggedOrder:
    """Return a repair order's events; raise InputError where there is none."""
    events = logged_events(log, order_id)
    if not events:
        near = nearest(order_id, log.store.order_ids(), 3)
        raise InputError(
            f"the log holds no repair order {order_id!r}",
            where=str(log.store.path),
            what_to_do=f"did you mean {', '.join(near)}?"
            if near
            else "see 'auditkit list'",
        )
    return LoggedOrder(order_id, events)


def logged_events(log: OpenLog, order_id: str) -> tuple[LoggedEvent, ...]:
    """Return a repair order's events, none where the log does not know it."""
    return tuple(_logged(log, row) for row in log.store.order_rows(order_id))


def recorded_at(log: OpenLog, order_id: str) -> tuple[str, ...]:
    """Return when each event of a repair order was recorded, verdicts left out."""
    return tuple(
        line.recorded_at
        for line in logged_events(log, order_id)
        if line.event.get("kind") != "verdict"
    )


def _logged(log: OpenLog, row: Row) -> LoggedEvent:
    payload = entries.parse_payload(row.entry.payload)
    kept = {d: text for _, d, text in log.store.disclosures(row.entry.seq)}
    given = [t for t in kept.values() if not disclosure.is_decoy(t)]
    event, hidden = disclosure.reveal(payload.event, payload.withheld, given)
    return LoggedEvent(
        row.entry.seq,
        payload.recorded_at,
        payload.by,
        event,
        hidden,
        held_texts(payload, kept, log.ring.erased),
        held_attachment(event, log.attachments, log.ring.erased_attachments),
        payload.form,
    )


def readouts(log: OpenLog) -> dict[str, set[str]]:
    """Return the SHA-256 of what every logged readout says -> orders that hold it.

    Texts that were withheld or erased are not among them.
    """
    found: dict[str, set[str]] = {}
    for row in log.store.rows_of("readout"):
        payload = entries.parse_payload(row.entry.payload)
        text = payload.event.get("raw")
        if payload.repair_order is not None and isinstance(text, str):
            digest = said_sha256(text)
            found.setdefault(digest, set()).add(payload.repair_order)
    return found


def attached(log: OpenLog) -> dict[str, set[str]]:
    """Return the SHA-256 of every file that an attachment names -> orders that do."""
    found: dict[str, set[str]] = {}
    for row in log.store.rows_of(ATTACHMENT):
        payload = entries.parse_payload(row.entry.payload)
        named = attached_file(payload.event)
        if payload.repair_order is not None and named is not None:
            found.setdefault(named.sha256, set()).add(payload.repair_order)
    return found


def leaves(log: OpenLog) -> list[bytes]:
    """Return every entry's leaf hash, in order."""
    return log.store.leaves()
