"""Packets of one order number in one log: which are one order, and which one counts.

Pure. What comes out does not depend on the order in which the packets came: a
collection of the same packets says the same.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class HeldPacket:
    """What of a packet decides where it belongs.

    ``own_seqs`` are the order's entries in it, ``disclosed`` digests of the texts and
    pictures that it discloses, ``order_id`` the order that it was of until now.
    """

    packet_id: int
    sha256: bytes
    order_id: int | None
    vin: str | None
    checkpoint_size: int
    own_seqs: frozenset[int]
    disclosed: frozenset[bytes]


@dataclass(frozen=True, slots=True)
class OrderPackets:
    """The packets of one order.

    ``current`` is judged. ``lenders`` disclose texts of it that it does not disclose
    itself; ``rivals`` have entries of the order that it lacks.
    """

    packets: tuple[HeldPacket, ...]
    current: HeldPacket
    lenders: tuple[HeldPacket, ...]
    rivals: tuple[HeldPacket, ...]


def orders_among(packets: Sequence[HeldPacket]) -> tuple[OrderPackets, ...]:
    """Return the orders that the packets of one number in one log are of.

    More than one where the number was used again, for another vehicle. The one whose
    packet has the largest checkpoint comes first.
    """
    groups = [_order(group) for group in _groups(packets)]
    return tuple(sorted(groups, key=lambda one: _rank(one.current), reverse=True))


def _groups(packets: Sequence[HeldPacket]) -> list[list[HeldPacket]]:
    """Return packets that hold a common entry, or are of one vehicle, together.

    Where a packet does neither and does not tell its vehicle, nothing shows that it is
    of another order than the first.
    """
    groups: list[list[HeldPacket]] = []
    for packet in sorted(packets, key=_rank, reverse=True):
        same = [g for g in groups if any(_is_of_one(packet, one) for one in g)]
        joined = [one for group in same for one in group] + [packet]
        groups = [group for group in groups if group not in same] + [joined]
    named = [g for g in groups if any(one.vin for one in g)] or groups[:1]
    for group in groups:
        if group not in named:
            named[0].extend(group)
    return named


def _is_of_one(one: HeldPacket, other: HeldPacket) -> bool:
    shared = not one.own_seqs.isdisjoint(other.own_seqs)
    return shared or (one.vin is not None and one.vin == other.vin)


def _order(packets: Sequence[HeldPacket]) -> OrderPackets:
    whole = [
        one
        for one in packets
        if not any(one.own_seqs < other.own_seqs for other in packets)
    ]
    current = max(whole, key=_rank)
    rivals = {
        one.own_seqs: one
        for one in sorted(whole, key=_rank)
        if one.own_seqs != current.own_seqs
    }
    ordered = tuple(sorted(packets, key=_rank, reverse=True))
    return OrderPackets(
        ordered,
        current,
        tuple(_lenders(current, ordered)),
        tuple(sorted(rivals.values(), key=_rank, reverse=True)),
    )


def _lenders(
    current: HeldPacket, packets: Sequence[HeldPacket]
) -> Iterator[HeldPacket]:
    """Yield packets of which each discloses something that none before it does."""
    known = set(current.disclosed)
    for packet in packets:
        if not packet.disclosed <= known:
            known |= packet.disclosed
            yield packet


def _rank(packet: HeldPacket) -> tuple[int, int, int, bytes]:
    return (
        packet.checkpoint_size,
        len(packet.own_seqs),
        len(packet.disclosed),
        packet.sha256,
    )
