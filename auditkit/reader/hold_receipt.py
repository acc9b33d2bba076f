"""A packet's receipt, and a receipt held against a packet shown later. Pure.

What differs is told apart: a receipt of another shop's log, of another order, of a
later day than the packet, of a day that the packet does not reach back to; a log that
was written anew; entries left out; a statement or a story that is another one.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from auditkit.errors import InputError
from auditkit.proof import note
from auditkit.proof.check_packet import verify_packet
from auditkit.proof.check_report import CheckReport, LogProblem, Unmet
from auditkit.proof.receipt import (
    Receipt,
    digest_of_entries,
    digest_of_lines,
    format_receipt,
    parse_receipt,
)
from auditkit.reader.receipt_story import ReceiptStory, story_of
from auditkit.reader.steps import own_steps, steps_of
from auditkit.text.display_text import plural, quoted

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from auditkit.proof.packet import Packet
    from auditkit.reader.steps import Step

_AGREES = (
    "the receipt agrees: the order, its steps, its verdict and what it says was done, "
    "the log and its key; the log only grew since it was handed over"
)


@dataclass(frozen=True, slots=True)
class ReceiptComparison:
    """A packet compared with a receipt: where the two do not agree.

    ``paper`` is what the receipt's paper has to say, line by line, as the packet tells
    it; empty where that is not known, or something may have been altered. ``went_on``
    says what came after the receipt.
    """

    problems: tuple[LogProblem, ...]
    paper: tuple[str, ...] = ()
    went_on: str = ""

    @property
    def agreement(self) -> str | None:
        """Return in words what agrees, None where something does not."""
        return None if self.problems else _AGREES


@dataclass(frozen=True, slots=True)
class _Then:
    """A packet's order as it stood when its log had some size."""

    entries: tuple[bytes, ...]
    statement: tuple[str, ...]
    story: ReceiptStory


def receipt_of(packet_text: str | bytes, *, where: str = "") -> Receipt:
    """Return the receipt of a packet; raise VerificationError where it does not hold.

    Raises InputError where the text is no packet or a name in it fits no receipt.
    """
    report = verify_packet(packet_text, where=where)
    return receipt_of_report(report, where=where)


def receipt_of_report(report: CheckReport, *, where: str = "") -> Receipt:
    """Return the receipt of a packet by its report; errors as of ``receipt_of``."""
    report.must_hold(
        where=where,
        what_to_do="see 'auditkit verify'; do not hand out a receipt of it",
    )
    packet, checkpoint = packet_of_report(report)
    then = _then(packet, steps_of(packet, report.payloads), None)
    receipt = Receipt(
        repair_order=packet.repair_order,
        origin=checkpoint.origin,
        size=checkpoint.size,
        root=note.to_base64(checkpoint.root),
        log_key=report.log_key,
        entries=digest_of_entries(then.entries),
        statement=digest_of_lines(then.statement),
        story=digest_of_lines(then.story.lines),
    )
    format_receipt(receipt)
    return receipt


def compare_with_receipt(report: CheckReport, receipt_text: str) -> ReceiptComparison:
    """Compare a packet with a receipt; errors as of ``receipt_of``, ``parse_receipt``.

    ``report`` is what ``verify_packet`` returned of that packet; it has to hold.

    A packet of a later checkpoint agrees where it carries the consistency proof (RFC
    9162 section 2.1.4) that its checkpoint extends the receipt's, and where the order's
    entries of before are those that the receipt is of.
    """
    given = parse_receipt(receipt_text, where="the receipt")
    report.must_hold(where="the packet", what_to_do="see 'auditkit verify'")
    packet, checkpoint = packet_of_report(report)
    if given.origin != checkpoint.origin:
        return ReceiptComparison((_other_log(given, checkpoint.origin, report),))
    found: list[LogProblem] = []
    if given.log_key != report.log_key:
        found.append(
            LogProblem(
                None,
                f"the log {quoted(given.origin)} has another key: the receipt says "
                f"{given.log_key}, the packet {report.log_key}",
            )
        )
    found += _checkpoints(given, checkpoint, packet)
    if given.repair_order != packet.repair_order:
        told = (
            f"it is of repair order {quoted(given.repair_order)}, the packet of "
            f"{quoted(packet.repair_order)}"
        )
        return ReceiptComparison((LogProblem(None, told, Unmet.ORDER), *found))
    if checkpoint.size < given.size:
        return ReceiptComparison(tuple(found))
    steps = steps_of(packet, report.payloads)
    then = _then(packet, steps, given.size)
    found += _differing(given, then)
    went_on = "" if found else _went_on(own_steps(steps), then, given.size)
    # What may have been altered says nothing.
    paper = then.story.lines if all(problem.unmet for problem in found) else ()
    return ReceiptComparison(tuple(found), paper, went_on)


