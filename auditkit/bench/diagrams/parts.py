"""Values in SI as points of a diagram, and limits as its lines."""

from __future__ import annotations

from collections.abc import Mapping

from auditkit.bench.computed import in_unit
from auditkit.bench.diagram import Point
from auditkit.bench.inputs import Limit
from auditkit.bench.one_sided import Known
from auditkit.bench.uncertainty import COVERAGE, Uncertain
from auditkit.bench.units import Unit, exact


def point(along: float, value: Uncertain, unit: Unit, known: Known = "") -> Point:
    """Return a value in SI as a point in ``unit``; ``along`` is in its own already."""
    number, u = in_unit(value, unit)
    return Point(along, number, COVERAGE * u, known)


def limits_of(limit: Limit | None) -> Mapping[str, float]:
    """Return the sides of a limit by name, in the unit in which they were written."""
    if limit is None:
        return {}
    sides = (("minimum", limit.minimum), ("maximum", limit.maximum))
    return {name: float(exact(side)) for name, side in sides if side is not None}
