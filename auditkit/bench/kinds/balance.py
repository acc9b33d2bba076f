"""Balance of a set: each member against the median of all.

The mean is not used: one bad member moves it, and the good ones then seem to deviate.
Outlier test: Grubbs (ISO 5725-2 describes it), a note and never a verdict. There is
no published limit for engines: "lowest at least 75 % of the highest" is common
practice, no published source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import fmean, stdev

from auditkit.bench.computed import Computation, Computed, Judged
from auditkit.bench.diagram import ChartDiagram
from auditkit.bench.diagrams.members import members_diagram
from auditkit.bench.inputs import PRESSURE_REFERENCE, Limit, Need
from auditkit.bench.kind import TestKind
from auditkit.bench.one_sided import Known, joint_side, opposite_side
from auditkit.bench.readings import Readings
from auditkit.bench.student import quantile
from auditkit.bench.uncertainty import Uncertain, value_of
from auditkit.bench.units import QuantityKind, Reference
from auditkit.errors import InputError
from auditkit.text.values import Bound

RATIO = Judged("lowest to highest", QuantityKind.RATIO, "%")
DEVIATION = Judged("deviation from the median", QuantityKind.RATIO, "%")

MEMBERS = "reading of each member"
FEWEST = 3
_KINDS = (
    QuantityKind.PRESSURE,
    QuantityKind.RESISTANCE,
    QuantityKind.FLOW,
    QuantityKind.VOLUME,
    QuantityKind.TIME,
    QuantityKind.VOLTAGE,
    QuantityKind.CURRENT,
    QuantityKind.ROTATION,
    QuantityKind.RATIO,
)


def grubbs(values: Sequence[float]) -> float:
    """Return Grubbs' statistic: the largest deviation in standard deviations."""
    mean, spread = fmean(values), stdev(values)
    return max(abs(v - mean) for v in values) / spread if spread else 0.0


def grubbs_critical(count: int, alpha: float) -> float:
    """Return what Grubbs' statistic exceeds by chance with probability ``alpha``."""
    t = quantile(1 - alpha / (2 * count), count - 2)
    return (count - 1) / math.sqrt(count) * math.sqrt(t * t / (count - 2 + t * t))


def median_of(values: Sequence[Uncertain]) -> Uncertain:
    """Return the median of uncertain numbers, placed by their values."""
    ordered = sorted(values, key=value_of)
    middle = len(ordered) // 2
    if len(ordered) % 2:
        return ordered[middle]
    return (ordered[middle - 1] + ordered[middle]) / 2


def _ratio_known(members: Sequence[Uncertain], bounds: Sequence[Bound]) -> Known:
    """Return which side of lowest to highest is known.

    A member that is known on one side only makes the ratio smaller, unless it is
    itself the end from which it moves away.
    """
    values = [value_of(m) for m in members]
    ends: dict[Bound, float] = {"above": min(values), "below": max(values)}
    if any(b and v == ends[b] for v, b in zip(values, bounds, strict=True)):
        return "neither"
    return "below" if any(bounds) else ""


def _deviations_known(
    members: Sequence[Uncertain], bounds: Sequence[Bound]
) -> tuple[Known, ...]:
    """Return which side of each member's deviation is known.

    A member's own bound is that of its deviation; one that may cross the middle moves
    the median, and with it the deviation of all others.
    """
    values = [value_of(m) for m in members]
    ordered = sorted(values)
    low, high = ordered[(len(values) - 1) // 2], ordered[len(values) // 2]
    moves: list[Bound] = [
        opposite_side(b) if (v <= high if b == "above" else v >= low) else ""
        for v, b in zip(values, bounds, strict=True)
    ]
    return tuple(
        joint_side((own, *(m for i, m in enumerate(moves) if i != place)))
        for place, own in enumerate(bounds)
    )


def _compute(readings: Readings) -> Computation:
    members = readings.series(MEMBERS)
    if min(map(value_of, members)) < 0 or value_of(median_of(members)) <= 0:
        raise InputError(
            "the set holds a value below zero, or none above it",
            what_to_do="give all of them as positive numbers",
        )
    median, bounds = median_of(members), readings.bounds(MEMBERS)
    spread = _ratio_known(members, bounds)
    # The lowest and the highest are the two that chance has put furthest apart.
    pairs = len(members) * (len(members) - 1) // 2
    lowest, highest = min(members, key=value_of), max(members, key=value_of)
    statistic = grubbs([value_of(m) for m in members])
    critical = grubbs_critical(len(members), 0.05)
    verb = "exceeds" if statistic > critical else "does not exceed"
    return Computation(
        (
            Computed(RATIO, (lowest / highest,), known=(spread,), comparisons=pairs),
            Computed(
                DEVIATION,
                tuple(m / median - 1 for m in members),
                tuple(f"member {i}" for i in range(1, len(members) + 1)),
                known=_deviations_known(members, bounds),
            ),
        ),
        (
            f"Grubbs' statistic {statistic:.3f} {verb} {critical:.3f} (alpha 0.05)",
            "the readings share the error of their instrument",
            "pressures are compared as read",
        ),
        ("repeat every member", "change the order of the members"),
    )


def _draw(
    readings: Readings, computation: Computation, judged: Computed, limit: Limit | None
) -> ChartDiagram:
    del computation
    members = readings.series(MEMBERS)
    return members_diagram(
        tuple(zip(members, readings.bounds(MEMBERS), strict=True)),
        readings.unit(MEMBERS),
        median_of(members),
        judged,
        limit,
        of_highest=judged.judged is RATIO,
    )


BALANCE = TestKind(
    name="balance",
    title="Balance of a set",
    readings=(Need(MEMBERS, _KINDS, at_least=FEWEST),),
    conditions=(Need(PRESSURE_REFERENCE, required=False, words=tuple(Reference)),),
    judges=(RATIO, DEVIATION),
    refuses=(
        "a set of fewer than three",
        "the mean as a measure: one bad member moves it",
    ),
    source="median and Grubbs' test; limits are given by whoever tests",
    compute=_compute,
    draw=_draw,
)
