"""The readouts that a file holds: one readout's text, or those of a repair order.

A repair order comes as a repair record or as a packet (or what carries one), whose
signatures have to hold: whether the key is the shop's is asked by ``verify``.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from auditkit.cli import common
from auditkit.errors import InputError, VerificationError
from auditkit.inspection.beside_packet import HandOver
from auditkit.obd import Readout
from auditkit.order.event_kinds import OWN_KINDS
from auditkit.order.events import Event, RepairOrder
from auditkit.order.faults import faults_of
from auditkit.order.schema import validate_event
from auditkit.order.self_test_evidence import readout_of
from auditkit.proof.packet import is_packet
from auditkit.reader.file_kind import GivenFile, is_checkpoint, packet_in
from auditkit.reader.steps import Step, own_steps, steps_of
from auditkit.text.display_text import plural
from auditkit.text.values import Json

if TYPE_CHECKING:
    from auditkit.proof.check_report import CheckReport

_HEAD = 1024  # bytes in which a file says what it is
_CARRIERS = ("<", "%PDF-")  # how a page and an exhibit begin


@dataclass(frozen=True, slots=True)
class GivenReadout:
    """A readout, where it stands in words, its event where it has one, and its text.

    ``raw`` is empty where it was typed off a display.
    """

    readout: Readout
    place: str
    event: Event | None = None
    raw: str = ""


@dataclass(frozen=True, slots=True)
class GivenFileOfReadouts:
    """A file's readouts in their order, at least one, and the order that holds them.

    ``order`` is None for a readout's text; ``sha256`` is the file's digest. ``report``
    is that of a packet, which holds; None for all else.
    """

    path: Path
    sha256: str
    readouts: tuple[GivenReadout, ...]
    order: RepairOrder | None = None
    report: CheckReport | None = None

    def chosen(self, which: int | None) -> GivenReadout:
        """Return a readout by its number from 1, the last where none is asked for."""
        if which is None:
            return self.readouts[-1]
        if not 1 <= which <= len(self.readouts):
            held = plural(len(self.readouts), "readout", "readouts")
            raise InputError(
                f"{self.path} holds {held}, and no number {which}",
                where="--which",
                what_to_do=f"give a number from 1 to {len(self.readouts)}",
            )
        return self.readouts[which - 1]

    def before_and_after(self) -> tuple[GivenReadout, GivenReadout]:
        """Return the first readout before the first repair and the last after the last.

        Of an order without a repair the first and the last. InputError where it has not
        both.
        """
        order = self.order
        if order is None:
            raise InputError(
                "this is one readout: nothing is there to compare it with",
                where=str(self.path),
                what_to_do="name a second one, or a repair record or packet with both",
            )
        placed = [(one.event.index, one) for one in self.readouts if one.event]
        work = [event.index for event in order.of("repair")]
        early = [one for at, one in placed if not work or at < work[0]]
        late = [one for at, one in placed if not work or at > work[-1]]
        if early and late and early[0] is not late[-1]:
            return early[0], late[-1]
        lacks = "a readout before the repair and one after it"
        raise InputError(
            f"it has not {lacks if work else 'two readouts'}",
            where=str(self.path),
            what_to_do="name two readouts, or a record that holds both",
        )

    def hand_over(self) -> HandOver:
        """Return what was read last, for which codes parts were worked on, the verdict.

        InputError where the file is a readout alone.
        """
        from auditkit.reader.read_packet import judged_of

        if self.order is None:
            raise _no_repair(self.path, "this is a readout, and tells of no repair")
        work = [event.index for event in self.order.of("repair")]
        last = self.readouts[-1]
        vin = self.order.vehicle("vin")
        return HandOver(
            repair_order=self.order.id,
            place=last.place,
            readout=last.readout,
            repaired=tuple(
                (fault.code, fault.witnesses)
                for fault in faults_of(self.order)
                if fault.is_addressed
            ),
            vin=vin or None,
            is_typed=not last.raw,
            texts=tuple((one.place, one.raw) for one in self.readouts if one.raw),
            is_after=bool(last.event and work and last.event.index > work[-1]),
            judged=None if self.report is None else judged_of(self.report),
        )


def hand_over_in(path: Path) -> HandOver:
    """Return a file's ``hand_over``; errors as of it, and of ``readouts_in``."""
    data = common.read(path)
    head = _head(data)
    may_hold_an_order = _carries_a_packet(head) or head.startswith("{")
    if not may_hold_an_order and not (
        common.decoded(common.as_text(data, path), path).requests
    ):
        raise _no_repair(path, "no repair is in this file")
    return readouts_in(path, data, may_be_silent=True).hand_over()


def _no_repair(path: Path, said: str) -> InputError:
    return InputError(
        said,
        where=str(path),
        what_to_do="name the packet or the repair record of the repair",
    )


def _head(data: bytes) -> str:
    return data[:_HEAD].decode(errors="replace").removeprefix("\ufeff").lstrip()


