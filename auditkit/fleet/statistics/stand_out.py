"""Which of many tests stand out, at a bounded share of false ones."""

from __future__ import annotations

from collections.abc import Sequence


def standing_out(tails: Sequence[float | None], share: float) -> list[bool]:
    """Say of each test whether it stands out, at this share of false ones.

    By Benjamini and Hochberg 1995, JRSS B 57:289. One family is one question over all
    shops of one report. None stands where nothing could be tested.
    """
    adjusted = iter(adjusted_tails([tail for tail in tails if tail is not None]))
    return [tail is not None and next(adjusted) <= share for tail in tails]


def adjusted_tails(tails: Sequence[float]) -> list[float]:
    """Return each tail adjusted for how many there are; empty for none.

    Raises ValueError for what is no probability.
    """
    from scipy import stats

    if not tails:
        return []
    return [float(p) for p in stats.false_discovery_control(list(tails), method="bh")]
