"""A packet: what one repair order's proof needs, in one file, for a stranger.

A packet is JSON that opens with the statement in plain words. It carries the
repair order's entries and those that enrol the keys that signed them, each with
an inclusion proof (C2SP tlog-proof), the checkpoint, earlier checkpoints that it
extends, each with a consistency proof, the log's key (C2SP vkey), what the log says was
erased of the order, and the disclosures and pictures that the shop chose to give. It is
verified with neither database nor plugins. A packet that is not byte for byte what
would be written is refused.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from auditkit.errors import AuditkitError, VerificationError
from auditkit.proof import disclosure, entry, merkle, note
from auditkit.proof.check_attachments import (
    attachment_notes,
    attachment_problems,
    named_files,
)
from auditkit.proof.check_report import (
    NO_KEY,
    CheckReport,
    LogProblem,
    Unmet,
)
from auditkit.proof.clock_notes import clock_notes
from auditkit.proof.entry import Entry, Payload
from auditkit.proof.keyring import KeyRing
from auditkit.proof.keys import PublicKey
from auditkit.proof.log_kinds import LOG_KINDS
from auditkit.proof.packet import (
    MAX_PACKET,
    PACKET_FORMAT,
    EarlierTree,
    Packet,
    format_packet,
    is_packet,
    parse_packet,
)
from auditkit.proof.packet_story import said_verdict, story
from auditkit.proof.sealed_texts import NOT_TOLD, misplaced_erasures, sealed_texts
from auditkit.text.display_text import json_line, quoted
from auditkit.text.values import Json

__all__ = [
    "MAX_PACKET",
    "NO_KEY",
    "PACKET_FORMAT",
    "EarlierTree",
    "Packet",
    "format_packet",
    "is_packet",
    "parse_packet",
    "verify_packet",
]

UNSEEN = (
    (
        "entries written to this repair order after the verdict shown would not be "
        "seen from the packet"
    ),
    (
        "a key's revocation, the log's closing or what outsiders said of it would not "
        "be seen from the packet either where the shop left that out"
    ),
)


class _Proven(NamedTuple):
    """Where the tree has an entry: its leaf hash, and the root of all before it."""

    leaf: bytes
    root: bytes


_Read = Payload | tuple[Payload, PublicKey, bytes] | AuditkitError
"""An entry as read: what it says, verified; the same with the key and the message of a
signature still to be verified; or what is wrong with it."""


def _verified(signed: Entry, read: _Read) -> Payload:
    """Return what an entry says; raise an error where it or its signature is wrong."""
    if isinstance(read, AuditkitError):
        raise read
    if isinstance(read, Payload):
        return read
    payload, key, message = read
    key.verify(signed.signature, message)
    return payload


def _payload(signed: Entry) -> Payload | AuditkitError:
    """Return what an entry says, or why its payload cannot be read."""
    try:
        return entry.parse_payload(signed.payload)
    except AuditkitError as error:
        return error


class _Check:
    """The checks of one packet, in the order in which a reader would ask them."""

    def __init__(self, packet: Packet) -> None:
        self.packet = packet
        self.problems: list[LogProblem] = []
        self.ring = KeyRing()
        self.payloads: dict[int, Payload] = {}
        self.own: list[Payload] = []  # what belongs to the repair order, in order
        self.roots: dict[int, bytes] = {}
        self.leaves: dict[int, bytes] = {}
        self.given: dict[int, list[str]] = {}  # disclosures by entry
        self.origin = ""

    def add(self, seq: int | None, text: str, unmet: Unmet | None = None) -> None:
        self.problems.append(LogProblem(seq, text, unmet))

    def key_and_checkpoint(self) -> tuple[PublicKey, note.Checkpoint] | None:
        try:
            name, key = note.parse_vkey(self.packet.log_key)
            checkpoint = note.open_checkpoint(self.packet.checkpoint, key)
        except AuditkitError as error:
            self.add(None, f"the checkpoint: {error.message}")
            return None
        if checkpoint.origin != name:
            other = quoted(checkpoint.origin)
            self.add(None, f"the checkpoint is of another log, {other}")
        self.roots[checkpoint.size] = checkpoint.root
        self.origin = checkpoint.origin
        return key, checkpoint

    def earlier(self, checkpoint: note.Checkpoint) -> None:
        """Check that the checkpoint extends every earlier tree that is named."""
        last = 0
        for old in self.packet.earlier:
            if not last < old.size < checkpoint.size:
                self.add(None, "the earlier sizes are not in order below the packet's")
                return
            last = old.size
            try:
                merkle.verify_consistency(
                    old.size, checkpoint.size, old.root, checkpoint.root, old.path
                )
            except AuditkitError as error:
                self.add(None, f"the earlier size {old.size}: {error.message}")
            else:
                self.roots[old.size] = old.root

    def attested(self) -> None:
        """Check that what outsiders attested is of this very log."""
        for found in self.ring.attested:
            if self.roots.get(found.checkpoint.size) != found.checkpoint.root:
                text = "the packet does not extend the checkpoint that it attests"
                self.add(found.seq, text)

    def entries(self, key: PublicKey, checkpoint: note.Checkpoint) -> None:
        # Each step is taken for all entries before the next, the events' signatures
        # last: the processor's caches hold what one step needs, not what all need.
        entries = self.packet.entries
        messages = [signed.signing_input for signed, _ in entries]
        proven = [
            self._proven(signed, message, proof, checkpoint)
            for (signed, proof), message in zip(entries, messages, strict=True)
        ]
        self.leaves = {
            signed.seq: place.leaf
            for (signed, _), place in zip(entries, proven, strict=True)
            if isinstance(place, _Proven)
        }
        said = [_payload(signed) for signed, _ in entries]
        read = [
            self._read(signed, message, place, payload)
            for (signed, _), message, place, payload in zip(
                entries, messages, proven, said, strict=True
            )
        ]
        last = -1
        for (signed, _), found in zip(entries, read, strict=True):
            if signed.seq <= last:
                self.add(signed.seq, "the entries are not in order of sequence number")
            last = signed.seq
            try:
                self.payloads[signed.seq] = _verified(signed, found)
            except AuditkitError as error:
                self.add(signed.seq, error.message)
        self.own = [p for p in self.payloads.values() if p.repair_order is not None]
        if self.ring.log_key != key:
            self.add(None, "the log key given is not the one that opened the log")
        if self.ring.origin != self.origin:
            self.add(None, "the entries and the checkpoint are of different logs")

    def _read(
        self,
        signed: Entry,
        message: bytes,
        place: _Proven | AuditkitError,
        payload: Payload | AuditkitError,
    ) -> _Read:
        """Return what an entry says, all of it checked but an event's signature."""
        if isinstance(place, AuditkitError):
            return place
        if isinstance(payload, AuditkitError):
            return payload
        try:
            self._placed(signed, payload, place)
            key = self.ring.signer(payload)
            entry.check_header(signed.header)
            if payload.repair_order is not None:
                return payload, key, message
            # Of the log itself: entries to come are read by what it says.
            key.verify(signed.signature, message, again=True)
            self.ring.learn(payload)
        except AuditkitError as error:
            return error
        return payload

    def _proven(
        self, signed: Entry, message: bytes, proof: str, checkpoint: note.Checkpoint
    ) -> _Proven | AuditkitError:
        """Return where an entry is proven to stand in the log, or why it is not."""
        try:
            index, path, text = note.parse_proof(proof)
            if index != signed.seq or text != self.packet.checkpoint:
                problem = "its proof is of another entry or another checkpoint"
                return VerificationError(problem)
            leaf = entry.leaf_hash(message, signed.signature)
            before = merkle.verify_inclusion(
                leaf, index, checkpoint.size, path, checkpoint.root
            )
        except AuditkitError as error:
            return error
        return _Proven(leaf, before)

    def _placed(self, signed: Entry, payload: Payload, place: _Proven) -> None:
        if payload.seq != signed.seq or payload.log != self.origin:
            raise VerificationError(
                "what was signed names another place or another log"
            )
        if payload.root != place.root.hex():
            raise VerificationError("its root is not that of the entries before it")
        before = self.leaves.get(payload.seq - 1)
        if (payload.prev is None) != (payload.seq == 0) or (
            before is not None and payload.prev != before.hex()
        ):
            raise VerificationError(
                "it does not name the leaf hash of the entry before it"
            )
        if payload.repair_order not in (None, self.packet.repair_order):
            raise VerificationError(
                f"it belongs to repair order {quoted(payload.repair_order)}"
            )
        kind = payload.event.get("kind")
        if (payload.repair_order is None) != (kind in LOG_KINDS):
            raise VerificationError(
                "a log event and a repair order's event are mixed up"
            )
        erased = payload.event.get("repair_order")
        if kind == "text_erased" and erased != self.packet.repair_order:
            raise VerificationError(
                f"it erases something of repair order {json_line(erased)}"
            )

    def verdict(self) -> Mapping[str, Json]:
        """Check that the verdict judged the events given here, all of them."""
        own = self.own
        entries = self.packet.entries
        if entries and entries[-1][0].seq not in self.payloads:
            return {}  # the last entry does not hold: what it is, is not known
        if not own or own[-1].event.get("kind") != "verdict":
            self.add(None, "the repair order does not end with its verdict")
            return {}
        event = own[-1].event
        given: list[Json] = [p.seq for p in own if p.event.get("kind") != "verdict"]
        judged = event.get("judged")
        # In Python true equals 1, in JSON it does not.
        if judged != given or any(isinstance(seq, bool) for seq in judged):
            text = f"the verdict judged entries {json_line(judged)}, "
            text += f"given are {json_line(given)}"
            self.add(own[-1].seq, text)
        if event.get("statement") != list(self.packet.statement):
            text = "the statement at the top is not the one that was signed"
            self.add(own[-1].seq, text)
        return event

    def disclosures(self) -> None:
        by_seq = self.given
        for seq, text in self.packet.disclosures:
            by_seq.setdefault(seq, []).append(text)
        if tuple(sorted(self.packet.disclosures)) != self.packet.disclosures:
            self.add(None, "the disclosures are not in order")
        for seq, texts in by_seq.items():
            if seq not in self.payloads:
                self.add(seq, "a disclosure belongs to no entry of the packet")
                continue
            try:
                said = self.payloads[seq]
                disclosure.reveal(said.event, said.withheld, texts)
            except AuditkitError as error:
                self.add(seq, error.message)
        for seq, text in misplaced_erasures(self.own, by_seq, self.ring):
            self.add(seq, text)

    def trusted(self, trust: str, key: PublicKey, ours: note.Checkpoint) -> None:
        try:
            theirs = note.open_checkpoint(trust, key)
        except AuditkitError as error:
            self.add(None, f"the trusted checkpoint: {error.message}")
            return
        if theirs.origin != ours.origin:
            text = f"the trusted checkpoint is of another log, {quoted(theirs.origin)}"
            self.add(None, text)
        elif theirs.size not in self.roots:
            text = (
                f"the trusted checkpoint is of size {theirs.size}, and the packet's, "
                f"of size {ours.size}, does not reach back to it: {_ask(theirs, ours)}"
            )
            is_later = theirs.size > ours.size
            self.add(None, text, Unmet.OLDER if is_later else Unmet.REACH)
        elif theirs.root != self.roots[theirs.size]:
            self.add(
                None, "the trusted checkpoint has another root: the log was forked"
            )


