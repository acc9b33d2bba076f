"""What a packet shows of its log: who signs, and each entry. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

from auditkit.fleet.rows.values import Row, moment, offset_min
from auditkit.proof.keys import PublicKey

if TYPE_CHECKING:
    from auditkit.proof.packet import Packet
    from auditkit.reader.steps import Step
    from auditkit.text.values import Json


def log_row(steps: Sequence[Step]) -> Row:
    """Return what the log's own events say of it."""
    opened = next((s for s in steps if s.event.kind == "log_opened"), None)
    if opened is None:
        return {}
    return {
        "shop_claimed": opened.event.text("shop") or None,
        "opened_at": moment(opened.payload.recorded_at),
        "predecessor": _text(opened.event.object("predecessor"), "origin"),
    }


def person_rows(steps: Sequence[Step]) -> Iterator[Row]:
    """Yield a row for each key of a person that the packet enrols or revokes."""
    revoked = {
        step.event.text("key"): step.payload.seq
        for step in steps
        if step.event.kind == "key_revoked"
    }
    for step in steps:
        if step.event.kind == "person_enrolled":
            key_id = PublicKey.from_x(step.event.text("key")).thumbprint
            yield {
                "person": step.event.text("person"),
                "key_id": key_id,
                "role": step.event.text("role"),
                "enrolled_seq": step.payload.seq,
                "revoked_seq": revoked.get(key_id),
            }


def event_rows(packet: Packet, steps: Sequence[Step]) -> Iterator[Row]:
    """Yield a row for each entry; ``is_own`` says whether it is of the order.

    One that says of itself a time that is none is recorded at no time.
    """
    leaves = {signed.seq: signed.leaf for signed, _ in packet.entries}
    for step in steps:
        payload, at = step.payload, step.event.text("at")
        yield {
            "seq": payload.seq,
            "kind": step.event.kind,
            "by_person": payload.by,
            "key_id": payload.key,
            "happened_at": moment(at),
            "offset_min": offset_min(at),
            "recorded_at": moment(payload.recorded_at),
            "leaf": leaves[payload.seq],
            "root": bytes.fromhex(payload.root),
            "is_own": payload.repair_order is not None,
        }


def _text(given: Mapping[str, Json], name: str) -> str | None:
    value = given.get(name)
    return value if isinstance(value, str) else None
