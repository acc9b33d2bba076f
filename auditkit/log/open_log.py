"""A log that is open: its file, its keys, who may sign, and the way to write to it.

What reading, recording, people and upkeep share. It reads the clock; they decide what
is written.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from typing import Self

from auditkit.errors import AuditkitError, KeyProblem, LogError
from auditkit.log import key_files, newest_checkpoint, successor_note
from auditkit.log.attachments import Attachments
from auditkit.log.kept_tree import KeptTree
from auditkit.log.proven_rows import ProvenRows
from auditkit.log.sealing import Clock, Writer, stamp
from auditkit.log.store import Store
from auditkit.log.surroundings import Surroundings, clock_back, on_share
from auditkit.proof import entry as entries
from auditkit.proof.entry import LOG_SIGNER
from auditkit.proof.keyring import KeyRing
from auditkit.proof.keys import PublicKey, SigningKey
from auditkit.proof.merkle import Frontier
from auditkit.text.values import Json


def now() -> datetime:
    """Return the time, in UTC."""
    return datetime.now(UTC)


class AfterWriting(UserWarning):
    """Something failed after entries were written: they are in the log."""


def _warn(text: str) -> None:
    warnings.warn(f"the entries are written; but {text}", AfterWriting, stacklevel=3)


def _extends(tree: KeptTree, frontier: Frontier, known: Frontier) -> bool:
    """Return whether the tree of a frontier begins with the leaves of one known."""
    if not 0 < known.size <= frontier.size:
        return False
    proven = tree.prove_consistency(known.size, frontier.size, frontier.root())
    return proven.root == known.root()


class OpenLog:
    """An open log file with the keys beside it. Close it after use.

    ``on_sealed`` is called with number and payload of each entry, once it is durable.
    A program that stays and answers people may set ``keeps_newest`` to False, and call
    ``keep_newest`` itself soon after, when nobody waits.
    """

    def __init__(self, store: Store, *, clock: Clock = now) -> None:
        self.store = store
        self.keys = key_files.folder_of(store.path)
        self.attachments = Attachments(store.path)
        self.on_sealed: Callable[[int, str], None] | None = None
        self.ring = KeyRing()
        self.shop = ""
        self.last_log_seq = -1
        self._clock = clock
        self._unlocked: dict[tuple[str, bytes], SigningKey] = {}
        self._log_key: SigningKey | None = None
        self.keeps_newest = True
        self._newest = ""
        self._is_current = False
        self._known: Frontier | None = None
        self.proven = ProvenRows()
        try:
            self.read_ring()
        except AuditkitError as error:
            store.close()
            raise LogError(
                error.message,
                where=str(store.path),
                what_to_do="run 'auditkit verify' on it, and restore it from a backup",
            ) from error

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Close the log file."""
        self.store.close()

    @property
    def origin(self) -> str:
        """The log's name, as its checkpoints state it."""
        return self.ring.origin

    @property
    def log_key(self) -> PublicKey:
        """The log's public key; its thumbprint is the shop's fingerprint."""
        if self.ring.log_key is None:
            raise LogError("the log names no key", where=str(self.store.path))
        return self.ring.log_key

    def at(self) -> str:
        """Return the time now, as the log's own events state it."""
        return stamp(self._clock())

    def read_ring(self) -> None:
        """Read again who may sign, from the log's own events."""
        self.ring, self.last_log_seq = self._ring_read()

    def _ring_read(self) -> tuple[KeyRing, int]:
        ring, last = KeyRing(), -1
        for row in self.store.log_rows():
            payload = entries.parse_payload(row.entry.payload)
            entries.verify(row.entry, ring.signer(payload))
            ring.learn(payload)
            last = payload.seq
            if payload.seq == 0:
                self.shop = str(payload.event.get("shop", ""))
        return ring, last

    # Writing

    @contextmanager
    def writing(self) -> Iterator[Writer]:
        """Yield a writer at the log's head, within one transaction.

        The caller ends with the writer's ``flush`` or ``finish``. What was written is
        told once it is durable.
        """
        with self.store.transaction():
            writer = self.begin()
            yield writer
        self.tell(writer)

    def write_own(
        self, *events: dict[str, Json], log_key: SigningKey, size: int | None = None
    ) -> int:
        """Write events of the log's own, and a checkpoint; return the last one's entry.

        ``size`` is how many entries the log shall hold before; LogError for any other.
        """
        with self.store.transaction():
            writer = self.begin()
            if size not in (None, self.store.head()[0]):
                raise LogError(
                    "the log grew meanwhile",
                    where=str(self.store.path),
                    what_to_do="run it again",
                )
            for event in events:
                writer.add(None, event, LOG_SIGNER, log_key)
            writer.finish(log_key)
            read = self._ring_read()  # what could not be read back is not written
        self.ring, self.last_log_seq = read
        self.tell(writer)
        return self.last_log_seq

    def may_write(self) -> None:
        """Read what other programs wrote since; raise where nothing may be signed.

        Call it before writing a key file that belongs to an entry.
        """
        with self.store.transaction():
            self.begin()

    def begin(self) -> Writer:
        """Return a writer at the log's head; call within a transaction.

        Refuses (LogError) where the log is closed or continued by another, or where
        signing would fork it.
        """
        self.learn_of_others()
        if self.ring.closed is not None:
            raise LogError(
                f"this log was closed by entry {self.ring.closed}",
                where=str(self.store.path),
                what_to_do="write to the log that continues it; see 'auditkit verify'",
            )
        successor_note.refuse_continued(self)
        if not self._is_current:
            newest_checkpoint.refuse_behind(self)
            self.erase_attachments()  # those not gone yet, or put back since
            self._look_around()
            self._is_current = True
        return Writer(self.store, self.origin, self._clock, self.frontier())

    def _look_around(self) -> None:
        """Warn of a clock that went back, and of a file that lies on a share."""
        size, _ = self.store.head()
        row = self.store.row(size - 1)
        last = (
            "" if row is None else entries.parse_payload(row.entry.payload).recorded_at
        )
        told = (clock_back(self._clock(), last), on_share(self.store.path))
        for text in filter(None, told):
            warnings.warn(text, Surroundings, stacklevel=2)

    @property
    def tree(self) -> KeptTree:
        """The log's tree, as it is kept beside the entries."""
        self.learn_of_others()
        return KeptTree(self.store, self.ring.signer)

    def learn_of_others(self) -> None:
        """Read again who may sign where another program wrote to the log meanwhile."""
        if self.store.last_log_seq() != self.last_log_seq:
            self.read_ring()

    def frontier(self) -> Frontier:
        """Return the frontier of all entries: the one known, unless others wrote.

        It is read and held against the last entry once, not for each row that is read.
        Rows that were proven are forgotten where it does not extend the one known.
        """
        known = self._known
        if known is None or (known.size, known.last) != self.store.head():
            tree = self.tree
            made = tree.frontier()
            if known is not None and not _extends(tree, made, known):
                self.proven.clear()
            known = self._known = made
        return known

    def erase_attachments(self) -> None:
        """Delete those that lie beside the log though an entry says they are erased."""
        for digest in self.ring.erased_attachments:
            if digest in self.attachments:
                self.attachments.erase(digest)

    def remember(self, text: str) -> None:
        """Keep a checkpoint beside the keys, where it is larger than the one kept.

        What is in the log stays in the log: AfterWriting is warned of where it fails.
        """
        try:
            with self.store.transaction():  # one program at a time
                newest_checkpoint.remember(self.keys, text, self.log_key)
        except (AuditkitError, OSError) as error:
            said = getattr(error, "strerror", None) or error
            _warn(
                f"the newest checkpoint could not be kept in {self.keys} ({said}); "
                "free some space or set the rights: the next entry keeps it"
            )

    def keep_newest(self) -> None:
        """Keep beside the keys the newest checkpoint that was signed here.

        Where this is late, or never comes, an older copy of the log that is put back
        may be signed on from, unless others hold that checkpoint.
        """
        if self._newest:
            self.remember(self._newest)
            self._newest = ""

    def tell(self, writer: Writer) -> None:
        """Remember what was written, and tell ``on_sealed``.

        It is written already: AfterWriting is warned of where being told fails.
        """
        self._known = writer.tree
        if writer.checkpoint_note:
            self._newest = writer.checkpoint_note
            if self.keeps_newest:
                self.keep_newest()
        if self.on_sealed is None:
            return
        for row in writer.rows:
            try:
                self.on_sealed(row.entry.seq, row.entry.payload)
            except Exception as error:  # noqa: BLE001  a plugin may raise anything
                _warn(f"a plugin failed at entry {row.entry.seq}: {error!r}")

    # Private keys

    def signer(self, person: str, passphrase: bytes) -> SigningKey:
        """Return the private key by which a person signs; KeyProblem without one."""
        enrolled = self.ring.enrolment(person)
        if enrolled is not None and not enrolled.role.signs:
            raise KeyProblem(
                f"{person!r} is enrolled as {enrolled.role}, and signs nothing",
                what_to_do="let somebody else sign, or ask a manager for another role",
            )
        return self.own_key(person, passphrase)

    def own_key(self, person: str, passphrase: bytes) -> SigningKey:
        """Return the private key of an enrolled person, whether it may sign or not."""
        active = self.ring.active(person)
        if active is None:
            raise KeyProblem(
                f"{person!r} has no active key in this log",
                what_to_do=f"run 'auditkit key enrol {person}'",
            )
        key = self._unlocked.get((person, passphrase))
        if key is None or key.public != active:
            key = key_files.load_active(self.keys, person, passphrase, active)
            self._unlocked[person, passphrase] = key
        return key

    def keep_unlocked(self, log_key: SigningKey) -> None:
        """Sign with this key as the log's from now on, whatever passphrase is given."""
        self._log_key = self._checked(log_key)

    def log_signer(self, passphrase: bytes) -> SigningKey:
        """Return the log's private key; KeyProblem where it does not open here."""
        if self._log_key is not None:
            return self._log_key
        key = self._unlocked.get((LOG_SIGNER, passphrase))
        if key is None:
            key = key_files.load(self.keys, LOG_SIGNER, passphrase)
            self._unlocked[LOG_SIGNER, passphrase] = key
        return self._checked(key)

    def _checked(self, key: SigningKey) -> SigningKey:
        if key.public != self.log_key:
            raise KeyProblem(
                "the log's key file is not the key that opened this log",
                where=str(self.keys),
                what_to_do="restore it",
            )
        return key

    def refuse_signer(self, person: str, signer: SigningKey) -> None:
        """Raise KeyProblem where a key is no active key of a person."""
        if not self.ring.may_sign(person, signer.public):
            raise KeyProblem(
                f"the key given is no active key of {person!r}",
                what_to_do="see 'auditkit key list'",
            )
