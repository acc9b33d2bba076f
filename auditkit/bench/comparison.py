"""The difference between a part and a known-good part, with its own uncertainty.

Source: normalised error E_n, ISO/IEC 17043 Annex B and ISO 13528:2022 (from memory).
One good part shows a difference and no limit. Both are taken as independent; where
the same instrument measured both, its common error cancels and E_n is on the safe
side.
"""

from __future__ import annotations

import math

from auditkit.bench.result import Comparison, stated
from auditkit.bench.uncertainty import COVERAGE


def normalised_error(
    value: float, expanded: float, reference: float, expanded_reference: float
) -> float:
    """Return E_n of a value against a reference, from expanded uncertainties (k = 2).

    Between -1 and 1 the two agree. Both uncertainties must not be 0 at once.
    """
    return (value - reference) / math.hypot(expanded, expanded_reference)


def compared(
    name: str,
    unit: str,
    part: tuple[float, float],
    good: tuple[float, float],
    which: str,
) -> Comparison:
    """Return how a part compares with the known-good part ``which``.

    ``part`` and ``good`` are value and standard uncertainty in ``unit``.
    """
    error = normalised_error(part[0], COVERAGE * part[1], good[0], COVERAGE * good[1])
    said = stated(
        f"difference of {name}", part[0] - good[0], math.hypot(part[1], good[1]), unit
    )
    differs = abs(error) > 1
    verb = "differs from" if differs else "does not differ measurably from"
    text = (
        f"{verb} the known-good part ({which}): {said}, E_n {error:.2f}; one good "
        "part shows a difference, not a limit"
    )
    return Comparison(which, said, error, differs, text)
