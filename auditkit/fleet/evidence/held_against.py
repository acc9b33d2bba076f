"""Shops whose share differs from that of peers who do the same. Pure.

All shops and all groups of one screen are one family of tests.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

from auditkit.fleet.audited import Cell, Column
from auditkit.fleet.evidence.wording import ASKS, asks, who_stands_out
from auditkit.fleet.settings import Settings
from auditkit.fleet.statistics.peers import AgainstPeers, against_peers
from auditkit.fleet.statistics.stand_out import standing_out


@dataclass(frozen=True, slots=True)
class Counted:
    """``hits`` of ``total`` of a shop, in a group in which shops can be compared."""

    group: tuple[str, ...]
    shop: str
    hits: int
    total: int


@dataclass(frozen=True, slots=True)
class Held:
    """A shop's count with what its peers say of it; None where there are too few.

    ``stands_out`` is the question: more than peers, beyond what differs among them.
    """

    counted: Counted
    against: AgainstPeers | None
    peers: int
    stands_out: bool = False

    @property
    def shares(self) -> tuple[Cell, Cell, Cell]:
        """The cells of the columns ``SHARES``."""
        asked = asks(stands_out=self.stands_out, is_screened=self.against is not None)
        if self.against is None:
            return None, None, asked
        share = 100 * self.counted.hits / self.counted.total
        return share, 100 * self.against.peers_share, asked


SHARES = (
    Column("share", "Share", "%", 1),
    Column("peers", "Other shops' share", "%", 1),
    ASKS,
)


def held_against_peers(
    counts: Iterable[Counted], settings: Settings, least: int
) -> list[Held]:
    """Hold each shop with at least ``least`` in a group against that group's others.

    Peers are the shops that have as many themselves; with fewer than
    ``settings.least_peers`` of them nothing is said. In the order of group and shop.
    """
    held: list[Held] = []
    ordered = sorted(counts, key=lambda one: (one.group, one.shop))
    for _, members in groupby(ordered, key=lambda one: one.group):
        listed = list(members)
        enough = [one for one in listed if one.total >= least]
        peers = max(0, len(enough) - 1)
        told = _told(enough, settings) if peers >= settings.least_peers else {}
        held += [Held(one, told.get(one.shop), peers) for one in listed]
    tails = [one.against.tail if one.against else None for one in held]
    marks = standing_out(tails, settings.false_discovery_screens)
    return [
        replace(one, stands_out=mark) for one, mark in zip(held, marks, strict=True)
    ]


def answer(held: Sequence[Held]) -> str:
    """Return the sentence that says which shops stand out among their peers."""
    return who_stands_out(
        (one.counted.shop for one in held if one.stands_out),
        (one.counted.shop for one in held if one.against),
    )


def _told(enough: Sequence[Counted], settings: Settings) -> dict[str, AgainstPeers]:
    found = against_peers(
        [one.hits for one in enough],
        [one.total for one in enough],
        least=settings.least_rho,
        winsorised=settings.winsorised,
    )
    return {one.shop: against for one, against in zip(enough, found, strict=True)}
