"""The difference between a part and a known-good part, with its own uncertainty.

Source: normalised error E_n, ISO/IEC 17043 Annex B and ISO 13528:2022 (from memory),
with the uncertainty of the difference itself: what both readings share cancels. One
good part shows a difference and no limit.
"""

from __future__ import annotations

from auditkit.bench.one_sided import Known
from auditkit.bench.result import KnownGoodComparison, stated
from auditkit.bench.uncertainty import COVERAGE, Uncertain, uncertainty_of, value_of
from auditkit.bench.units import Unit


def normalised_error(part: Uncertain, good: Uncertain) -> float:
    """Return E_n: the difference over its expanded uncertainty (k = 2).

    Between -1 and 1 the two agree. The difference must be uncertain.
    """
    difference = part - good
    return value_of(difference) / (COVERAGE * uncertainty_of(difference))


def compare_with_known_good(  # noqa: PLR0913, PLR0917  both parts, and how the answer is told
    name: str,
    unit: Unit,
    part: Uncertain,
    good: Uncertain,
    which: str,
    known: Known = "",
) -> KnownGoodComparison:
    """Return how a part compares with the known-good part ``which``.

    ``part`` and ``good`` are in SI, the difference is stated in ``unit``; ``known``
    says on which side of it the true one lies.
    """
    error, difference = normalised_error(part, good), part - good
    scale = float(unit.factor)
    said = stated(
        f"difference of {name}",
        value_of(difference) / scale,
        uncertainty_of(difference) / scale,
        str(unit),
        known,
    )
    differs = abs(error) > 1
    verb = "differs from" if differs else "does not differ measurably from"
    text = (
        f"{verb} the known-good part ({which}): {said}, E_n {error:.2f}; one good "
        "part shows a difference, not a limit"
    )
    return KnownGoodComparison(which, said, error, differs, text)
