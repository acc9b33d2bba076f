"""The check of a whole log: every entry, every checkpoint, every disclosure.

Pure: rows come in, problems go out. Every problem is reported with its sequence
number; the first one stops nothing.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING

from auditkit import disclosure, entry, tree
from auditkit.entry import HEADERS, Entry, Payload, parse_payload
from auditkit.errors import AuditkitError, VerificationError
from auditkit.keys import PublicKey
from auditkit.note import Checkpoint, open_checkpoint
from auditkit.verification import KeyRing, LogProblem, Report

if TYPE_CHECKING:
    from auditkit.store import Row

Progress = Callable[[int, int], None]
_CHUNK = 4096


class LogCheck:
    """One walk over a log's rows in order, collecting problems."""

    def __init__(self, *, signatures: bool = True) -> None:
        self.signatures = signatures
        self.problems: list[LogProblem] = []
        self.ring = KeyRing()
        self.frontier = tree.Frontier()
        self.roots: dict[int, bytes] = {0: tree.EMPTY_ROOT}
        self._wanted: set[int] = set()
        self._digests: dict[int, set[str]] = {}
        self._expected = 0
        self._previous: bytes | None = None
        self._jobs: list[tuple[Entry, PublicKey]] = []

    def want_roots(self, sizes: Iterable[int]) -> None:
        """Say at which sizes the tree's root will be compared."""
        self._wanted.update(sizes)

    def walk(self, rows: Iterable[Row], total: int, progress: Progress | None) -> int:
        """Check every row; return how many there were."""
        with ThreadPoolExecutor(os.cpu_count() or 1) as pool:
            for count, row in enumerate(rows, 1):
                self._row(row)
                if len(self._jobs) >= _CHUNK:
                    self._flush(pool)
                    if progress is not None:
                        progress(count, total)
            self._flush(pool)
        self.roots[self.frontier.size] = self.frontier.root()
        return self.frontier.size

    def _problem(self, seq: int | None, text: str) -> None:
        self.problems.append(LogProblem(seq, text))

    def _row(self, row: Row) -> None:
        seq = row.entry.seq
        if seq != self._expected:
            text = f"entry {self._expected} is missing before it"
            self._problem(seq, text if seq > self._expected else "it is out of place")
        self._expected = seq + 1
        leaf = row.entry.leaf
        if leaf != row.leaf:
            self._problem(seq, "its leaf hash is not that of its text and signature")
        if self.signatures:
            self._signed(row)
        elif not self._names_previous(row.entry.payload):
            self._problem(seq, "it does not name the leaf hash of the entry before it")
        self._previous = leaf
        self.frontier.append(leaf)
        if self.frontier.size in self._wanted:
            self.roots[self.frontier.size] = self.frontier.root()

    def _names_previous(self, payload: str) -> bool:
        prev = "null" if self._previous is None else f'"{self._previous.hex()}"'
        return f',"prev":{prev},"recorded_at":"' in payload

    def _signed(self, row: Row) -> None:
        seq = row.entry.seq
        if row.entry.header not in HEADERS:
            self._problem(seq, "its header is not one of this format's")
            return
        try:
            payload = parse_payload(row.entry.payload)
        except AuditkitError as error:
            self._problem(seq, f"its payload cannot be read: {error.message}")
            return
        self._columns(row, payload)
        if '"_sd":' in row.entry.payload:
            self._digests[seq] = disclosure.digests(payload.event)
        try:
            key = self.ring.signer(payload)
            if payload.repair_order is None:
                entry.verify(row.entry, key)
                self.ring.learn(payload)
            else:
                self._jobs.append((row.entry, key))
        except AuditkitError as error:
            self._problem(seq, error.message)

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
                self._problem(seq, text)
        if payload.prev != prev:
            self._problem(seq, "it does not name the leaf hash of the entry before it")
        if self.ring.origin and payload.log != self.ring.origin:
            self._problem(seq, f"it was written for another log, {payload.log!r}")

    def _flush(self, pool: ThreadPoolExecutor) -> None:
        size = max(1, len(self._jobs) // (os.cpu_count() or 1) + 1)
        parts = [self._jobs[i : i + size] for i in range(0, len(self._jobs), size)]
        for bad in pool.map(_bad_signatures, parts):
            for seq in bad:
                self._problem(seq, "its signature does not fit its text and key")
        self._jobs = []

    def check_disclosures(self, rows: Iterable[tuple[int, str, str]]) -> None:
        """Check that every disclosure kept is one that its entry signed for."""
        for seq, digest, text in rows:
            if disclosure.digest(text) != digest:
                self._problem(seq, "a disclosure is not the one its digest names")
            elif self.signatures and digest not in self._digests.get(seq, set()):
                self._problem(seq, "a disclosure belongs to no digest of the entry")

    def check_checkpoint(self, size: int, note: str) -> Checkpoint | None:
        """Check one stored checkpoint against the tree; return it where it holds."""
        key = self.ring.log_key
        if key is None:
            self._problem(None, "no key is known to check the checkpoints with")
            return None
        try:
            checkpoint = open_checkpoint(note, key)
        except AuditkitError as error:
            self._problem(None, f"the checkpoint of size {size}: {error.message}")
            return None
        if checkpoint.size != size:
            text = f"the checkpoint filed under size {size} says {checkpoint.size}"
            self._problem(None, text)
            return None
        return checkpoint if self._fits(checkpoint, "the checkpoint") else None

    def _fits(self, checkpoint: Checkpoint, what: str) -> bool:
        size = checkpoint.size
        if checkpoint.origin != self.ring.origin:
            text = f"{what} is of another log, {checkpoint.origin!r}"
        elif size > self.frontier.size:
            text = (
                f"{what} says {size} entries, the log holds {self.frontier.size}: "
                "entries were removed"
            )
        elif self.roots.get(size) != checkpoint.root:
            text = (
                f"{what} of size {size} has another root: the first {size} "
                "entries are not those it was signed over"
            )
        else:
            return True
        self._problem(None, text)
        return False

    def check_trusted(self, note: str) -> None:
        """Check that the log extends an earlier checkpoint held elsewhere.

        The root over the first entries is computed anew, which is what an RFC
        9162 2.1.4 consistency proof would show to someone without the log.
        """
        key = self.ring.log_key
        if key is None:
            return
        try:
            checkpoint = open_checkpoint(note, key)
        except VerificationError as error:
            self._problem(None, f"the trusted checkpoint: {error.message}")
            return
        self._fits(checkpoint, "the trusted checkpoint")


def _bad_signatures(jobs: list[tuple[Entry, PublicKey]]) -> list[int]:
    bad: list[int] = []
    for signed, key in jobs:
        try:
            entry.verify(signed, key)
        except VerificationError:
            bad.append(signed.seq)
    return bad


def check_log(  # noqa: PLR0913  each is one thing that a caller may hold
    rows: Iterator[Row],
    checkpoints: tuple[tuple[int, str], ...],
    disclosures: Iterable[tuple[int, str, str]],
    *,
    log_key: PublicKey | None = None,
    signatures: bool = True,
    trust: str | None = None,
    trust_size: int | None = None,
    expect_key: str | None = None,
    total: int = 0,
    progress: Progress | None = None,
) -> Report:
    """Return what holds and what does not, for a whole log.

    ``log_key`` and the origin are read from the log itself where signatures are
    checked; without, the caller passes the key. ``expect_key`` is the thumbprint
    (RFC 7638) that a reader got elsewhere. ``trust`` is the text of an earlier
    checkpoint and ``trust_size`` the size it states.
    """
    check = LogCheck(signatures=signatures)
    check.want_roots(size for size, _ in checkpoints)
    if trust_size is not None:
        check.want_roots([trust_size])
    entries = check.walk(rows, total, progress)
    if not signatures and log_key is not None:
        check.ring.log_key = log_key
        check.ring.origin = check.ring.origin or _origin(checkpoints)
    newest: Checkpoint | None = None
    for size, note in checkpoints:
        newest = check.check_checkpoint(size, note) or newest
    check.check_disclosures(disclosures)
    if trust is not None:
        check.check_trusted(trust)
    found = check.ring.log_key.thumbprint if check.ring.log_key else ""
    if expect_key is not None and expect_key != found:
        text = f"the log's key is {found or 'unknown'}, not the expected {expect_key}"
        check.problems.append(LogProblem(None, text))
    if entries == 0:
        check.problems.append(LogProblem(None, "the log holds no entry"))
    return Report(
        verified=not check.problems,
        entries=entries,
        checkpoint=newest,
        log_key=found,
        problems=tuple(
            sorted(check.problems, key=lambda p: (p.seq is None, p.seq or 0, p.problem))
        ),
        notes=_notes(check, newest, entries, trusted=trust is not None),
    )


def _origin(checkpoints: tuple[tuple[int, str], ...]) -> str:
    return checkpoints[-1][1].partition("\n")[0] if checkpoints else ""


def _notes(
    check: LogCheck, newest: Checkpoint | None, entries: int, *, trusted: bool
) -> tuple[str, ...]:
    notes: list[str] = []
    if not check.signatures:
        notes.append("signatures of entries were not checked, as asked")
    covered = newest.size if newest else 0
    if covered < entries:
        notes.append(f"{entries - covered} entries are newer than the last checkpoint")
    if not trusted:
        notes.append(
            "compared with no earlier checkpoint: whoever holds one can check with "
            "--trust that nothing was removed or rewritten since"
        )
    return tuple(notes)
