"""A packet's receipt as the page that the customer keeps. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from auditkit.errors import InputError
from auditkit.exhibit.source import recorded_moment
from auditkit.order.policy import DEFAULT, Policy
from auditkit.proof.check_packet import verify_packet
from auditkit.reader.hold_receipt import packet_of_report, receipt_of_report
from auditkit.reader.read_packet import judged_of
from auditkit.reader.receipt_story import story_of
from auditkit.reader.steps import local_of, own_steps, steps_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from auditkit.proof.check_report import JudgedHere
    from auditkit.proof.packet import Packet
    from auditkit.proof.receipt import Receipt
    from auditkit.reader.steps import Step


@dataclass(frozen=True, slots=True)
class ReceiptOfPacket:
    """A packet that verified, its receipt, and what its evidence says here.

    ``policy`` is the shop's: it says what a receipt tells of packets and checkers.
    """

    packet: Packet
    steps: tuple[Step, ...]
    receipt: Receipt
    judged: JudgedHere | None
    policy: Policy

    def page(self, made_at: str) -> bytes:
        """Return the PDF of a receipt that was made at a time (RFC 3339)."""
        from auditkit.output.receipt_pdf import ReceiptPaper, receipt_pdf
        from auditkit.reader.page.build import checker_page_sha256

        paper = ReceiptPaper(
            self.receipt,
            self.packet.statement,
            story_of(self.steps),
            self.judged,
            dict(self.packet.attachments),
            self.policy.checker_url,
            checker_page_sha256(),
            self.policy.packet_from,
        )
        return receipt_pdf(paper, made_at)

    def local(self, moment: datetime) -> str:
        """Return a moment in the shop's local time, as the packet has it."""
        return local_of(self.steps)(moment.isoformat(timespec="seconds"))


def receipt_of_packet(
    data: bytes, where: str, made_at: str = "", policy: Policy = DEFAULT
) -> ReceiptOfPacket:
    """Return the receipt of a packet's bytes; InputError or VerificationError, else.

    ``where`` names it. A receipt is not ``made_at`` a time before the verdict.
    """
    report = verify_packet(data, where=where)
    receipt = receipt_of_report(report, where=where)
    packet, _ = packet_of_report(report)
    steps = steps_of(packet, report.payloads)
    judged = judged_of(report)
    _refuse_before(made_at, steps, where)
    return ReceiptOfPacket(packet, steps, receipt, judged, policy)


def _refuse_before(made_at: str, steps: Sequence[Step], where: str) -> None:
    """Raise InputError for a time before the verdict that the receipt is of.

    Raises VerificationError where the verdict was recorded at no time.
    """
    recorded = [
        (recorded_moment(step.payload.recorded_at, where), step.payload.recorded_at)
        for step in own_steps(steps)
        if step.event.kind == "verdict"
    ]
    try:
        moment = datetime.fromisoformat(made_at)
    except ValueError:
        return  # none was given, or the page says what is wrong with it
    latest, last = max(recorded)
    if moment.tzinfo is not None and moment < latest:
        raise InputError(
            f"{made_at} is before the verdict was recorded, at {local_of(steps)(last)}",
            where="--made-at",
            what_to_do="give the time of hand-over",
        )
