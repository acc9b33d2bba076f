"""A share with its interval that holds for small counts too.

Wilson's score interval: Brown, Cai and DasGupta 2001, Statistical Science 16:101 (from
memory).
"""

from __future__ import annotations

import math

from auditkit.fleet.statistics.normal import deviations


def wilson(hits: int, total: int, confidence: float = 0.95) -> tuple[float, float]:
    """Return the ends of the interval, in 0 to 1; ValueError where nothing was counted.

    5 of 5 says "at least 57 %", not "100 %".
    """
    if not 0 <= hits <= total or not total:
        raise ValueError(f"{hits} of {total} is no share")
    z = deviations(confidence)
    share, spread = hits / total, z * z / total
    middle = (share + spread / 2) / (1 + spread)
    half = z / (1 + spread) * math.sqrt((share * (1 - share) + spread / 4) / total)
    # At the ends rounding leaves something of the order of 1e-17.
    low = 0.0 if hits == 0 else middle - half
    return low, (1.0 if hits == total else middle + half)
