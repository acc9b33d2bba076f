"""The Merkle tree over the log's leaves: roots and proofs (RFC 9162 section 2.1)."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Sequence
from functools import lru_cache
from typing import NoReturn

from auditkit.errors import InputError, VerificationError

_sha256 = hashlib.sha256
HASH_BYTES = 32
EMPTY_ROOT = hashlib.sha256(b"").digest()


def leaf_hash(data: bytes) -> bytes:
    """Return SHA-256(0x00 || data), the hash of a leaf (RFC 9162 2.1.1)."""
    return hashlib.sha256(b"\x00" + data).digest()


def node_hash(left: bytes, right: bytes) -> bytes:
    """Return SHA-256(0x01 || left || right), the hash of a node (RFC 9162 2.1.1)."""
    return hashlib.sha256(b"\x01" + left + right).digest()


def place(level: int, index: int) -> int:
    """Return the number of a complete subtree, by which it is kept.

    It is subtree ``index``, from 0, of those with 2**level leaves. In this numbering a
    subtree stands between its two halves, so those of a growing tree come at the end.
    """
    return index << level + 1 | (1 << level) - 1


def complete(low: int, high: int) -> Iterator[tuple[int, int]]:
    """Yield the complete subtrees, as (level, index), that make up a range of leaves.

    The range is one of RFC 9162 section 2.1: ``low`` is a multiple of the smallest
    power of two that is not below its length. The largest subtree comes first.
    """
    for level in reversed(range((high - low).bit_length())):
        if high - low >> level & 1:
            yield level, low >> level
            low += 1 << level


# The proofs of one packet, and of one shop's packets, meet in the same upper nodes.
_met_node = lru_cache(maxsize=4096)(node_hash)


def fold(peaks: Sequence[bytes]) -> bytes:
    """Return the root over complete subtrees, the largest first."""
    top = peaks[-1]
    for peak in reversed(peaks[:-1]):
        top = node_hash(peak, top)
    return top


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

    @classmethod
    def of(cls, size: int, peaks: Sequence[bytes], last: bytes | None) -> Frontier:
        """Return the frontier whose full subtrees, the largest first, are given."""
        made = cls()
        made.size, made.last, made._peaks = size, last, list(peaks)
        return made

    @property
    def peaks(self) -> tuple[bytes, ...]:
        """The roots of the full subtrees, the largest first."""
        return tuple(self._peaks)

    def append(self, leaf: bytes, made: list[tuple[int, bytes]] | None = None) -> None:
        """Add a leaf hash; note in ``made`` each subtree that it completes.

        A subtree is noted as its place (see ``place``) and its root.
        """
        self.last = leaf
        carry, level = self.size, 0
        while carry & 1:
            leaf = node_hash(self._peaks.pop(), leaf)
            carry >>= 1
            level += 1
            if made is not None:
                made.append((place(level, carry), leaf))
        self._peaks.append(leaf)
        self.size += 1

    def extend(self, leaves: Sequence[bytes]) -> None:
        """Add leaf hashes, level by level: quicker than one by one."""
        at, end = 0, len(leaves)
        while at < end:
            fits = (end - at).bit_length() - 1
            begins = (self.size & -self.size).bit_length() - 1 if self.size else fits
            level = min(fits, begins)  # of the largest subtree that begins here
            row = leaves[at : at + (1 << level)]
            at += 1 << level
            for _ in range(level):
                pairs = zip(row[::2], row[1::2], strict=True)
                row = [_sha256(b"\x01" + a + b).digest() for a, b in pairs]
            top, carry = row[0], self.size >> level
            while carry & 1:
                top = node_hash(self._peaks.pop(), top)
                carry >>= 1
            self._peaks.append(top)
            self.size += 1 << level
        self.last = leaves[-1] if leaves else self.last

    def root(self) -> bytes:
        """Return the root over the leaves so far."""
        if not self._peaks:
            return EMPTY_ROOT
        return fold(self._peaks)


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


RootOf = Callable[[int, int], bytes]
"""Gives the root over the leaves from one place up to, not including, another."""


def root_of(leaves: Sequence[bytes]) -> RootOf:
    """Return what gives the roots over ranges of leaves that are at hand."""
    return lambda low, high: root(leaves[low:high])


def prove_inclusion(leaves: Sequence[bytes], index: int) -> list[bytes]:
    """Return the path from leaf ``index`` to the root (RFC 9162 2.1.3.1)."""
    return inclusion_path(len(leaves), index, root_of(leaves))


def inclusion_path(size: int, index: int, root_of: RootOf) -> list[bytes]:
    """Return the path of RFC 9162 2.1.3.1 in a tree whose roots ``root_of`` gives."""
    if not 0 <= index < size:
        raise InputError(f"there is no leaf {index} among {size}")
    path: list[bytes] = []
    low, high = 0, size
    while high - low > 1:
        middle = low + _split(high - low)
        if index < middle:
            path.append(root_of(middle, high))
            high = middle
        else:
            path.append(root_of(low, middle))
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
    return consistency_path(len(leaves), old, root_of(leaves))


def consistency_path(size: int, old: int, root_of: RootOf) -> list[bytes]:
    """Return the proof of RFC 9162 2.1.4.1 in a tree whose roots ``root_of`` gives."""
    if not 0 < old <= size:
        raise InputError(f"a tree of {size} has no earlier tree of {old} to prove")
    proof: list[bytes] = []
    low, high, whole = 0, size, True
    while old != high:
        middle = low + _split(high - low)
        if old <= middle:
            proof.append(root_of(middle, high))
            high = middle
        else:
            proof.append(root_of(low, middle))
            low, whole = middle, False
    if not whole:
        proof.append(root_of(low, high))
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
