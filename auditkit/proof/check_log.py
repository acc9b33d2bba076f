"""The check of a whole log: every entry, every checkpoint, every disclosure.

Pure: rows come in, problems go out. Every problem is reported with its sequence
number; the first one stops nothing. A log may be checked in parts, each by itself
and in any process: a part needs the keys and the leaf hash before its first row.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from auditkit.errors import AuditkitError, VerificationError
from auditkit.proof import disclosure, entry, merkle
from auditkit.proof.check_report import CheckReport, LogProblem, Unmet, clock_notes
from auditkit.proof.entry import HEADERS, Payload, parse_payload
from auditkit.proof.keyring import KeyRing
from auditkit.proof.keys import PublicKey
from auditkit.proof.log_kinds import LOG_KINDS
from auditkit.proof.note import Checkpoint, open_checkpoint

if TYPE_CHECKING:
    from auditkit.proof.row import Row

_SHOWN = 5  # entries that a note names
_TOGETHER = 64  # signatures that are verified one after the other


@dataclass(frozen=True, slots=True)
class LogPart:
    """What the check of some consecutive rows found, and what the rest needs of it.

    ``roots`` are the roots that entries state, to be compared once the whole tree is
    known: place among ``leaves`` -> sequence number, root in hex.
    """

    problems: tuple[LogProblem, ...]
    leaves: tuple[bytes, ...]
    digests: dict[int, dict[str, str]]
    recorded: tuple[tuple[int, str], ...] = ()
    roots: Mapping[int, tuple[int, str]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class EnrolledKeys:
    """The keys that a log's own events enrol, and what is wrong with those events."""

    ring: KeyRing
    problems: tuple[LogProblem, ...]


def read_keys(log_rows: Iterable[Row]) -> EnrolledKeys:
    """Return the keys that the log's own events enrol, in their order."""
    ring = KeyRing()
    problems: list[LogProblem] = []
    for row in log_rows:
        try:
            payload = parse_payload(row.entry.payload)
            entry.verify(row.entry, ring.signer(payload))
            ring.learn(payload)
        except AuditkitError as error:
            problems.append(LogProblem(row.entry.seq, error.message))
    return EnrolledKeys(ring, tuple(problems))


class _PartCheck:
    def __init__(self, ring: KeyRing, start: int, previous: bytes | None) -> None:
        self.ring = ring
        self.problems: list[LogProblem] = []
        self.leaves: list[bytes] = []
        self.digests: dict[int, dict[str, str]] = {}
        self.recorded: list[tuple[int, str]] = []
        self.roots: dict[int, tuple[int, str]] = {}
        self.expected = start
        self._previous = previous
        self._waiting: list[tuple[int, PublicKey, bytes, bytes]] = []

    def problem(self, seq: int, text: str) -> None:
        self.problems.append(LogProblem(seq, text))

    def row(self, row: Row) -> None:
        seq = row.entry.seq
        if seq != self.expected:
            text = f"entry {self.expected} is missing before it"
            self.problem(seq, text if seq > self.expected else "it is out of place")
        self.expected = seq + 1
        message = row.entry.signing_input
        leaf = entry.leaf_hash(message, row.entry.signature)
        if leaf != row.leaf:
            self.problem(seq, "its leaf hash is not that of its text and signature")
        self._signed(row, message)
        self._previous = leaf
        self.leaves.append(leaf)

    def _signed(self, row: Row, message: bytes) -> None:
        seq = row.entry.seq
        if row.entry.header not in HEADERS:
            self.problem(seq, "its header is not one of this format's")
            return
        try:
            payload = parse_payload(row.entry.payload)
        except AuditkitError as error:
            self.problem(seq, f"its payload cannot be read: {error.message}")
            return
        self._columns(row, payload)
        self.recorded.append((seq, payload.recorded_at))
        self.roots[len(self.leaves)] = seq, payload.root
        if payload.withheld:
            self.digests[seq] = disclosure.digests(payload.event, payload.withheld)
        try:
            key = self.ring.signer(payload)
        except AuditkitError as error:
            self.problem(seq, error.message)
            return
        self._waiting.append((seq, key, row.entry.signature, message))
        if len(self._waiting) == _TOGETHER:
            self.signatures()

    def signatures(self) -> None:
        """Verify the waiting signatures together, as a packet's are verified."""
        for seq, key, signature, message in self._waiting:
            try:
                key.verify(signature, message)
            except VerificationError:
                self.problem(seq, "its signature does not fit its text and key")
        self._waiting.clear()

    def _columns(self, row: Row, payload: Payload) -> None:
        seq = row.entry.seq
        prev = None if self._previous is None else self._previous.hex()
        for name, column, signed in (
            ("sequence number", seq, payload.seq),
            ("repair order", row.repair_order, payload.repair_order),
            ("kind", row.kind, payload.event.get("kind")),
        ):
            if column != signed:
                text = f"its column says {name} {column!r}, what was signed {signed!r}"
                self.problem(seq, text)
        if (payload.repair_order is None) != (payload.event.get("kind") in LOG_KINDS):
            self.problem(seq, "a log event and a repair order's event are mixed up")
        if payload.prev != prev:
            self.problem(seq, "it does not name the leaf hash of the entry before it")
        if payload.log != self.ring.origin:
            self.problem(seq, f"it was written for another log, {payload.log!r}")