def _ask(theirs: note.Checkpoint, ours: note.Checkpoint) -> str:
    """Return what to ask the shop for, where a packet cannot answer."""
    if theirs.size > ours.size:
        return "ask for a packet made since"
    return "ask for one made with 'auditkit packet ORDER --since FILE'"


def verify_packet(
    text: str | bytes,
    *,
    where: str = "",
    expect_key: str | None = None,
    trust: str | None = None,
) -> CheckReport:
    """Return what holds of a packet; raise InputError where it cannot be read.

    ``expect_key`` is the thumbprint (RFC 7638) of the log key that the reader got
    elsewhere. Without it, the packet proves only that it is consistent in itself.
    """
    packet = parse_packet(text, where=where)
    check = _Check(packet)
    opened = check.key_and_checkpoint()
    verdict: Mapping[str, Json] = {}
    if opened is not None:
        check.earlier(opened[1])
        check.entries(*opened)
        check.attested()
        verdict = check.verdict()
        check.disclosures()
        check.problems += attachment_problems(packet.attachments, check.own, check.ring)
        if trust is not None:
            check.trusted(trust, *opened)
    fingerprint = opened[0].thumbprint if opened else ""
    if expect_key is not None and expect_key != fingerprint:
        text = f"the log's key is {fingerprint}, not the expected {expect_key}"
        check.add(None, text, Unmet.KEY)
    holds = not check.problems
    texts = sealed_texts(check.own, check.given, check.ring.erased) if holds else ()
    files = named_files(packet.attachments, check.own, check.ring) if holds else ()
    recorded = tuple((seq, p.recorded_at) for seq, p in check.payloads.items())
    return CheckReport(
        verified=holds,
        entries=len(packet.entries),
        checkpoint=opened[1] if opened else None,
        log_key=fingerprint,
        problems=tuple(check.problems),
        notes=(
            *UNSEEN,
            *((NOT_TOLD,) if any(t.state == "withheld" for t in texts) else ()),
            *((NO_KEY,) if expect_key is None else ()),
            *attachment_notes(files),
            *check.ring.continues(),
            *clock_notes(recorded),
        ),
        story=story(packet.statement, check.own, verdict, texts) if holds else (),
        repair_order=packet.repair_order if holds else None,
        verdict=said_verdict(verdict) if holds else None,
        statement=packet.statement if holds else (),
        recorded=recorded,
        attested=tuple(check.ring.attested),
        expected_key=None if expect_key == fingerprint else expect_key,
        texts=texts,
        attachments=files,
        last_event=max((p.seq for p in check.own), default=None),
        packet=packet,
        payloads=tuple(check.payloads.values()) if holds else (),
    )
