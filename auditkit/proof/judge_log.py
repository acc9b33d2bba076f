"""The parts of a log, put together: the tree, every checkpoint, every disclosure.

Pure: what ``auditkit.proof.check_log`` found comes in, a report goes out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from auditkit.errors import AuditkitError, VerificationError
from auditkit.proof import disclosure, merkle
from auditkit.proof.check_log import EnrolledKeys, LogPart
from auditkit.proof.check_report import CheckReport, LogProblem, Unmet
from auditkit.proof.clock_notes import clock_notes
from auditkit.proof.keyring import KeyRing
from auditkit.proof.keys import PublicKey
from auditkit.proof.merkle import Frontier
from auditkit.proof.note import Checkpoint, open_checkpoint
from auditkit.proof.tree_parts import walk

_SHOWN = 5  # entries that a note names
Restated = Callable[[int], Mapping[int, tuple[int, str]]]
"""Number of a part -> as ``LogPart.roots``."""


@dataclass(frozen=True, slots=True)
class Before:
    """What is known of the entries before those that are checked, and not read again.

    ``tree`` is the tree of them all, ``roots`` some of its earlier roots by size, and
    ``digests`` what those entries withhold that later ones say was erased;
    ``recorded`` is the last of them and when it says that it was recorded.
    """

    tree: Frontier = field(default_factory=Frontier)
    roots: Mapping[int, bytes] = field(default_factory=dict)
    digests: Mapping[int, dict[str, str]] = field(default_factory=dict)
    recorded: tuple[tuple[int, str], ...] = ()

    @property
    def size(self) -> int:
        """How many entries they are."""
        return self.tree.size


@dataclass(frozen=True, slots=True)
class JudgedLog:
    """The report, and the tree of all entries.

    ``hints`` says whether each part had been told its true beginning.
    """

    report: CheckReport
    tree: Frontier
    hints: bool


def opened(note: str, log_key: PublicKey) -> Checkpoint | str:
    """Return the checkpoint that a signed note holds, or what is wrong with it."""
    try:
        return open_checkpoint(note, log_key)
    except AuditkitError as error:
        return error.message


def sizes_of(
    keys: EnrolledKeys, checkpoints: Iterable[tuple[int, str]], trust: int | None
) -> frozenset[int]:
    """Return the sizes of a log at which its root is stated outside its entries."""
    attested = (found.checkpoint.size for found in keys.ring.attested)
    stated = {*attested, *(size for size, _ in checkpoints)}
    return frozenset(stated if trust is None else stated | {trust})


class _Whole:
    """The parts put together, and held against checkpoints and disclosures."""

    def __init__(  # noqa: PLR0913, PLR0917  as ``judge_log`` has them
        self,
        keys: EnrolledKeys,
        parts: Sequence[LogPart],
        sizes: frozenset[int],
        before: Before,
        opened: Mapping[str, Checkpoint | str],
        restated: Restated,
    ) -> None:
        self.ring = keys.ring
        self._opened = opened
        self.start = before.size
        found = [*keys.problems, *(p for part in parts for p in part.problems)]
        self.problems: set[LogProblem] = set(found)
        own = {s: d for part in parts for s, d in part.digests.items()}
        self.digests = {**before.digests, **own}
        self.roots = {0: merkle.EMPTY_ROOT, **before.roots}
        self.roots[self.start] = before.tree.root()
        self.hints = True
        tree, fitted = before.tree, True
        for number, part in enumerate(parts):
            made = part.tree
            if made is None or not (fitted and made.follows(tree)):
                self.hints &= made is None or made.follows(tree)
                stated = part.roots or restated(number)
                made = walk(tree, part.leaves, stated, sizes, fitted=fitted)
            for seq in made.false:
                self.problem(seq, "its root is not that of the entries before it")
            self.roots |= made.roots
            tree, fitted = made.after, made.fits
        self.tree = tree
        self.size = tree.size
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
            if erasure.seq < self.start:
                continue
            if signed.get(digest) != (erasure.of, erasure.path):
                text = f"it erases a text at {erasure.path} that no entry withholds"
                self.problem(erasure.seq, text)

    def attested(self) -> None:
        """Check that what outsiders attested is of this very log."""
        for found in self.ring.attested:
            if found.seq is not None and found.seq < self.start:
                continue
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
            if seq >= self.start and (gone := found.keys() - self.kept - erased.keys())
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
        checkpoint = self._opened.get(note) or opened(note, self.ring.log_key)
        if isinstance(checkpoint, str):
            self.problem(None, f"{what}: {checkpoint}")
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
    before: Before | None = None,
    opened: Mapping[str, Checkpoint | str] | None = None,
    restated: Restated = lambda _: {},
) -> JudgedLog:
    """Return what holds and what does not, from the parts of a log.

    ``expect_key`` is the thumbprint (RFC 7638) that a reader got elsewhere. ``trust``
    is the text of an earlier checkpoint and ``trust_size`` the size it states.
    ``before`` is what is known of the entries before the parts; without it, they are
    those of the whole log. ``opened`` are checkpoints whose signatures were looked at
    before, by their texts: see ``opened``. ``restated`` gives the roots that a part's
    entries state, where it left them out because all of them had been found true.
    """
    sizes = sizes_of(keys, checkpoints, trust_size)
    before = before or Before()
    whole = _Whole(keys, parts, sizes, before, opened or {}, restated)
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
    recorded = *before.recorded, *(pair for part in parts for pair in part.recorded)
    trusted = bool(trust or before.size)
    report = CheckReport(
        verified=not problems,
        entries=whole.size,
        checkpoint=newest,
        log_key=found,
        problems=tuple(problems),
        notes=(
            *_notes(newest, whole.size, signatures=signatures, trusted=trusted),
            *whole.gone(signatures=signatures),
            *keys.ring.continues(),
            *_closed(keys.ring),
            *clock_notes(recorded),
        ),
        recorded=recorded,
        attested=tuple(keys.ring.attested),
        since=before.size,
    )
    return JudgedLog(report, whole.tree, whole.hints)


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
            "signatures of entries were not checked, as asked, nor the tree and the "
            "look-ups kept beside them; of the roots that entries state, those of the "
            "last entry and of those at a checkpoint were"
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