def packet_of_report(report: CheckReport) -> tuple[Packet, note.Checkpoint]:
    """Return the packet that a report is of, and its checkpoint."""
    packet, checkpoint = report.packet, report.checkpoint
    if packet is None or checkpoint is None or report.repair_order is None:
        raise InputError(
            "a receipt is of a packet",
            what_to_do="name the packet of that repair order",
        )
    return packet, checkpoint


def _then(packet: Packet, steps: Sequence[Step], size: int | None) -> _Then:
    """Return the order as it stood in the log's first ``size`` entries, or in all."""
    kept = [s for s in steps if size is None or s.payload.seq < size]
    own = {step.payload.seq for step in own_steps(kept)}
    verdicts = [s.event for s in own_steps(kept) if s.event.kind == "verdict"]
    return _Then(
        entries=tuple(e.leaf for e, _ in packet.entries if e.seq in own),
        statement=verdicts[-1].texts("statement") if verdicts else (),
        story=story_of(kept),
    )


def _other_log(given: Receipt, origin: str, report: CheckReport) -> LogProblem:
    whose = f"under another key, {report.log_key}"
    if given.log_key == report.log_key:
        whose = "under the same key"
    told = (
        f"it is of the log {quoted(given.origin)}, the packet of the log "
        f"{quoted(origin)}, {whose}"
    )
    return LogProblem(None, told, Unmet.LOG)


def _checkpoints(
    given: Receipt, now: note.Checkpoint, packet: Packet
) -> Iterator[LogProblem]:
    """Yield where the packet's checkpoint does not extend the receipt's."""
    root = note.to_base64(now.root)
    earlier = {old.size: note.to_base64(old.root) for old in packet.earlier}
    if now.size < given.size:
        text = (
            f"the packet's checkpoint, of size {now.size}, is earlier than the "
            f"receipt's, of size {given.size}"
        )
        yield LogProblem(None, text, Unmet.OLDER)
    elif now.size == given.size and root != given.root:
        text = (
            f"the checkpoints of size {now.size} have different roots: the log was "
            "forked or the receipt altered"
        )
        yield LogProblem(None, text)
    elif now.size > given.size and given.size not in earlier:
        text = (
            f"the packet's checkpoint, of size {now.size}, does not reach back to "
            f"the receipt's, of size {given.size}: it does not show that the log "
            "only grew since"
        )
        yield LogProblem(None, text, Unmet.REACH)
    elif now.size > given.size and earlier[given.size] != given.root:
        text = (
            f"the log's first {given.size} entries had another root: the log was "
            "written anew or the receipt altered"
        )
        yield LogProblem(None, text)


def _differing(given: Receipt, then: _Then) -> Iterator[LogProblem]:
    """Yield what of the order, as it stood then, is not what the receipt is of."""
    if digest_of_entries(then.entries) != given.entries:
        many = plural(len(then.entries), "entry", "entries")
        text = (
            f"the {many} of this order from before the hand-over are not those of the "
            "receipt: an entry was left out or put in, or the receipt altered"
        )
        yield LogProblem(None, text)
        return  # statement and story are told by those entries
    if digest_of_lines(then.statement) != given.statement:
        text = (
            "the verdict's statement is not the receipt's, though the entries are: "
            "the receipt was altered"
        )
        yield LogProblem(None, text)
    if digest_of_lines(then.story.lines) != given.story:
        text = (
            "the story on its paper is not the one that this packet tells: the packet "
            "discloses other texts than were printed, another version tells it in "
            "other words, or the receipt was altered"
        )
        yield LogProblem(None, text, Unmet.STORY)


def _went_on(own: Sequence[Step], then: _Then, size: int) -> str:
    """Return what came after the receipt in this order; empty where nothing did."""
    later = [step for step in own if step.payload.seq >= size]
    if not later:
        return ""
    many = plural(len(later), "entry was", "entries were")
    said = f"the order went on after the receipt: {many} written since"
    now = next((s.event for s in reversed(later) if s.event.kind == "verdict"), None)
    if now is None:
        return said
    was, is_ = (
        quoted(lines[0] if lines else "nothing")
        for lines in (then.statement, now.texts("statement"))
    )
    return f"{said}; signed then: {was}, and now: {is_}"
