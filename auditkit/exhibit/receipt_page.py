"""A packet's receipt as the page that the customer keeps. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from auditkit.errors import InputError
from auditkit.exhibit.source import recorded_moment
from auditkit.order.events import Event
from auditkit.proof.check_packet import parse_packet
from auditkit.proof.disclosure import reveal
from auditkit.proof.entry import parse_payload
from auditkit.proof.receipt import receipt_of
from auditkit.reader.read_packet import judged_here
from auditkit.reader.steps import local_of, log_shop, other_shops, steps_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from auditkit.proof.check_packet import Packet
    from auditkit.proof.check_report import JudgedHere
    from auditkit.proof.entry import Payload
    from auditkit.proof.receipt import Receipt


@dataclass(frozen=True, slots=True)
class ReceiptOfPacket:
    """A packet that verified, its receipt, and what its evidence says here."""

    packet: Packet
    receipt: Receipt
    judged: JudgedHere | None

    def page(self, made_at: str) -> bytes:
        """Return the PDF of a receipt that was made at a time (RFC 3339)."""
        from auditkit.output.receipt_pdf import receipt_pdf

        return receipt_pdf(self.receipt, made_at, _about(self.packet), self.judged)

    def local(self, moment: datetime) -> str:
        """Return a moment in the shop's local time, as the packet has it."""
        return local_of(steps_of(self.packet))(moment.isoformat(timespec="seconds"))


def receipt_of_packet(data: bytes, where: str, made_at: str = "") -> ReceiptOfPacket:
    """Return the receipt of a packet's bytes; InputError or VerificationError, else.

    ``where`` names it. A receipt is not ``made_at`` a time before the verdict.
    """
    receipt = receipt_of(data, where=where)
    judged = judged_here(data, where)
    packet = parse_packet(data, where=where)
    _refuse_before(made_at, packet, where)
    return ReceiptOfPacket(packet, receipt, judged)


def _own(packet: Packet, kind: str) -> Iterator[Payload]:
    """Yield the repair order's payloads of one kind."""
    for signed, _ in packet.entries:
        payload = parse_payload(signed.payload)
        if (
            payload.repair_order == packet.repair_order
            and payload.event.get("kind") == kind
        ):
            yield payload


def _refuse_before(made_at: str, packet: Packet, where: str) -> None:
    """Raise InputError for a time before the verdict that the receipt is of.

    Raises VerificationError where the verdict was recorded at no time.
    """
    recorded = [
        (recorded_moment(payload.recorded_at, where), payload.recorded_at)
        for payload in _own(packet, "verdict")
    ]
    try:
        moment = datetime.fromisoformat(made_at)
    except ValueError:
        return  # none was given, or the page says what is wrong with it
    latest, last = max(recorded)
    if moment.tzinfo is not None and moment < latest:
        raise InputError(
            f"{made_at} is before the verdict was recorded, at "
            f"{local_of(steps_of(packet))(last)}",
            where="--made-at",
            what_to_do="give the time of hand-over",
        )


def _about(packet: Packet) -> dict[str, str]:
    """Return the log's shop, and the vehicle as the opening discloses it.

    A shop that the record names instead is told beside it.
    """
    steps = steps_of(packet)
    shop, others = log_shop(steps), other_shops(steps)
    if others:
        shop += f" (the record names {', '.join(others)})"
    given: dict[int, list[str]] = {}
    for seq, text in packet.disclosures:
        given.setdefault(seq, []).append(text)
    events = [
        Event(0, reveal(payload.event, payload.withheld, given.get(payload.seq, ()))[0])
        for payload in [*_own(packet, "opening"), *_own(packet, "amendment")]
    ]
    openings = [
        event.object("event") if event.kind == "amendment" else event.data
        for event in events
    ]
    last = Event(0, ([{}] + [o for o in openings if o.get("kind") == "opening"])[-1])
    vehicle = last.object("vehicle")
    what = ", ".join(
        str(vehicle[name]) for name in ("description", "model_year") if name in vehicle
    )
    return {
        "Shop": shop or "not disclosed",
        "Vehicle": what or "not disclosed",
        "VIN": str(vehicle.get("vin", "not disclosed")),
    }
