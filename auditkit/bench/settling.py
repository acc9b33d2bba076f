"""What would settle a test that is inconclusive."""

from __future__ import annotations

from decimal import Decimal

from auditkit.bench.decision import guard_band
from auditkit.bench.one_sided import Known
from auditkit.bench.uncertainty import Component, Origin, combined

_WITHIN_RANGE = (
    "read what was beyond its range on a range, or with an instrument, that shows its "
    "value"
)
_BY_ORIGIN = {
    Origin.INSTRUMENT: "use a better instrument",
    Origin.METHOD: "determine it better",
    Origin.REPEAT: "take more readings, or steady what makes them scatter",
}


def what_would_settle(  # noqa: PLR0913, PLR0917  what the hints speak of
    value: tuple[float, float],
    components: tuple[Component, ...],
    limits: tuple[float | None, float | None],
    alpha: float,
    unit: str,
    known: Known = "",
) -> tuple[str, ...]:
    """Return hints, the most useful first.

    ``value`` is the result nearest to failing and its standard uncertainty.
    """
    if known:
        return (_WITHIN_RANGE,)
    number, uncertainty = value
    distances = [abs(number - limit) for limit in limits if limit is not None]
    needed = min(distances) / guard_band(1.0, alpha)
    total = combined(components)
    hints: list[str] = []
    if needed < uncertainty:
        hints.append(
            f"a standard uncertainty of {_plain(needed)} {unit} or less at this value "
            f"(now {_plain(uncertainty)} {unit})"
        )
    if components:
        first = components[0]
        share = 100 * (first.standard_uncertainty / total) ** 2
        hints.append(
            f"{first.name} makes {share:.0f} % of the variance: "
            f"{_BY_ORIGIN[first.origin]}"
        )
    hints.append("repeat the test")
    return tuple(hints)


def _plain(number: float) -> str:
    """Return a number to two significant digits, never with an exponent."""
    return f"{Decimal(f'{number:.2g}'):f}"
