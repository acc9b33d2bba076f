"""A packet's receipt as the page that the customer keeps. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from auditkit.errors import InputError
from auditkit.exhibit.source import recorded_moment
from auditkit.order.policy import DEFAULT, Policy
from auditkit.proof.check_packet import parse_packet
from auditkit.proof.entry import parse_payload
from auditkit.reader.hold_receipt import receipt_of
from auditkit.reader.read_packet import judged_here
from auditkit.reader.receipt_story import story_of
from auditkit.reader.steps import local_of, steps_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from auditkit.proof.check_packet import Packet
    from auditkit.proof.check_report import JudgedHere
    from auditkit.proof.entry import Payload
    from auditkit.proof.receipt import Receipt


@dataclass(frozen=True, slots=True)
class ReceiptOfPacket:
    """A packet that verified, its receipt, and what its evidence says here.

    ``policy`` is the shop's: it says what a receipt tells of packets and checkers.
    """

    packet: Packet
    receipt: Receipt
    judged: JudgedHere | None
    policy: Policy = DEFAULT

    def page(self, made_at: str) -> bytes:
        """Return the PDF of a receipt that was made at a time (RFC 3339)."""
        from auditkit.output.receipt_pdf import ReceiptPaper, receipt_pdf
        from auditkit.reader.page.build import checker_page_sha256

        paper = ReceiptPaper(
            self.receipt,
            self.packet.statement,
            story_of(steps_of(self.packet)),
            self.judged,
            dict(self.packet.attachments),
            self.policy.checker_url,
            checker_page_sha256(),
            self.policy.packet_from,
        )
        return receipt_pdf(paper, made_at)

    def local(self, moment: datetime) -> str:
        """Return a moment in the shop's local time, as the packet has it."""
        return local_of(steps_of(self.packet))(moment.isoformat(timespec="seconds"))


def receipt_of_packet(
    data: bytes, where: str, made_at: str = "", policy: Policy = DEFAULT
) -> ReceiptOfPacket:
    """Return the receipt of a packet's bytes; InputError or VerificationError, else.

    ``where`` names it. A receipt is not ``made_at`` a time before the verdict.
    """
    receipt = receipt_of(data, where=where)
    judged = judged_here(data, where)
    packet = parse_packet(data, where=where)
    _refuse_before(made_at, packet, where)
    return ReceiptOfPacket(packet, receipt, judged, policy)


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
