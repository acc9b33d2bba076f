"""The log's tree, read from its kept subtrees: a cache that is never trusted.

Appending and proving read O(log n) of it. Three things keep a false subtree from
mattering. Before anything is signed, the subtrees of all entries but the last must have
the root that the last entry states, whose signature is verified. Before a proof is
given away, it is verified as its reader will. And ``verify`` makes every subtree anew.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, NoReturn

from auditkit.errors import AuditkitError, KeyProblem, LogError
from auditkit.proof import entry as entries
from auditkit.proof import merkle
from auditkit.proof.merkle import Frontier
from auditkit.proof.packet import EarlierTree

if TYPE_CHECKING:
    from auditkit.log.store import Store
    from auditkit.proof.entry import Payload
    from auditkit.proof.keys import PublicKey
    from auditkit.proof.note import Checkpoint
    from auditkit.proof.row import Row

Signer = Callable[["Payload"], "PublicKey"]
_NEXT = (
    "run 'auditkit verify' on it: it says whether entries were altered, or only the "
    "tree kept beside them, which --rebuild makes anew"
)


class KeptTree:
    """The tree of a log file; ``signer`` gives the key that must have signed an entry.

    What it returns has been checked, or a LogError is raised. Without ``signer`` it
    only proves, against a root that the caller knows.
    """

    def __init__(self, store: Store, signer: Signer | None = None) -> None:
        self._store = store
        self._signer = signer
        # The proofs of one packet meet in the same upper part of the tree.
        self._roots: dict[tuple[int, int], bytes] = {}

    def hint(self, size: int) -> Frontier:
        """Return the frontier of the first entries by what is kept: not checked."""
        peaks = (self._kept(*at) for at in merkle.complete(0, size))
        return Frontier.of(size, list(peaks), None)

    def frontier(self) -> Frontier:
        """Return the frontier of all entries, held against what the last one states."""
        size, _ = self._store.head()
        if size == 0:
            return Frontier()
        last, leaf = self._signed(size - 1)
        before = self._peaks(size - 1)
        made = Frontier.of(size - 1, before, None)
        if made.root().hex() != last.root:
            self._fail(f"entry {size - 1} states another root over those before it")
        made.append(leaf)
        return made

    def root(self, size: int) -> bytes:
        """Return the root over the first entries, as a later one states it, signed."""
        if size == self._store.head()[0]:
            return self.frontier().root()
        return bytes.fromhex(self._signed(size)[0].root)

    def holds(self, checkpoint: Checkpoint) -> bool:
        """Return whether a checkpoint is over the entries that the log begins with."""
        size, _ = self._store.head()
        return checkpoint.size <= size and (
            self.root(checkpoint.size) == checkpoint.root
        )

    def prove_inclusion(self, index: int, size: int, root: bytes) -> list[bytes]:
        """Return the proof that an entry is in the tree of ``size`` with this root."""
        path = merkle.inclusion_path(size, index, self._root_of)
        leaf = self.row(index).entry.leaf
        try:
            merkle.verify_inclusion(leaf, index, size, path, root)
        except AuditkitError:
            self._fail(f"it does not lead from entry {index} to the root over {size}")
        return path

    def prove_consistency(self, old: int, size: int, root: bytes) -> EarlierTree:
        """Return the proof that the tree of ``size`` extends its first ``old``."""
        path = merkle.consistency_path(size, old, self._root_of)
        was = merkle.fold(self._peaks(old))
        try:
            merkle.verify_consistency(old, size, was, root, path)
        except AuditkitError:
            self._fail(f"it does not lead from {old} entries to the root over {size}")
        return EarlierTree(old, was, tuple(path))

    def _root_of(self, low: int, high: int) -> bytes:
        found = self._roots.get((low, high))
        if found is None:
            parts = [self._node(*at) for at in merkle.complete(low, high)]
            found = self._roots[low, high] = merkle.fold(parts)
        return found

    def _peaks(self, size: int) -> list[bytes]:
        return [self._node(*at) for at in merkle.complete(0, size)]

    def _node(self, level: int, index: int) -> bytes:
        found = self._kept(level, index)
        if not (found or level):
            self.row(index)  # raises: it is missing
        return found

    def _kept(self, level: int, index: int) -> bytes:
        """Return what is kept of a subtree, no bytes where nothing is."""
        if level:
            return self._store.pointers.node(merkle.place(level, index))
        return self._store.leaf(index)

    def row(self, seq: int) -> Row:
        """Return a row; LogError where it is missing."""
        row = self._store.row(seq)
        if row is None:
            raise LogError(
                f"entry {seq} is missing",
                where=str(self._store.path),
                what_to_do="run 'auditkit verify' on it, and restore it from a backup",
            )
        return row

    def _signed(self, seq: int) -> tuple[Payload, bytes]:
        """Return what an entry says, its signature verified, and its leaf hash."""
        row = self.row(seq)
        try:
            said = entries.parse_payload(row.entry.payload)
            if self._signer is None:
                raise KeyProblem("no key is known that may have signed it")
            entries.verify(row.entry, self._signer(said))
        except AuditkitError as error:
            self._fail(f"entry {seq} does not hold: {error.message}")
        if said.seq != seq:
            self._fail(f"entry {seq} was signed as entry {said.seq}")
        return said, row.entry.leaf

    def _fail(self, said: str) -> NoReturn:
        raise LogError(
            f"the tree does not fit its entries: {said}",
            where=str(self._store.path),
            what_to_do=_NEXT,
        )
