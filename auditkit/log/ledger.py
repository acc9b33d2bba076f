"""The one place where things meet: open, record, close, verify, packet.

A ledger is a log file and the keys beside it. Everything that is decided is
decided elsewhere; this module reads the clock and orders the writes. It is
long because it is the whole face of a log: reading, writing, keys, proving.
"""

from __future__ import annotations

import difflib
import hashlib
import secrets
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Self

from auditkit.errors import AuditkitError, InputError, KeyProblem, LogError
from auditkit.log import key_files, log_events, newest_checkpoint
from auditkit.log.logged_order import (
    AlreadyErasedError,
    LoggedEvent,
    LoggedOrder,
    OrderLine,
    closed_alike,
    erasable,
    held_texts,
    new_events,
    order_line,
)
from auditkit.log.packet_maker import make_packet
from auditkit.log.sealing import Clock, Writer, stamp, withhold
from auditkit.log.store import Store
from auditkit.log.verify_log import verify_store
from auditkit.order.events import RepairOrder
from auditkit.order.policy import DEFAULT, Policy
from auditkit.order.statement import verdict_event
from auditkit.proof import disclosure, merkle, note, timestamp
from auditkit.proof import entry as entries
from auditkit.proof.check_report import Report
from auditkit.proof.entry import LOG_SIGNER
from auditkit.proof.keyring import KeyRing
from auditkit.proof.keys import PrivateKey, PublicKey, SigningKey
from auditkit.proof.row import Row
from auditkit.text.values import Json

if TYPE_CHECKING:
    from pathlib import Path

    from auditkit.order.catalogue import Judgement
    from auditkit.order.findings import Verdict
    from auditkit.order.record import Record


@dataclass(frozen=True, slots=True)
class Recorded:
    """What one call of ``record`` wrote. ``written`` counts the new entries."""

    order_id: str
    first_seq: int
    last_seq: int
    written: int
    verdict: Verdict | None
    checkpoint_note: str


@dataclass(frozen=True, slots=True)
class Erased:
    """What one call of ``erase`` erased: (entry, path) each; ``seq`` says so."""

    order_id: str
    seq: int
    texts: tuple[tuple[int, str], ...]


@dataclass(frozen=True, slots=True)
class Person:
    """A person whose key may sign, or once might."""

    id: str
    role: str
    thumbprint: str
    enrolled_seq: int
    revoked_seq: int | None
    has_private: bool


def _now() -> datetime:
    return datetime.now(UTC)


