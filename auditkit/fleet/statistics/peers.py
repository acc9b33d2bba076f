"""One shop's share against its peers', who differ among themselves more than by chance.

k of a shop's n readings lie where the others have a share p. Honest shops differ by
their work and gauges, so the tail is that of a beta-binomial distribution whose spread
(``rho``, the correlation of two readings of one shop) is estimated from the peers.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from auditkit.fleet.statistics.normal import square_held_in

LEAST_SPREAD = 0.002
"""The smallest ``rho`` taken: peers that look perfectly alike are few, not alike."""


@dataclass(frozen=True, slots=True)
class AgainstPeers:
    """A shop's count, its peers' share and spread, and how odd the count is.

    ``tail`` is the probability of this many or more in a shop like its peers.
    """

    hits: int
    total: int
    peers_share: float
    spread: float
    tail: float


def upper_tail(hits: int, total: int, share: float, spread: float) -> float:
    """Return P(X >= hits) of ``total`` readings, each with ``share``, in 0 to 1.

    ``spread`` is the intra-class correlation rho of the beta-binomial distribution with
    a = p (1/rho - 1), b = (1 - p)(1/rho - 1); 0 makes it binomial.
    """
    from scipy import stats

    if hits <= 0:
        return 1.0
    if not 0 < share < 1:
        raise ValueError(f"the peers' share has to lie between 0 and 1: {share}")
    if spread <= 0:
        found = stats.binom.sf(hits - 1, total, share)
    else:
        strength = 1 / spread - 1
        found = stats.betabinom.sf(
            hits - 1, total, share * strength, (1 - share) * strength
        )
    return min(1.0, max(0.0, float(found)))


def spread_of(
    hits: Sequence[int],
    totals: Sequence[int],
    *,
    least: float = LEAST_SPREAD,
    winsorised: float = 0.1,
) -> float:
    """Return the correlation of two readings of one shop, estimated over shops.

    phi is the mean of the squares of z = (k - n p) / sqrt(n p (1 - p)), with the share
    ``winsorised`` at each end held in; rho = (phi - 1) / (mean n - 1), at least
    ``least``.
    """
    import numpy as np

    counted = np.asarray(totals, float)
    if not len(counted) or counted.mean() <= 1:
        return least
    share = _share(sum(hits), sum(totals))
    z = (np.asarray(hits, float) - counted * share) / np.sqrt(
        counted * share * (1 - share)
    )
    phi = square_held_in(z.tolist(), winsorised)
    return max(least, (phi - 1) / (float(counted.mean()) - 1))


def against_peers(
    hits: Sequence[int],
    totals: Sequence[int],
    *,
    least: float = LEAST_SPREAD,
    winsorised: float = 0.1,
) -> list[AgainstPeers]:
    """Hold each shop against all others, with the spread that those others show.

    Each shop's peers are the shops of the same lists without itself, so that one that
    differs does not hide behind its own numbers. ``totals`` are positive.
    """
    all_hits, all_readings = sum(hits), sum(totals)
    found = []
    for place, (k, n) in enumerate(zip(hits, totals, strict=True)):
        share = _share(all_hits - k, all_readings - n)
        rho = spread_of(
            [*hits[:place], *hits[place + 1 :]],
            [*totals[:place], *totals[place + 1 :]],
            least=least,
            winsorised=winsorised,
        )
        found.append(AgainstPeers(k, n, share, rho, upper_tail(k, n, share, rho)))
    return found


def _share(hits: int, total: int) -> float:
    """Half an event is added, so that no share is 0 or 1."""
    return (hits + 0.5) / (total + 1)
