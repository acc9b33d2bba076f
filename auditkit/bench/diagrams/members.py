"""The members of a set as bars, their median, and what the limit leaves them."""

from __future__ import annotations

from collections.abc import Sequence

from auditkit.bench.computed import Computed, in_unit
from auditkit.bench.diagram import Axis, Chart, ChartDiagram, Level, Mark, Series
from auditkit.bench.diagrams.parts import limits_of, point
from auditkit.bench.inputs import Limit
from auditkit.bench.one_sided import Known
from auditkit.bench.uncertainty import Uncertain
from auditkit.bench.units import Unit


def members_diagram(  # noqa: PLR0913  what the members are, and how they are judged
    members: Sequence[tuple[Uncertain, Known]],
    unit: Unit,
    median: Uncertain,
    judged: Computed,
    limit: Limit | None,
    *,
    of_highest: bool,
) -> ChartDiagram:
    """Return a bar for each member, the median, and the band that the limit leaves.

    The limit is a share of the highest member, else a deviation from the median.
    """
    points = tuple(
        point(float(place), value, unit, known)
        for place, (value, known) in enumerate(members, 1)
    )
    middle = in_unit(median, unit)[0]
    highest = max(p.value for p in points)
    limits = {}
    for side, bound in limits_of(limit).items():
        share = bound * float(judged.unit_against(limit).factor)
        limits[side] = highest * share if of_highest else middle * (1 + share)
    low, high = limits.get("minimum"), limits.get("maximum")
    if low is not None and high is None and of_highest:
        high = highest
    chart = Chart(
        Axis("reading", str(unit)),
        (Series("member", Mark.BAR, points),),
        levels=(Level(middle, f"median {middle:.5g}"),),
        limits=limits,
        band=(low, high) if limits else None,
    )
    return ChartDiagram(Axis("member of the set", members=len(points)), (chart,))
