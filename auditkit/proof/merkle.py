"""The Merkle tree over the log's leaves: roots and proofs (RFC 9162 section 2.1)."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from functools import lru_cache
from typing import NoReturn

from auditkit.errors import InputError, VerificationError

HASH_BYTES = 32
EMPTY_ROOT = hashlib.sha256(b"").digest()


def leaf_hash(data: bytes) -> bytes:
    """Return SHA-256(0x00 || data), the hash of a leaf (RFC 9162 2.1.1)."""
    return hashlib.sha256(b"\x00" + data).digest()


def node_hash(left: bytes, right: bytes) -> bytes:
    """Return SHA-256(0x01 || left || right), the hash of a node (RFC 9162 2.1.1)."""
    return hashlib.sha256(b"\x01" + left + right).digest()


# The proofs of one packet, and of one shop's packets, meet in the same upper nodes.
_met_node = lru_cache(maxsize=4096)(node_hash)


class Frontier:
    """The roots of the full subtrees so far: all that appending needs.

    ``last`` is the leaf hash added last, None before the first.
    """

    __slots__ = ("_peaks", "last", "size")

    def __init__(self) -> None:
        self.size = 0
        self.last: bytes | None = None
        self._peaks: list[bytes] = []

    def copy(self) -> Frontier:
        """Return another one of the same leaves, to add to."""
        made = Frontier()
        made.size, made.last, made._peaks = self.size, self.last, self._peaks[:]
        return made

    def append(self, leaf: bytes) -> None:
        """Add a leaf hash."""
        self.last = leaf
        carry = self.size
        while carry & 1:
            leaf = node_hash(self._peaks.pop(), leaf)
            carry >>= 1
        self._peaks.append(leaf)
        self.size += 1

    def root(self) -> bytes:
        """Return the root over the leaves so far."""
        if not self._peaks:
            return EMPTY_ROOT
        top = self._peaks[-1]
        for peak in reversed(self._peaks[:-1]):
            top = node_hash(peak, top)
        return top


def root(leaves: Sequence[bytes]) -> bytes:
    """Return the root over leaf hashes (RFC 9162 2.1.1)."""
    if not leaves:
        return EMPTY_ROOT
    level = list(leaves)
    while len(level) > 1:
        odd = [level[-1]] if len(level) % 2 else []
        pairs = zip(level[::2], level[1::2], strict=False)
        level = [node_hash(a, b) for a, b in pairs] + odd
    return level[0]


def _split(size: int) -> int:
    """Return the largest power of two smaller than ``size``."""
    return 1 << (size - 1).bit_length() - 1


def prove_inclusion(leaves: Sequence[bytes], index: int) -> list[bytes]:
    """Return the path from leaf ``index`` to the root (RFC 9162 2.1.3.1)."""
    if not 0 <= index < len(leaves):
        raise InputError(f"there is no leaf {index} among {len(leaves)}")
    path: list[bytes] = []
    low, high = 0, len(leaves)
    while high - low > 1:
        middle = low + _split(high - low)
        if index < middle:
            path.append(root(leaves[middle:high]))
            high = middle
        else:
            path.append(root(leaves[low:middle]))
            low = middle
    path.reverse()
    return path


def verify_inclusion(
    leaf: bytes, index: int, size: int, proof: Sequence[bytes], expected: bytes
) -> bytes:
    """Return the root over the leaves before ``index``; raise where the proof fails.

    The proof is that of RFC 9162 2.1.3.2. Its steps from the left are the roots of
    complete subtrees, one for each bit of ``index``: together they cover the leaves
    before it, whose root (2.1.1) is made of them. So an inclusion proof of a leaf also
    proves that the tree extends the one of the first ``index`` leaves.
    """
    if not 0 <= index < size:
        _fail(f"there is no leaf {index} in a tree of {size}")
    first, last, found = index, size - 1, leaf
    before: bytes | None = None
    for step in proof:
        if last == 0:
            _fail("the inclusion proof is too long")
        if first & 1 or first == last:
            found = _met_node(step, found)
            before = step if before is None else _met_node(step, before)
            while not first & 1 and first:
                first >>= 1
                last >>= 1
        else:
            found = _met_node(found, step)
        first >>= 1
        last >>= 1
    if last or found != expected:
        _fail("the inclusion proof does not lead from the entry to the root")
    return EMPTY_ROOT if before is None else before


def prove_consistency(leaves: Sequence[bytes], old: int) -> list[bytes]:
    """Return the proof that the first ``old`` leaves were kept (RFC 9162 2.1.4.1)."""
    if not 0 < old <= len(leaves):
        raise InputError(
            f"a tree of {len(leaves)} has no earlier tree of {old} to prove"
        )
    proof: list[bytes] = []
    low, high, whole = 0, len(leaves), True
    while old != high:
        middle = low + _split(high - low)
        if old <= middle:
            proof.append(root(leaves[middle:high]))
            high = middle
        else:
            proof.append(root(leaves[low:middle]))
            low, whole = middle, False
    if not whole:
        proof.append(root(leaves[low:high]))
    proof.reverse()
    return proof


def verify_consistency(
    old: int, new: int, old_root: bytes, new_root: bytes, proof: Sequence[bytes]
) -> None:
    """Raise VerificationError unless the new tree extends the old (2.1.4.2)."""
    if not 0 < old <= new:
        _fail(f"a tree of {new} cannot extend a tree of {old}")
    if old == new:
        if proof or old_root != new_root:
            _fail("two trees of one size have different roots")
        return
    path = list(proof)
    if old & (old - 1) == 0:
        path.insert(0, old_root)
    if not path:
        _fail("the consistency proof is empty")
    first, last = old - 1, new - 1
    while first & 1:
        first >>= 1
        last >>= 1
    was = found = path[0]
    for step in path[1:]:
        if last == 0:
            _fail("the consistency proof is too long")
        if first & 1 or first == last:
            was, found = node_hash(step, was), node_hash(step, found)
            while not first & 1 and first:
                first >>= 1
                last >>= 1
        else:
            found = node_hash(found, step)
        first >>= 1
        last >>= 1
    if last or was != old_root or found != new_root:
        _fail("the newer tree does not extend the older one")


def _fail(message: str) -> NoReturn:
    raise VerificationError(message)
