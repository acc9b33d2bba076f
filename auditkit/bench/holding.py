"""When a hold can decide: from a start within its limit, by a loss that shows.

Gas or charge that is held can only be lost. So a start that is not within its limit, a
limit that no part can meet or none can fail from there, and a quantity that grew make
the test not valid; and a part that lost nothing that shows is not called faulty.
"""

from __future__ import annotations

from auditkit.bench.computed import Held, in_unit, number_in
from auditkit.bench.decision import guard_band
from auditkit.bench.uncertainty import Uncertain, uncertainty_of, value_of
from auditkit.bench.units import Unit

Bounds = tuple[float | None, float | None]


def why_not_valid(held: Held, unit: Unit, bounds: Bounds, alpha: float) -> str:
    """Return why a hold cannot be judged by limits in ``unit``; empty if it can."""
    if value_of(held.loss) < -_band(held.loss, alpha):
        return (
            "what was held grew during the hold by more than its uncertainty: "
            "temperature, vapour, or a leak from the other side"
        )
    side, limit = _losing_side(held, bounds)
    if limit is None:
        return ""
    start, wide = in_unit(held.start, unit)
    inside, said = side * (limit - start), f"the limit of {limit:g} {unit.symbol}"
    if inside < 0:
        return f"from a start of {start:.4g} {unit.symbol} no part can meet {said}"
    if inside < guard_band(wide, alpha):
        return f"the start of {start:.4g} {unit.symbol} is not clearly within {said}"
    moved = abs(held.drift) / float(unit.factor)
    if moved > inside:
        return (
            f"the temperature alone moved it by {moved:.3g} {unit.symbol}, more than "
            f"the {inside:.3g} {unit.symbol} that the limit allows"
        )
    return _never_failed(held, unit, side, limit)


def _never_failed(held: Held, unit: Unit, side: int, limit: float) -> str:
    """Return why no part can fail the limit; empty if one can."""
    if held.empty is None:
        return ""
    empty = number_in(held.empty, unit)
    if side * (limit - empty) < 0:
        return ""
    return (
        f"even a part that loses all, down to {empty:.4g} {unit.symbol}, meets the "
        f"limit of {limit:g} {unit.symbol} from this start"
    )


def why_no_fault(
    held: Held, value: Uncertain, unit: Unit, bounds: Bounds, alpha: float
) -> str:
    """Return why a loss beyond its limit is no fault: none shows; else empty."""
    side, limit = _losing_side(held, bounds)
    number = number_in(value, unit)
    if limit is None or side * (number - limit) <= 0:
        return ""
    if value_of(held.loss) > _band(held.loss, alpha):
        return ""
    return "nothing was lost beyond what the instruments can tell"


def _losing_side(held: Held, bounds: Bounds) -> tuple[int, float | None]:
    """Return which way a loss moves the quantity (1 up, -1 down), and its limit."""
    rises = held.empty is None or value_of(held.empty) > value_of(held.start)
    low, high = bounds
    return (1, high) if rises else (-1, low)


def _band(number: Uncertain, alpha: float) -> float:
    return guard_band(uncertainty_of(number), alpha)