def check_part(
    rows: Iterable[Row],
    ring: KeyRing,
    *,
    start: int = 0,
    stop: int | None = None,
    previous: bytes | None = None,
) -> LogPart:
    """Return what the rows ``start`` to ``stop`` hold.

    ``previous`` is the leaf hash kept for the row before; the part that holds that
    row is the one that checks it.
    """
    check = _PartCheck(ring, start, previous)
    for row in rows:
        check.row(row)
    check.signatures()
    if stop is not None and check.expected < stop:
        check.problem(check.expected, "the entry is missing")
    return LogPart(
        tuple(check.problems),
        tuple(check.leaves),
        check.digests,
        tuple(check.recorded),
        check.roots,
    )


class _Whole:
    """The parts put together, and held against checkpoints and disclosures."""

    def __init__(
        self, keys: EnrolledKeys, parts: Sequence[LogPart], sizes: set[int]
    ) -> None:
        self.ring = keys.ring
        sizes |= {found.checkpoint.size for found in self.ring.attested}
        found = [*keys.problems, *(p for part in parts for p in part.problems)]
        self.problems: set[LogProblem] = set(found)
        self.digests = {s: d for part in parts for s, d in part.digests.items()}
        frontier = merkle.Frontier()
        self.roots = {0: merkle.EMPTY_ROOT}
        fitted = True
        for part in parts:
            for place, leaf in enumerate(part.leaves):
                if place in part.roots:
                    seq, stated = part.roots[place]
                    fits = stated == frontier.root().hex()
                    if fitted and not fits:  # those after it may differ for its sake
                        text = "its root is not that of the entries before it"
                        self.problem(seq, text)
                    fitted = fits
                frontier.append(leaf)
                if frontier.size in sizes:
                    self.roots[frontier.size] = frontier.root()
        self.size = frontier.size
        self.kept: set[str] = set()

    def problem(self, seq: int | None, text: str) -> None:
        self.problems.add(LogProblem(seq, text))

    def disclosures(
        self, rows: Iterable[tuple[int, str, str]], *, signatures: bool
    ) -> None:
        """Check that every disclosure kept is one that its entry signed for."""
        for seq, digest, text in rows:
            self.kept.add(digest)
            if disclosure.digest(text) != digest:
                self.problem(seq, "a disclosure is not the one its digest names")
            elif signatures and digest not in self.digests.get(seq, {}):
                self.problem(seq, "a disclosure belongs to no digest of the entry")
            elif signatures and not disclosure.is_decoy(text):
                self.named(seq, self.digests[seq][digest], text)
            if digest in self.ring.erased:
                erasure = self.ring.erased[digest]
                said = f"the text that entry {erasure.seq} erased is kept still"
                self.problem(seq, f"{said}, at {erasure.path}")

    def named(self, seq: int, path: str, text: str) -> None:
        """Check that a disclosure gives the member that its digest was signed for."""
        try:
            disclosure.disclosed(path, text)
        except VerificationError as error:
            self.problem(seq, error.message)

    def erasures(self) -> None:
        """Check that every text said to be erased is one that an entry withheld."""
        signed = {d: (s, p) for s, f in self.digests.items() for d, p in f.items()}
        for digest, erasure in self.ring.erased.items():
            if signed.get(digest) != (erasure.of, erasure.path):
                text = f"it erases a text at {erasure.path} that no entry withholds"
                self.problem(erasure.seq, text)

    def attested(self) -> None:
        """Check that what outsiders attested is of this very log."""
        for found in self.ring.attested:
            size, root = found.checkpoint.size, found.checkpoint.root
            if self.roots.get(size) != root:
                text = (
                    f"it attests a checkpoint of size {size} with another root: the "
                    f"first {size} entries are not those that it was made over"
                )
                self.problem(found.seq, text)

    def gone(self, *, signatures: bool) -> tuple[str, ...]:
        """Return a note for the texts erased, and one for those lost."""
        notes: list[str] = []
        erased = self.ring.erased
        if erased:
            notes.append(f"withheld texts erased, as the log says: {len(erased)}")
        lost = {
            seq: len(gone)
            for seq, found in self.digests.items()
            if (gone := found.keys() - self.kept - erased.keys())
        }
        if lost and signatures:
            where = ", ".join(str(seq) for seq in sorted(lost)[:_SHOWN])
            more = ", ..." if len(lost) > _SHOWN else ""
            notes.append(
                f"withheld texts lost: {sum(lost.values())} (entries {where}{more}): "
                "nothing discloses them and no entry says that they were erased"
            )
        return tuple(notes)

    def checkpoint(self, size: int | None, note: str, what: str) -> Checkpoint | None:
        """Check one checkpoint against the tree; return it where it holds."""
        if self.ring.log_key is None:
            self.problem(None, "no key is known to check the checkpoints with")
            return None
        try:
            checkpoint = open_checkpoint(note, self.ring.log_key)
        except AuditkitError as error:
            self.problem(None, f"{what}: {error.message}")
            return None
        if size is not None and checkpoint.size != size:
            text = f"the checkpoint filed under size {size} says {checkpoint.size}"
            self.problem(None, text)
            return None
        return checkpoint if self._fits(checkpoint, what) else None

    def _fits(self, checkpoint: Checkpoint, what: str) -> bool:
        """Return whether the first entries have the root that was signed.

        It is computed anew from the leaves, which is what a consistency proof (RFC
        9162 2.1.4) would show to someone without the log.
        """
        size = checkpoint.size
        if checkpoint.origin != self.ring.origin:
            text = f"{what} is of another log, {checkpoint.origin!r}"
        elif size > self.size:
            text = (
                f"{what} says {size} entries, the log holds {self.size}: "
                "entries were removed"
            )
        elif self.roots.get(size) != checkpoint.root:
            text = (
                f"{what} of size {size} has another root: the first {size} "
                "entries are not those it was signed over"
            )
        else:
            return True
        self.problem(None, text)
        return False