class Ledger:
    """A shop's log. Make it with ``create`` or ``open``; close it after use."""

    def __init__(self, store: Store, *, clock: Clock = _now) -> None:
        self._store = store
        self._clock = clock
        self._keys = key_files.folder_of(store.path)
        self._unlocked: dict[tuple[str, bytes], SigningKey] = {}
        self.on_sealed: Callable[[int, str], None] | None = None
        self.ring = KeyRing()
        self.shop = ""
        self._last_log_seq = -1
        self._is_current = False
        try:
            self._read_ring()
        except AuditkitError as error:
            store.close()
            what_to_do = "run 'auditkit verify' on it, and restore it from a backup"
            raise LogError(
                error.message, where=str(store.path), what_to_do=what_to_do
            ) from error

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Close the log file."""
        self._store.close()

    @property
    def origin(self) -> str:
        """The log's name, as its checkpoints state it."""
        return self.ring.origin

    @property
    def log_key(self) -> PublicKey:
        """The log's public key; its thumbprint is the shop's fingerprint."""
        if self.ring.log_key is None:
            message = "the log names no key"
            raise LogError(message, where=str(self._store.path))
        return self.ring.log_key

    @classmethod
    def create(  # noqa: PLR0913  each is stated once, when a shop begins
        cls,
        path: Path,
        *,
        shop: str,
        passphrase: bytes,
        origin: str | None = None,
        person: str = "owner",
        log_key: key_files.Kept | None = None,
        person_key: key_files.Kept | None = None,
        predecessor: Mapping[str, Json] | None = None,
        clock: Clock = _now,
    ) -> Self:
        """Begin a log: its key, the first person's key, and the first checkpoint.

        Keys are made unless they are given. ``predecessor`` says which log this one
        continues, as the schema of ``log_opened`` has it; see ``succession``.
        """
        log_key = log_key or PrivateKey.generate()
        person_key = person_key or PrivateKey.generate()
        name = origin or f"log-{secrets.token_hex(8)}"
        opened = log_events.opening(
            stamp(clock()),
            origin=name,
            shop=shop,
            log_key=log_key.public,
            predecessor=predecessor,
        )
        enrolled = log_events.enrolment(
            stamp(clock()), person=person, key=person_key.public, role="owner"
        )
        note.vkey(name, log_key.public)
        folder = key_files.folder_of(path)
        if path.exists() or folder.exists():
            taken = path if path.exists() else folder
            message = "this exists already"
            what_to_do = "choose another path: a log is never overwritten"
            if not path.exists():
                what_to_do += (
                    "; remove the folder if the start that made it was stopped"
                )
            raise LogError(message, where=str(taken), what_to_do=what_to_do)
        key_files.save(folder, LOG_SIGNER, log_key, passphrase)
        key_files.save(folder, person, person_key, passphrase)
        store = Store.create(path)
        writer = Writer(store, name, clock)
        with store.transaction():
            writer.start()
            writer.add(None, opened, LOG_SIGNER, log_key)
            writer.add(None, enrolled, LOG_SIGNER, log_key)
            writer.finish(log_key)
        made = cls(store, clock=clock)
        made._tell(writer)
        return made

    @classmethod
    def open(cls, path: Path, *, clock: Clock = _now) -> Self:
        """Open a log. No key is needed to read it."""
        return cls(Store.open(path), clock=clock)

    def _read_ring(self) -> None:
        self.ring, self._last_log_seq = self._ring_read()

    def _ring_read(self) -> tuple[KeyRing, int]:
        ring, last = KeyRing(), -1
        for row in self._store.log_rows():
            payload = entries.parse_payload(row.entry.payload)
            entries.verify(row.entry, ring.signer(payload))
            ring.learn(payload)
            last = payload.seq
            if payload.seq == 0:
                self.shop = str(payload.event.get("shop", ""))
        return ring, last

    # Reading

    def orders(self) -> tuple[OrderLine, ...]:
        """Return a line for every repair order, in order of their first entry."""
        return tuple(order_line(self.show(i)) for i in self._store.order_ids())

    def show(self, order_id: str) -> LoggedOrder:
        """Return a repair order's events; raise InputError where there is none."""
        rows = self._store.order_rows(order_id)
        if not rows:
            near = difflib.get_close_matches(order_id, self._store.order_ids(), n=3)
            known = (
                f"did you mean {', '.join(near)}?" if near else "see 'auditkit list'"
            )
            message = f"the log holds no repair order {order_id!r}"
            raise InputError(message, where=str(self._store.path), what_to_do=known)
        return LoggedOrder(order_id, tuple(self._logged(row) for row in rows))

    def readouts(self) -> dict[str, set[str]]:
        """Return the SHA-256 of every logged readout's raw text -> orders that hold it.

        Texts that were withheld or erased are not among them.
        """
        found: dict[str, set[str]] = {}
        for row in self._store.rows_of("readout"):
            payload = entries.parse_payload(row.entry.payload)
            text = payload.event.get("raw")
            if payload.repair_order is not None and isinstance(text, str):
                digest = hashlib.sha256(text.encode()).hexdigest()
                found.setdefault(digest, set()).add(payload.repair_order)
        return found

    def _logged(self, row: Row) -> LoggedEvent:
        payload = entries.parse_payload(row.entry.payload)
        kept = {d: text for _, d, text in self._store.disclosures(row.entry.seq)}
        given = [t for t in kept.values() if not disclosure.is_decoy(t)]
        event, hidden = disclosure.reveal(payload.event, given)
        return LoggedEvent(
            row.entry.seq,
            payload.recorded_at,
            payload.by,
            event,
            hidden,
            payload.event,
            held_texts(payload.event, kept, self.ring.erased),
        )

    def people(self) -> tuple[Person, ...]:
        """Return every person ever enrolled, a line a key."""
        return tuple(
            Person(
                id=person,
                role=self._role(seq),
                thumbprint=thumbprint,
                enrolled_seq=seq,
                revoked_seq=self.ring.revoked.get(thumbprint),
                has_private=key_files.has(self._keys, person),
            )
            for thumbprint, (person, _, seq) in self.ring.enrolled.items()
        )

    def _role(self, seq: int) -> str:
        row = next(iter(self._store.rows(seq, seq + 1)))
        return str(entries.parse_payload(row.entry.payload).event.get("role", ""))

    def checkpoint(self) -> str:
        """Return the text of the newest signed checkpoint."""
        found = self._store.checkpoints()
        if not found:
            message = "the log holds no checkpoint"
            raise LogError(
                message, where=str(self._store.path), what_to_do="restore it"
            )
        text = found[-1][1]
        # It may leave the shop now: what others hold is not signed on from below.
        known = newest_checkpoint.recall(self._keys, self.origin, self.log_key)
        if not newest_checkpoint.is_behind(self._store.leaves(), known):
            self._remember(text)
        return text

    def leaves(self) -> list[bytes]:
        """Return every entry's leaf hash, in order."""
        return self._store.leaves()

    # Writing

    def record(  # noqa: PLR0913  each is a choice of whoever records
        self,
        record: Record,
        judgement: Judgement,
        *,
        passphrase: bytes,
        by: str | None = None,
        policy: Policy = DEFAULT,
        unproven_reason: str | None = None,
        keep_open: bool = False,
    ) -> Recorded:
        """Append a record's new events and, unless kept open, the verdict.

        All or nothing, in one transaction, with a checkpoint at its end. Events
        that the log holds already must be the same, in the same order.
        """
        if judgement.order_id != record.repair_order:
            message = f"the judgement is of repair order {judgement.order_id!r}"
            raise InputError(message, what_to_do="judge this record")
        if judgement.blocking and unproven_reason is None and not keep_open:
            message = (
                f"repair order {record.repair_order} is {judgement.verdict}: "
                f"{len(judgement.blocking)} findings block"
            )
            what_to_do = "settle them, or close it all the same with --unproven REASON"
            raise InputError(message, what_to_do=what_to_do)
        person = by or self._only_person()
        signer = self._private(person, passphrase)
        log_key = self._private_log(passphrase)
        writer = Writer(self._store, self.origin, self._clock)
        with self._store.transaction():
            logged = self._logged_events(record.repair_order)
            new = new_events(record, logged)
            self._begin(writer)
            seqs = [line.seq for line in logged if line.event.get("kind") != "verdict"]
            seqs += [
                self._seal(writer, record.repair_order, event, person, signer, policy)
                for event in new
            ]
            if not keep_open:
                order = RepairOrder.fold(record.repair_order, record.events)
                verdict = verdict_event(order, judgement, seqs, person, unproven_reason)
                if new or not closed_alike(logged, verdict):
                    self._refuse_signer(person, signer)
                    writer.add(
                        record.repair_order,
                        {**verdict, "at": stamp(self._clock())},
                        person,
                        signer,
                    )
            if writer.rows:
                writer.finish(log_key)
        self._tell(writer)
        return Recorded(
            order_id=record.repair_order,
            first_seq=writer.rows[0].entry.seq if writer.rows else logged[0].seq,
            last_seq=writer.rows[-1].entry.seq if writer.rows else logged[-1].seq,
            written=len(writer.rows),
            verdict=None if keep_open else judgement.verdict,
            checkpoint_note=self.checkpoint(),
        )

    def append(
        self,
        order_id: str,
        events: Sequence[Mapping[str, Json]],
        *,
        person: str,
        signer: SigningKey,
        policy: Policy = DEFAULT,
    ) -> tuple[int, ...]:
        """Append events that were validated before, in one durable transaction.

        Returns their sequence numbers. Writes no verdict and no checkpoint.
        """
        writer = Writer(self._store, self.origin, self._clock)
        with self._store.transaction():
            self._begin(writer)
            seqs = [
                self._seal(writer, order_id, event, person, signer, policy)
                for event in events
            ]
            writer.flush()
        self._tell(writer)
        return tuple(seqs)

    def _seal(  # noqa: PLR0913, PLR0917  what is sealed, by whom, and how
        self,
        writer: Writer,
        order_id: str,
        event: Mapping[str, Json],
        person: str,
        signer: SigningKey,
        policy: Policy,
    ) -> int:
        """Seal one event under the policy."""
        self._refuse_signer(person, signer)
        hidden, kept = withhold(event, policy)
        return writer.add(order_id, hidden, person, signer, kept)

    def _refuse_signer(self, person: str, signer: SigningKey) -> None:
        if not self.ring.may_sign(person, signer.public):
            message = f"the key given is no active key of {person!r}"
            raise KeyProblem(message, what_to_do="see 'auditkit key list'")

    def enrol(
        self,
        person: str,
        *,
        passphrase: bytes,
        role: str | None = None,
        key: PublicKey | None = None,
        own: key_files.Kept | None = None,
    ) -> Person:
        """Enrol a person with a new key, or with a public key of their own.

        ``own`` is a private key made elsewhere, in a token; its place is kept.

        A person whose earlier key is still active gets the new one beside it;
        revoke the old one to replace it.
        """
        log_key = self._private_log(passphrase)
        self._may_write()
        made = None if key is not None else own or PrivateKey.generate()
        public = key if made is None else made.public
        if public is None:  # pragma: no cover
            message = "no key was given"
            raise KeyProblem(message)
        event = log_events.enrolment(self._at(), person=person, key=public, role=role)
        if public.thumbprint in self.ring.enrolled:
            message = f"key {public.thumbprint} is enrolled already"
            raise KeyProblem(message, what_to_do="give another key")
        kept = None
        if made is not None:
            kept = key_files.save(self._keys, person, made, passphrase)
        try:
            self._log_event(event, log_key=log_key)
        except (AuditkitError, OSError):
            if kept is not None and public.thumbprint not in self.ring.enrolled:
                kept.unlink()  # else it would stand in the way of the next try
            raise
        return next(p for p in self.people() if p.thumbprint == public.thumbprint)

    def revoke(self, person: str, *, reason: str, passphrase: bytes) -> Person:
        """Revoke a person's active key: what it signs from now on is refused."""
        log_key = self._private_log(passphrase)
        self._may_write()
        active = self._active(person)
        event = log_events.revocation(
            self._at(), person=person, key=active, reason=reason
        )
        self._log_event(event, log_key=log_key)
        return next(p for p in self.people() if p.thumbprint == active.thumbprint)

    def rotate(self, person: str, *, reason: str, passphrase: bytes) -> Person:
        """Put a new key in the place of a person's active one, in one transaction.

        The new private key is written beside the old one before the log names it, and
        takes its place after: a run that was stopped is finished by the same call. The
        old private key is kept under another name; it signs nothing any more.
        """
        log_key = self._private_log(passphrase)
        self._may_write()
        active = self._active(person)
        role = next(p.role for p in self.people() if p.thumbprint == active.thumbprint)
        new = key_files.waiting(
            self._keys, person, passphrase, refused=self.ring.revoked
        )
        if new.thumbprint not in self.ring.enrolled:
            self._log_event(
                log_events.revocation(
                    self._at(), person=person, key=active, reason=reason
                ),
                log_events.enrolment(self._at(), person=person, key=new, role=role),
                log_key=log_key,
            )
        key_files.promote(self._keys, person, passphrase)
        self._unlocked.pop((person, passphrase), None)
        return next(p for p in self.people() if p.thumbprint == new.thumbprint)

    def _active(self, person: str) -> PublicKey:
        active = self.ring.active(person)
        if active is None:
            message = f"{person!r} has no active key"
            raise KeyProblem(message, what_to_do="see 'auditkit key list'")
        return active

    def erase(
        self, order_id: str, *, paths: Sequence[str], reason: str, passphrase: bytes
    ) -> Erased:
        """Erase withheld texts of a repair order for good; the log says that it was.

        A path (``customer.name``) also covers what an amendment corrected it to. The
        deletion and the log's entry are one transaction; the file is scrubbed after
        it. Erasing an erased text is an InputError, raised after scrubbing again.
        """
        log_key = self._private_log(passphrase)
        writer = Writer(self._store, self.origin, self._clock)
        try:
            with self._store.transaction():
                self._read_ring()
                texts = erasable(self.show(order_id).lines, paths)
                event = log_events.erasure(
                    self._at(),
                    order_id=order_id,
                    texts=((n, str(text.path), text.digest) for n, text in texts),
                    reason=reason,
                )
                self._begin(writer)
                seq = writer.add(None, event, LOG_SIGNER, log_key)
                writer.finish(log_key)
                self._store.erase_disclosures((s, t.digest) for s, t in texts)
        except AlreadyErasedError:
            self._scrub()  # a run that was stopped may have left this undone
            raise
        self._read_ring()
        self._tell(writer)
        self._scrub()
        return Erased(order_id, seq, tuple((s, str(t.path)) for s, t in texts))

    def _scrub(self) -> None:
        try:
            self._store.scrub()
        except LogError as error:
            message = (
                "the text is erased from the log, but traces of it may lie in the "
                f"file still: {error.message}"
            )
            what_to_do = f"{error.what_to_do}; then give the same command again"
            raise LogError(message, where=error.where, what_to_do=what_to_do) from error

    def attest(
        self, text: str, *, passphrase: bytes, token: bytes | None = None
    ) -> int:
        """Keep in the log what outsiders said of one of its checkpoints; return where.

        ``text`` is the checkpoint with cosignatures below, ``token`` a time stamp (RFC
        3161) over that very text. Who said it is not judged here: whoever reads the log
        decides whom to believe.
        """
        log_key = self._private_log(passphrase)
        checkpoint = note.open_checkpoint(text, self.log_key)
        leaves = self._store.leaves()[: checkpoint.size]
        known = note.Checkpoint(self.origin, len(leaves), merkle.root(leaves))
        if checkpoint != known or not leaves:
            message = "this checkpoint is not of the entries that this log holds"
            what_to_do = f"run 'auditkit verify {self._store.path}' with it as --trust"
            raise InputError(message, what_to_do=what_to_do)
        if token is not None:
            timestamp.check_imprint(token, text)
        elif all(f"\u2014 {self.origin} " in line for line in note.split_note(text)[1]):
            message = "nobody but the log itself signed this checkpoint"
            what_to_do = (
                "give one that a witness cosigned, or a time stamp with --stamp"
            )
            raise InputError(message, what_to_do=what_to_do)
        event = log_events.attestation(self._at(), text, token)
        self._log_event(event, log_key=log_key)
        return self._last_log_seq

    def close_for(
        self,
        successor: str,
        log_key: PublicKey,
        *,
        reason: str,
        passphrase: bytes,
        size: int,
    ) -> int:
        """Close the log for good, for a successor's sake; return the closing entry.

        ``size`` is how many entries the successor knows of; LogError for any other.
        """
        own = self._private_log(passphrase)
        event = log_events.closing(
            self._at(), successor=successor, log_key=log_key, reason=reason
        )
        self._log_event(event, log_key=own, size=size)
        return self._last_log_seq

    def _at(self) -> str:
        return stamp(self._clock())

    def _log_event(
        self, *events: dict[str, Json], log_key: SigningKey, size: int | None = None
    ) -> None:
        writer = Writer(self._store, self.origin, self._clock)
        with self._store.transaction():
            self._begin(writer)
            if size not in (None, self._store.head()[0]):
                message = "the log grew meanwhile"
                raise LogError(
                    message, where=str(self._store.path), what_to_do="run it again"
                )
            for event in events:
                writer.add(None, event, LOG_SIGNER, log_key)
            writer.finish(log_key)
            read = self._ring_read()  # what could not be read again is not written
        self.ring, self._last_log_seq = read
        self._tell(writer)

    def _may_write(self) -> None:
        """Read what other programs wrote meanwhile; raise where nothing may be signed.

        To be asked before a key file is written that belongs to an entry.
        """
        with self._store.transaction():
            self._begin(Writer(self._store, self.origin, self._clock))

    def _begin(self, writer: Writer) -> None:
        """Read the head, within a transaction; refuse to sign where that would fork."""
        if self._store.last_log_seq() != self._last_log_seq:
            self._read_ring()  # another program wrote to the log meanwhile
        if self.ring.closed is not None:
            message = f"this log was closed by entry {self.ring.closed}"
            what_to_do = "write to the log that continues it; see 'auditkit verify'"
            raise LogError(message, where=str(self._store.path), what_to_do=what_to_do)
        if not self._is_current:
            leaves = self._store.leaves()
            newest_checkpoint.refuse_behind(
                self._store.path, self._keys, leaves, self.origin, self.log_key
            )
            self._is_current = True
        writer.start()

    def _remember(self, text: str) -> None:
        try:
            with self._store.transaction():  # one program at a time
                newest_checkpoint.remember(self._keys, text, self.log_key)
        except OSError as error:
            message = (
                "the entries are written, but the newest checkpoint could not be kept "
                f"beside the keys: {error.strerror or error}"
            )
            what_to_do = "free some space or set the rights; the next entry keeps it"
            raise LogError(
                message, where=str(self._keys), what_to_do=what_to_do
            ) from error

    def _tell(self, writer: Writer) -> None:
        if writer.checkpoint_note:
            self._remember(writer.checkpoint_note)
        if self.on_sealed is not None:
            for row in writer.rows:
                self.on_sealed(row.entry.seq, row.entry.payload)

    def _only_person(self) -> str:
        people = [p.id for p in self.people() if p.revoked_seq is None]
        here = [p for p in dict.fromkeys(people) if key_files.has(self._keys, p)]
        if len(here) == 1:
            return here[0]
        if not here:
            message = f"no person's key lies in {self._keys}"
            what_to_do = "put the folder back, or see 'auditkit init --after'"
            raise KeyProblem(message, what_to_do=what_to_do)
        message = f"who records? keys of {', '.join(here)} lie here"
        raise KeyProblem(message, what_to_do="say it with --by PERSON")

    def _private(self, person: str, passphrase: bytes) -> SigningKey:
        active = self.ring.active(person)
        if active is None:
            message = f"{person!r} has no active key in this log"
            raise KeyProblem(message, what_to_do=f"run 'auditkit key enrol {person}'")
        key = self._unlock(person, passphrase)
        if key.public != active:  # the file may be another than when it was opened
            self._unlocked.pop((person, passphrase), None)
            key = self._unlock(person, passphrase)
        if key.public != active:
            message = f"the key file of {person!r} is not the key enrolled last"
            what_to_do = f"restore it, or revoke the key and enrol {person!r} anew"
            raise KeyProblem(message, where=str(self._keys), what_to_do=what_to_do)
        return key

    def _private_log(self, passphrase: bytes) -> SigningKey:
        key = self._unlock(LOG_SIGNER, passphrase)
        if key.public != self.log_key:
            message = "the log's key file is not the key that opened this log"
            raise KeyProblem(message, where=str(self._keys), what_to_do="restore it")
        return key

    def _unlock(self, name: str, passphrase: bytes) -> SigningKey:
        """Open a key file once: guessing is made slow, and so is opening."""
        known = self._unlocked.get((name, passphrase))
        if known is None:
            known = key_files.load(self._keys, name, passphrase)
            self._unlocked[name, passphrase] = known
        return known

    def signer(self, person: str, passphrase: bytes) -> SigningKey:
        """Return the private key of an enrolled person, for ``append``."""
        return self._private(person, passphrase)

    def _logged_events(self, order_id: str) -> tuple[LoggedEvent, ...]:
        return tuple(self._logged(row) for row in self._store.order_rows(order_id))

    # Proving

    def verify(
        self,
        *,
        signatures: bool = True,
        trust: str | None = None,
        expect_key: str | None = None,
        progress: Callable[[int, int], None] | None = None,
    ) -> Report:
        """Check the whole log; ``trust`` is the text of an earlier checkpoint."""
        return verify_store(
            self._store,
            signatures=signatures,
            trust=trust,
            expect_key=expect_key,
            progress=progress,
        )

    def packet(
        self,
        order_id: str,
        *,
        reveal: Sequence[str] = (),
        since: Sequence[tuple[int, bytes]] = (),
    ) -> str:
        """Return the packet of a closed repair order.

        ``reveal`` lists the withheld paths to disclose (``customer.name``);
        ``*`` discloses all. By default no person is disclosed. ``since`` are size and
        root of checkpoints that the reader holds, which the packet shall reach back to.
        """
        shown = self.show(order_id)
        if shown.verdict is None:
            message = (
                f"repair order {order_id} is not closed: its last entry is no verdict"
            )
            what_to_do = "record it whole, without --keep-open"
            raise InputError(
                message, where=str(self._store.path), what_to_do=what_to_do
            )
        lines = shown.verdict.get("statement")
        made = make_packet(
            self._store,
            self.ring,
            self.log_key,
            order_id,
            [str(line) for line in lines] if isinstance(lines, list) else [],
            reveal=reveal,
            since=since,
        )
        self.checkpoint()  # it leaves the shop within the packet
        return made
