"""What a diagram of a bench test shows, as data: points, limits, labels, bands. Pure.

A kind of test makes one; ``auditkit.output`` draws it. All numbers are in the unit that
their axis names; no place on a page, no colour and no drawing stands here. Two forms
cover all kinds: values over an axis (``ChartDiagram``), and results on one scale
beside a limit (``ScaleDiagram``).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from auditkit.bench.one_sided import Known

MOST_CHARTS = 2


class Mark(StrEnum):
    """How a point is marked; a bar stands on zero."""

    DOT = "dot"
    DIAMOND = "diamond"
    BAR = "bar"


@dataclass(frozen=True, slots=True)
class Axis:
    """What is drawn along an axis: a name, and its unit.

    With ``members`` the axis counts the members of a set from 1 to that number.
    """

    name: str
    unit: str = ""
    members: int = 0

    @property
    def label(self) -> str:
        """The name with the unit."""
        return f"{self.name}, {self.unit}" if self.unit else self.name


@dataclass(frozen=True, slots=True)
class Point:
    """A value with its expanded uncertainty (k = 2), at a place along the axis.

    ``known`` where only one side of it is known, or neither.
    """

    along: float
    value: float
    expanded: float = 0.0
    known: Known = ""

    def __post_init__(self) -> None:
        _refuse_endless("a point", self.along, self.value, self.expanded)


@dataclass(frozen=True, slots=True)
class Series:
    """Points that mean the same; ``joined`` in their order by a thin line."""

    name: str
    mark: Mark
    points: tuple[Point, ...]
    joined: bool = False


@dataclass(frozen=True, slots=True)
class Segment:
    """A straight line from one place to another, each (along, value)."""

    name: str
    start: tuple[float, float]
    end: tuple[float, float]

    def __post_init__(self) -> None:
        _refuse_endless("a segment", *self.start, *self.end)


@dataclass(frozen=True, slots=True)
class Level:
    """A line straight across at a value, dotted where it has a name."""

    value: float
    name: str = ""

    def __post_init__(self) -> None:
        _refuse_endless("a level", self.value)


@dataclass(frozen=True, slots=True)
class Chart:
    """Values over the diagram's axis.

    ``limits`` are by name, such as "minimum"; ``band`` is what lies within them, from
    low to high, None for an open side; no band where it is None itself.
    """

    up: Axis
    series: tuple[Series, ...]
    segments: tuple[Segment, ...] = ()
    levels: tuple[Level, ...] = ()
    limits: Mapping[str, float] = field(default_factory=dict)
    band: tuple[float | None, float | None] | None = None

    def __post_init__(self) -> None:
        if not any(one.points for one in self.series):
            raise ValueError("a chart shows no point")
        _refuse_endless("a limit", *self.limits.values())


@dataclass(frozen=True, slots=True)
class ChartDiagram:
    """One chart, or two below each other, over one horizontal axis."""

    along: Axis
    charts: tuple[Chart, ...]

    def __post_init__(self) -> None:
        if not 1 <= len(self.charts) <= MOST_CHARTS:
            raise ValueError(f"a diagram of {len(self.charts)} charts, not of 1 or 2")


@dataclass(frozen=True, slots=True)
class ScaleItem:
    """A result with its expanded uncertainty (k = 2); ``known`` as of a point."""

    name: str
    value: float
    expanded: float = 0.0
    known: Known = ""

    def __post_init__(self) -> None:
        _refuse_endless("a result", self.value, self.expanded)


@dataclass(frozen=True, slots=True)
class ScaleDiagram:
    """Results below each other on one scale, with the limits that they are held to.

    ``limits`` are by side: "minimum", "maximum".
    """

    axis: Axis
    items: tuple[ScaleItem, ...]
    limits: Mapping[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if not self.items:
            raise ValueError("a diagram shows no result")
        _refuse_endless("a limit", *self.limits.values())


Diagram = ChartDiagram | ScaleDiagram


def _refuse_endless(what: str, *numbers: float) -> None:
    """Raise ValueError for what has no place on a scale."""
    if not all(map(math.isfinite, numbers)):
        raise ValueError(f"{what} of a diagram is not a finite number")