def judge_log(  # noqa: PLR0913  each is one thing that a caller may hold
    keys: EnrolledKeys,
    parts: Sequence[LogPart],
    checkpoints: Sequence[tuple[int, str]],
    disclosures: Iterable[tuple[int, str, str]],
    *,
    signatures: bool = True,
    trust: str | None = None,
    trust_size: int | None = None,
    expect_key: str | None = None,
) -> CheckReport:
    """Return what holds and what does not, from the parts of a whole log.

    ``expect_key`` is the thumbprint (RFC 7638) that a reader got elsewhere. ``trust``
    is the text of an earlier checkpoint and ``trust_size`` the size it states.
    """
    sizes = {size for size, _ in checkpoints} | {trust_size or 0}
    whole = _Whole(keys, parts, sizes)
    newest: Checkpoint | None = None
    for size, note in checkpoints:
        newest = whole.checkpoint(size, note, "the checkpoint") or newest
    whole.disclosures(disclosures, signatures=signatures)
    whole.attested()
    if signatures and keys.ring.erased:
        whole.erasures()
    if trust is not None:
        whole.checkpoint(None, trust, "the trusted checkpoint")
    found = keys.ring.log_key.thumbprint if keys.ring.log_key else ""
    if expect_key is not None and expect_key != found:
        text = f"the log's key is {found or 'unknown'}, not the expected {expect_key}"
        whole.problems.add(LogProblem(None, text, Unmet.KEY))
    if whole.size == 0:
        whole.problem(None, "the log holds no entry")
    problems = sorted(
        whole.problems, key=lambda p: (p.seq is None, p.seq or 0, p.problem)
    )
    recorded = tuple(pair for part in parts for pair in part.recorded)
    return CheckReport(
        verified=not problems,
        entries=whole.size,
        checkpoint=newest,
        log_key=found,
        problems=tuple(problems),
        notes=(
            *_notes(newest, whole.size, signatures=signatures, trusted=bool(trust)),
            *whole.gone(signatures=signatures),
            *keys.ring.continues(),
            *_closed(keys.ring),
            *clock_notes(recorded),
        ),
        recorded=recorded,
        attested=tuple(keys.ring.attested),
    )


def _closed(ring: KeyRing) -> tuple[str, ...]:
    if ring.closed is None:
        return ()
    return (f"the log was closed by entry {ring.closed}: nothing may follow it",)


def _notes(
    newest: Checkpoint | None, entries: int, *, signatures: bool, trusted: bool
) -> tuple[str, ...]:
    notes: list[str] = []
    if not signatures:
        notes.append(
            "signatures of entries were not checked, as asked; of the roots that "
            "entries state, those of the last entry and of those at a checkpoint were"
        )
    covered = newest.size if newest else 0
    if covered < entries:
        notes.append(f"{entries - covered} entries are newer than the last checkpoint")
    if not trusted:
        notes.append(
            "compared with no earlier checkpoint: whoever holds one can check with "
            "--trust that nothing was removed or rewritten since"
        )
    return tuple(notes)
