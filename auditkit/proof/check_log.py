"""The check of a log's entries, in parts: every signature, and the chain.

Pure: rows come in, problems go out. Every problem is reported with its sequence
number; the first one stops nothing. A log may be checked in parts, each by itself
and in any process: a part needs the keys and the leaf hash before its first row. What
the parts found is put together in ``auditkit.proof.judge_log``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from auditkit.errors import AuditkitError, VerificationError
from auditkit.proof import disclosure, entry
from auditkit.proof.check_report import LogProblem
from auditkit.proof.entry import HEADERS, Payload, parse_payload
from auditkit.proof.keyring import KeyRing
from auditkit.proof.keys import PublicKey
from auditkit.proof.log_kinds import LOG_KINDS
from auditkit.proof.merkle import Frontier
from auditkit.proof.tree_parts import TreePart, walk

if TYPE_CHECKING:
    from auditkit.proof.row import Row

_TOGETHER = 64  # signatures that are verified one after the other


@dataclass(frozen=True, slots=True)
class LogPart:
    """What the check of some consecutive rows found, and what the rest needs of it.

    ``roots`` are the roots that entries state, to be compared once the tree is known:
    place among ``leaves`` -> sequence number, root in hex. ``tree`` is the tree over
    its leaves, where its beginning was known.
    """

    problems: tuple[LogProblem, ...]
    leaves: tuple[bytes, ...]
    digests: dict[int, dict[str, str]]
    recorded: tuple[tuple[int, str], ...] = ()
    roots: Mapping[int, tuple[int, str]] = field(default_factory=dict)
    tree: TreePart | None = None

    def with_tree(self, before: Frontier, sizes: frozenset[int]) -> LogPart:
        """Return it with its tree, begun where the entries before it are said to end.

        ``sizes`` are those at which the root is needed.
        """
        return replace(self, tree=walk(before, self.leaves, self.roots, sizes))

    def lighter(self) -> LogPart:
        """Return it without what is only needed where something is wrong with it."""
        if self.tree is None:
            return self
        tree = replace(self.tree, nodes=[])
        is_true = tree.fits and not tree.false
        return replace(self, tree=tree, roots={} if is_true else self.roots)


@dataclass(frozen=True, slots=True)
class EnrolledKeys:
    """The keys that a log's own events enrol, and what is wrong with those events.

    ``read`` are those events' entries.
    """

    ring: KeyRing
    problems: tuple[LogProblem, ...]
    read: tuple[int, ...] = ()


def read_keys(log_rows: Iterable[Row]) -> EnrolledKeys:
    """Return the keys that the log's own events enrol, in their order."""
    ring = KeyRing()
    problems: list[LogProblem] = []
    read: list[int] = []
    for row in log_rows:
        read.append(row.entry.seq)
        try:
            payload = parse_payload(row.entry.payload)
            entry.verify(row.entry, ring.signer(payload))
            ring.learn(payload)
        except AuditkitError as error:
            problems.append(LogProblem(row.entry.seq, error.message))
    return EnrolledKeys(ring, tuple(problems), tuple(read))


class _PartCheck:
    def __init__(
        self,
        ring: KeyRing,
        start: int,
        previous: bytes | None,
        seen: Callable[[Payload], None] | None,
    ) -> None:
        self.ring = ring
        self._seen = seen
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
        if self._seen is not None:
            self._seen(payload)
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


def check_part(  # noqa: PLR0913  what is checked, and where it begins and ends
    rows: Iterable[Row],
    ring: KeyRing,
    *,
    start: int = 0,
    stop: int | None = None,
    previous: bytes | None = None,
    seen: Callable[[Payload], None] | None = None,
) -> LogPart:
    """Return what the rows ``start`` to ``stop`` hold.

    ``previous`` is the leaf hash kept for the row before; the part that holds that
    row is the one that checks it. ``seen`` is told what each row says.
    """
    check = _PartCheck(ring, start, previous, seen)
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