def _carries_a_packet(head: str) -> bool:
    return is_packet(head) or head.startswith(_CARRIERS)


def readouts_in(
    path: Path, data: bytes | None = None, *, may_be_silent: bool = False
) -> GivenFileOfReadouts:
    """Return a file's readouts; InputError where it holds none that can be read.

    ``data`` is what the file holds, where it was read already. With ``may_be_silent`` a
    text in which a vehicle was asked, and nothing answered, is a readout too.
    VerificationError for a packet that is not what was signed.
    """
    data = common.read(path) if data is None else data
    digest = hashlib.sha256(data).hexdigest()
    report, order = order_in(path, data)
    if order is None:
        readout = _readout(data, path, may_be_silent=may_be_silent)
        given = GivenReadout(readout, str(path), raw=common.as_text(data, path))
        return GivenFileOfReadouts(path, digest, (given,))
    return GivenFileOfReadouts(path, digest, _of_order(order, path), order, report)


def order_in(path: Path, data: bytes) -> tuple[CheckReport | None, RepairOrder | None]:
    """Return the order of a file's packet or repair record, of a packet its check too.

    Neither of what is a readout, or nothing that is known here. InputError for a record
    that cannot be read, VerificationError for a packet that is not what was signed.
    """
    head = _head(data)
    if _carries_a_packet(head):
        return _of_packet(GivenFile(str(path), data))
    if not head.startswith("{"):
        return None, None
    from auditkit.plugin.loading import load_catalogue

    record = common.read_record(path, load_catalogue(), data)
    return None, RepairOrder.fold(record.repair_order, record.events)


def read_readout(path: Path, data: bytes | None = None) -> Readout:
    """Return what the vehicle said in a file; one clear error where it said nothing.

    ``data`` is what the file holds, where it was read already.
    """
    return _readout(common.read(path) if data is None else data, path)


def _readout(data: bytes, path: Path, *, may_be_silent: bool = False) -> Readout:
    if is_checkpoint(GivenFile(str(path), data)):  # its size may look like an answer
        raise InputError(
            "this is a checkpoint, not a readout",
            where=str(path),
            what_to_do="name a readout, as 'auditkit capture' writes it",
        )
    found = common.decoded(common.as_text(data, path), path)
    if not (found.responders or (may_be_silent and found.requests)):
        raise InputError(
            "no answer of a vehicle was found in this file",
            where=str(path),
            what_to_do="name a readout, as 'auditkit capture' writes it",
        )
    return found


def _of_packet(given: GivenFile) -> tuple[CheckReport, RepairOrder]:
    from auditkit.proof.check_packet import verify_packet

    packet = packet_in(given).packet
    report = verify_packet(packet.data, where=packet.where)
    if not report.verified or report.packet is None:
        raise VerificationError(
            "this packet is not what was signed: what it says is not used",
            where=given.where,
            what_to_do="'auditkit verify' says what does not hold",
        )
    steps = own_steps(steps_of(report.packet, report.payloads))
    events = [_as_read(s, given) for s in steps if s.event.kind != "verdict"]
    return report, RepairOrder.fold(report.packet.repair_order, events)


def _as_read(step: Step, given: GivenFile) -> Mapping[str, Json]:
    """Return a stranger's event where it has the form that is read here, else its kind.

    InputError for a readout that has not: nothing stands in for it.
    """
    event = step.event
    problems = validate_event(dict(event.data), OWN_KINDS)
    if event.kind in {"opening", "repair"} or not problems:
        return event.data  # of these nothing but a few members is read, each looked at
    if event.kind == "readout":
        hidden = {"raw", "typed"} & set(step.hidden)
        if hidden:
            message = f"the readout of its entry {step.payload.seq} is withheld"
            what_to_do = "ask for a packet that discloses it"
        else:
            found = f"{problems[0].pointer or 'the event'}: {problems[0].message}"
            message = f"its entry {step.payload.seq} is no readout as it is read here"
            message, what_to_do = f"{message}: {found}", "ask for it as it was captured"
        raise InputError(message, where=given.where, what_to_do=what_to_do)
    return {"kind": "unread", "at": event.text("at"), "by": event.by}


def _of_order(order: RepairOrder, path: Path) -> tuple[GivenReadout, ...]:
    events = order.of("readout")
    found = []
    for number, event in enumerate(events, start=1):
        readout = readout_of(event)
        if readout.responders:
            when = event.text("captured") or event.text("at")
            how = ", typed from a display" if not event.text("raw") else ""
            place = f"readout {number} of {len(events)} in {order.id}, {when}{how}"
            raw = event.text("raw")
            found.append(GivenReadout(readout, place, event, raw))
    if not found:
        raise InputError(
            f"no readout with an answer of a vehicle is in {order.id}",
            where=str(path),
            what_to_do="name a readout, as 'auditkit capture' writes it",
        )
    return tuple(found)
