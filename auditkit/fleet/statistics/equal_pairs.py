"""How many pairs of equal records are to be expected, and how odd more of them are.

Equal values are normal where few values occur. Pairs are not independent of each other
(three equal records make three pairs at once), so they spread more than counts of rare
events do; how odd they are is therefore asked of the records that repeat another.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from auditkit.fleet.statistics.rare_counts import upper_tail


@dataclass(frozen=True, slots=True)
class Coincidence:
    """The chance that two, and that three, records drawn from peers are equal."""

    two: float
    three: float


def coincidence(counts: Iterable[int], singles: int = 0) -> Coincidence:
    """Estimate both from how often each value occurs among peers, without bias.

    ``singles`` more values occur once each. Half a pair is added: what peers never show
    is rare, not impossible. Raises ValueError for fewer than three records.
    """
    counted = list(counts)
    n = sum(counted) + singles
    if n < 3:
        raise ValueError("three records are the least that a coincidence is read from")
    pairs = sum(c * (c - 1) for c in counted) / 2
    triples = sum(c * (c - 1) * (c - 2) for c in counted)
    two = min(1.0, (pairs + 0.5) / (n * (n - 1) / 2))
    three = triples / (n * (n - 1) * (n - 2))
    return Coincidence(two, max(three, two * two))


def expected_pairs(records: int, chance: Coincidence) -> tuple[float, float]:
    """Return mean and variance of the equal pairs among ``records``.

    Variance N(N-1)/2 s2(1 - s2) + N(N-1)(N-2)(s3 - s2^2), with s_j the sum of the j-th
    powers of the values' shares.
    """
    n, s2, s3 = records, chance.two, chance.three
    mean = n * (n - 1) / 2 * s2
    variance = n * (n - 1) / 2 * s2 * (1 - s2) + n * (n - 1) * (n - 2) * (s3 - s2 * s2)
    return mean, variance


def repeats_tail(found: int, records: int, chance: Coincidence) -> float:
    """Return a bound on the probability of this many repeats or more, in 0 to 1.

    Poisson's tail about the expected pairs. It is too large rather than too small:
    repeats are never more than pairs, and more of one value leave fewer of another.
    """
    mean, _ = expected_pairs(records, chance)
    return upper_tail(found, mean)
