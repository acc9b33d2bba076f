"""Which of many tests stand out, at a bounded share of false ones."""

from __future__ import annotations

from collections.abc import Sequence


def standing_out(tails: Sequence[float], share: float) -> list[bool]:
    """Say of each test whether it stands out, at this share of false ones.

    By Benjamini and Hochberg 1995, JRSS B 57:289. One family is one question over all
    shops of one report.
    """
    return [adjusted <= share for adjusted in adjusted_tails(tails)]


def adjusted_tails(tails: Sequence[float]) -> list[float]:
    """Return each tail adjusted for how many there are; empty for none.

    Raises ValueError for what is no probability.
    """
    from scipy import stats

    if not tails:
        return []
    return [float(p) for p in stats.false_discovery_control(list(tails), method="bh")]
