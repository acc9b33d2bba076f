"""Whether groups hold equally long: the log-rank test, also within strata.

Mantel 1966, Cancer Chemotherapy Reports 50:163; Peto and Peto 1972, J. Royal Statist.
Soc. A 135:185 (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from auditkit.fleet.statistics.followed import Ending, at_risk, together, total


@dataclass(frozen=True, slots=True)
class LogRank:
    """Chi-square with its degrees of freedom, its tail, and expected by group."""

    chi_square: float
    freedom: int
    tail: float
    expected: tuple[float, ...]


def log_rank(strata: Sequence[Sequence[Sequence[Ending]]]) -> LogRank:
    """Compare groups: ``strata[s][g]`` are the endings of group g in stratum s.

    Every stratum names the same groups, in the same order; a group may be empty there.
    Raises ValueError for fewer than two groups, or where no comeback can be compared.
    """
    import numpy as np
    from scipy import linalg, special

    groups = len(strata[0]) if strata else 0
    if groups < 2 or any(len(stratum) != groups for stratum in strata):
        raise ValueError("a comparison needs two groups, the same in every stratum")
    seen, expected = np.zeros(groups), np.zeros(groups)
    covariance = np.zeros((groups, groups))
    for stratum in strata:
        everyone = together(stratum)
        left = np.array([total(group) for group in stratum], float)
        leaving = [{e.time: e for e in group} for group in stratum]
        for ending, followed in at_risk(everyone):
            here = [by_time.get(ending.time) for by_time in leaving]
            if ending.events:
                seen += [one.events if one else 0 for one in here]
                share = left / followed
                expected += ending.events * share
                if followed > 1:
                    scale = ending.events * (followed - ending.events) / (followed - 1)
                    covariance += scale * (np.diag(share) - np.outer(share, share))
            left -= [one.events + one.others if one else 0 for one in here]
    # Groups that nothing could happen to say nothing; one of the rest follows from the
    # others.
    kept = np.flatnonzero(np.diag(covariance) > 0)
    if len(kept) < 2:
        raise ValueError("no comeback happened while two groups were followed")
    kept = kept[:-1]
    apart = (seen - expected)[kept]
    found = float(apart @ linalg.solve(covariance[np.ix_(kept, kept)], apart))
    tail = float(special.chdtrc(len(kept), found))
    return LogRank(found, len(kept), tail, tuple(float(e) for e in expected))
