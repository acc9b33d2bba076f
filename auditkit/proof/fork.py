"""Two packets of one log that show two histories of it: the proof of a fork.

Every proof in a packet names hashes of whole subtrees of the log's tree, and a subtree
that is whole never changes as the log grows (RFC 9162 section 2.1). So two packets
need not be of one size, nor hold one entry in common: a subtree that they both name
with different hashes lies in two histories, and the log's key has signed both.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from auditkit.errors import InputError, VerificationError
from auditkit.proof import note
from auditkit.proof.check_packet import verify_packet
from auditkit.proof.entry import Payload, leaf_hash, parse_payload
from auditkit.proof.merkle import node_hash
from auditkit.proof.packet import EarlierTree, Packet, parse_packet

Span = tuple[int, int]
"""The first entry of a stretch of the log, and how many entries it has."""


@dataclass(frozen=True, slots=True)
class Fork:
    """Where two histories of one log differ, and who signed both.

    ``first`` and ``count`` name the shortest stretch of entries that is known to
    differ. ``checkpoints`` are the two notes that the log's key signed.
    """

    log: str
    log_key: str
    first: int
    count: int
    checkpoints: tuple[str, str]

    def __str__(self) -> str:
        last = self.first + self.count - 1
        many = f"entries {self.first} to {last} differ"
        told = f"entry {self.first} differs" if self.count == 1 else many
        return f"the log {self.log} has two histories under one key: {told}"


def known_spans(packet: Packet, read: Sequence[Payload] = ()) -> dict[Span, bytes]:
    """Return the hashes of all stretches of the log that a packet names.

    The packet must have verified: then each is bound to a root that was signed. A
    stretch is a subtree that is whole, or all entries before one of the log's sizes.
    ``read`` is what its entries say, where somebody has read them already.
    """
    _, key = note.parse_vkey(packet.log_key)
    head = note.open_checkpoint(packet.checkpoint, key)
    spans: dict[Span, bytes] = {}
    for signed, proof in packet.entries:
        leaf = leaf_hash(signed.signing_input, signed.signature)
        index, path, _ = note.parse_proof(proof)
        for (first, count), found in _along(leaf, index, 0, head.size, path):
            if first <= index < first + count and (first, count) in spans:
                break  # an entry before went the same way from here
            spans[first, count] = found
    spans[0, head.size] = head.root
    for said in read or [parse_payload(one.payload) for one, _ in packet.entries]:
        spans[0, said.seq] = bytes.fromhex(said.root)
        if said.prev is not None:
            spans[said.seq - 1, 1] = bytes.fromhex(said.prev)
    for old in packet.earlier:
        spans.update(_along_earlier(old, head.size))
    return spans


def _along_earlier(old: EarlierTree, size: int) -> Iterator[tuple[Span, bytes]]:
    """Yield the stretches along a consistency proof that was verified (2.1.4.2)."""
    yield (0, old.size), old.root
    index, level = old.size - 1, 0
    while index & 1:
        index, level = index >> 1, level + 1
    steps = [*old.path]
    is_whole = old.size & (old.size - 1) == 0
    yield from _along(old.root if is_whole else steps.pop(0), index, level, size, steps)


def _along(
    found: bytes, index: int, level: int, size: int, path: list[bytes]
) -> Iterator[tuple[Span, bytes]]:
    """Yield the whole subtrees along a path that was verified (RFC 9162 2.1.3.2).

    ``found`` is the hash of the subtree at ``index`` of its ``level``.
    """
    last = (size - 1) >> level
    yield _span(index, level), found
    for step in path:
        if index & 1 or index == last:
            while not index & 1:  # the edge of the tree climbs without a partner
                index, last, level = index >> 1, last >> 1, level + 1
            yield _span(index - 1, level), step
            found = node_hash(step, found)
        else:
            if _end(index + 1, level) <= size:
                yield _span(index + 1, level), step
            found = node_hash(found, step)
        index, last, level = index >> 1, last >> 1, level + 1
        if _end(index, level) <= size:
            yield _span(index, level), found


def _span(index: int, level: int) -> Span:
    return index << level, 1 << level


def _end(index: int, level: int) -> int:
    return (index + 1) << level


def differing(one: Mapping[Span, bytes], other: Mapping[Span, bytes]) -> Span | None:
    """Return the shortest stretch that two packets name differently; None for none."""
    apart = (span for span in one.keys() & other.keys() if one[span] != other[span])
    return min(apart, key=lambda span: (span[1], span[0]), default=None)


def fork_between(one: str | bytes, other: str | bytes) -> Fork | None:
    """Return the fork that two packets' texts prove; None where they agree.

    None is no proof that there is one history: packets that name no common stretch
    cannot show it. Raises VerificationError where one does not verify, InputError
    where they are of different logs or different keys.
    """
    packets = [parse_packet(text) for text in (one, other)]
    reports = [verify_packet(text) for text in (one, other)]
    for report in reports:
        if not report.verified or report.checkpoint is None:
            raise VerificationError(
                "a packet does not hold",
                what_to_do="run 'auditkit verify' on each and see why",
            )
    heads = [report.checkpoint for report in reports if report.checkpoint]
    names = {(head.origin, r.log_key) for head, r in zip(heads, reports, strict=True)}
    if len(names) > 1:
        raise InputError(
            "these packets are of two logs, or of two keys",
            what_to_do="compare packets of one log",
        )
    found = differing(*map(known_spans, packets))
    if found is None:
        return None
    ((log, log_key),) = names
    checkpoints = (packets[0].checkpoint, packets[1].checkpoint)
    return Fork(log, log_key, found[0], found[1], checkpoints)
