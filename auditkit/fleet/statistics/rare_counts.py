"""Limits and tails of a count of rare events: exact Poisson.

Garwood 1936, Biometrika 28:437 (from memory), by the incomplete gamma function.
"""

from __future__ import annotations


def limits(count: int, confidence: float = 0.95) -> tuple[float, float]:
    """Return the interval of the mean of which ``count`` events are one draw."""
    from scipy import special

    outside = (1 - confidence) / 2
    low = float(special.gammaincinv(count, outside)) if count else 0.0
    return low, float(special.gammainccinv(count + 1, outside))


def ratio_limits(
    seen: int, expected: float, confidence: float = 0.95
) -> tuple[float, float]:
    """Return the interval of seen / expected; ValueError where none is expected."""
    if not expected > 0:
        raise ValueError("a ratio needs something that was expected")
    low, high = limits(seen, confidence)
    return low / expected, high / expected


def upper_tail(count: int, expected: float) -> float:
    """Return P(this many or more)."""
    from scipy import special

    return float(special.gammainc(count, expected)) if count else 1.0


def upper_tail_middle(count: int, expected: float) -> float:
    """Return P(more) and half of P(exactly this many): the mid-p tail."""
    return (upper_tail(count, expected) + upper_tail(count + 1, expected)) / 2


def lower_tail(count: float, expected: float) -> float:
    """Return P(this many or fewer), between whole counts by the gamma function."""
    from scipy import special

    return float(special.gammaincc(count + 1, expected))


def smallest_within(expected: float, confidence: float) -> float:
    """Return the count, not whole, at and below which lies (1 - confidence) / 2.

    0 where even no event at all is likelier than that.
    """
    outside = (1 - confidence) / 2
    low, high = 0.0, expected
    if lower_tail(0, expected) > outside:
        return 0.0
    for _ in range(60):
        middle = (low + high) / 2
        is_inside = lower_tail(middle, expected) > outside
        low, high = (low, middle) if is_inside else (middle, high)
    return low


def largest_within(expected: float, confidence: float) -> int:
    """Return the count that is exceeded with at most (1 - confidence) / 2."""
    outside, count = (1 - confidence) / 2, int(expected)
    while upper_tail(count + 1, expected) > outside:
        count += 1
    return count
