"""Results on one scale beside their limit: what every kind of test can show."""

from __future__ import annotations

from collections.abc import Mapping

from auditkit.bench.diagram import Axis, ScaleDiagram, ScaleItem
from auditkit.bench.diagrams.parts import limits_of
from auditkit.bench.inputs import Limit
from auditkit.bench.result import StatedQuantity


def beside_limit(
    results: Mapping[str, StatedQuantity], limit: Limit | None
) -> ScaleDiagram:
    """Return results, by whose they are, beside the limit that they are held to.

    They are of one quantity in one unit; the first names it.
    """
    first = next(iter(results.values()))
    items = tuple(
        ScaleItem(
            name,
            float(said.value.text),
            0.0 if said.is_typed else float(said.expanded_uncertainty.text),
            "neither" if said.is_open else said.value.bound,
        )
        for name, said in results.items()
    )
    return ScaleDiagram(Axis(first.name, first.value.unit), items, limits_of(limit))
