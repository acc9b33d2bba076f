"""What an audit says, as data: sentences, tables, charts, questions. Pure.

``auditkit.fleet`` makes one from a collection; ``auditkit.fleet.report`` draws it as a
page and on paper, and is imported by whoever writes those files alone. No place on a
page and no colour stands here. The order of everything is the order in which it is
told.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum

Cell = str | int | float | None
"""One cell of a table; None is told by what the table says of it."""


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its heading, its unit, and how many decimals its numbers have."""

    name: str
    heading: str
    unit: str = ""
    decimals: int = 0


def interval(prefix: str, unit: str = "%", decimals: int = 1) -> tuple[Column, Column]:
    """Return the columns of an interval; the first says at which level it is."""
    return (
        Column(f"{prefix}low", "95 % interval from", unit, decimals),
        Column(f"{prefix}high", "to", unit, decimals),
    )


@dataclass(frozen=True, slots=True)
class Table:
    """Rows in a total order; ``name`` is that of its file where it is exported."""

    name: str
    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    note: str = ""
    without: str = "too few"
    """What stands where a cell is None."""
    is_for_files: bool = False
    """Whether it is so long that a report only names it: it stands in the files."""

    def __post_init__(self) -> None:
        for row in self.rows:
            if len(row) != len(self.columns):
                raise ValueError(f"a row of table {self.name} has {len(row)} cells")


class Style(StrEnum):
    """How a line is drawn; it says the same as a colour would."""

    FULL = "full"
    DASHED = "dashed"
    DOTTED = "dotted"
    STEPS = "steps"


class Shape(StrEnum):
    """How a point is drawn."""

    CIRCLE = "circle"
    HOLLOW = "hollow circle"
    SQUARE = "square"
    TRIANGLE = "triangle"


@dataclass(frozen=True, slots=True)
class Line:
    """Points joined in their order; with ``band`` what lies between low and high."""

    name: str
    points: tuple[tuple[float, float], ...]
    style: Style = Style.FULL
    band: tuple[tuple[float, float, float], ...] = ()

    def __post_init__(self) -> None:
        _refuse_endless(*(n for point in (*self.points, *self.band) for n in point))


@dataclass(frozen=True, slots=True)
class Dot:
    """One point, named beside it where it has a name."""

    along: float
    up: float
    shape: Shape = Shape.CIRCLE
    name: str = ""

    def __post_init__(self) -> None:
        _refuse_endless(self.along, self.up)


@dataclass(frozen=True, slots=True)
class Bars:
    """For each name a bar, in parts that add up where there are several.

    However they lie, ``Chart.along`` is what the names are, ``Chart.up`` what the
    values are.
    """

    names: tuple[str, ...]
    parts: tuple[str, ...]
    values: tuple[tuple[float, ...], ...]
    outline: tuple[float, ...] = ()
    """What the bars are held against, one for each name; empty for nothing."""
    outline_name: str = ""

    def __post_init__(self) -> None:
        if len(self.values) != len(self.names):
            raise ValueError("each name has a bar")
        if any(len(row) != len(self.parts) for row in self.values):
            raise ValueError("each bar has all parts")
        if self.outline and len(self.outline) != len(self.names):
            raise ValueError("each bar has an outline, or none has")
        _refuse_endless(*(n for row in self.values for n in row), *self.outline)


@dataclass(frozen=True, slots=True)
class Scale:
    """An axis: its label with the unit; None lets the data choose its end.

    With ``members`` it is a list of names, the first on top, at the places 0, 1, 2 and
    so on (shops in a strip of readings). Where ``is_time``, its numbers are seconds
    since 1970-01-01 00:00 UTC.
    """

    label: str
    low: float | None = None
    high: float | None = None
    is_logarithmic: bool = False
    is_time: bool = False
    members: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Shade:
    """A stretch of the axis along, shaded over the whole height, with what it is."""

    low: float
    high: float
    name: str = ""

    def __post_init__(self) -> None:
        _refuse_endless(self.low, self.high)


@dataclass(frozen=True, slots=True)
class Span:
    """Something that lasts, on the lane of a timeline; hatched where withheld.

    What begins and ends at one moment is drawn as a mark; so is ``claimed``, before
    the bar of when it was written down.
    """

    lane: str
    start: float
    end: float
    name: str = ""
    is_hatched: bool = False
    claimed: float | None = None

    def __post_init__(self) -> None:
        _refuse_endless(self.start, self.end, self.claimed or 0.0)


@dataclass(frozen=True, slots=True)
class Chart:
    """A chart; ``sentence`` says what it shows, for those who cannot see it.

    ``below`` is a row of numbers under the axis, such as numbers at risk: (name,
    ((along, text), ...)). ``beside`` is a text at the right of each member of ``up``.
    ``spans`` make a timeline: its lanes come in their order, and ``lines`` stand below
    them on the scale ``up`` (the odometer). Charts of one ``group`` that follow each
    other are drawn small, side by side, on the same axes. ``numbers`` names the table
    of the same section that has its numbers; without one they are listed from the chart
    itself.
    """

    name: str
    title: str
    sentence: str
    along: Scale
    up: Scale
    lines: tuple[Line, ...] = ()
    dots: tuple[Dot, ...] = ()
    bars: Bars | None = None
    spans: tuple[Span, ...] = ()
    below: tuple[tuple[str, tuple[tuple[float, str], ...]], ...] = ()
    shaded: tuple[Shade, ...] = ()
    shapes: tuple[tuple[Shape, str], ...] = ()
    """What each shape of a dot means, where they are several."""
    band_name: str = ""
    """What the band about a line is, such as "95 % interval"."""
    beside: tuple[str, ...] = ()
    group: str = ""
    numbers: str = ""


@dataclass(frozen=True, slots=True)
class ToOpen:
    """A packet that answers a question: its SHA-256 in hex, its order, why this one."""

    sha256: str
    repair_order: str
    because: str


@dataclass(frozen=True, slots=True)
class AskedOfShop:
    """A question to a shop, never an accusation, with what makes it worth asking.

    ``screen`` is what found it, ``measured`` and ``peers`` the numbers with their
    names, ``at_least`` the smallest count for which the screen says anything, ``chart``
    its picture,
    ``honest_reasons`` what an honest shop may answer, ``answer`` what this shop has
    answered, with its date. ``also`` are the other shops of whom the very same is
    asked: it is told once, with all of them.
    """

    screen: str
    shop: str
    question: str
    measured: Mapping[str, Cell]
    peers: Mapping[str, Cell]
    at_least: str
    honest_reasons: tuple[str, ...]
    to_open: tuple[ToOpen, ...]
    is_to_watch: bool = False
    """Whether it only becomes a question if new packets show it again."""
    answer: str = ""
    chart: Chart | None = None
    also: tuple[str, ...] = ()


def told_once(asked: Iterable[AskedOfShop]) -> list[list[AskedOfShop]]:
    """Return questions in their order, those that are one of several shops together."""
    found: dict[object, list[AskedOfShop]] = {}
    for place, one in enumerate(asked):
        key = (one.screen, one.question) if one.also else place
        found.setdefault(key, []).append(one)
    return list(found.values())


@dataclass(frozen=True, slots=True)
class Section:
    """One part of an audit: what it says first, then what that rests on.

    With ``shop`` it tells of that shop alone, and stands with the questions to it.
    """

    name: str
    title: str
    sentences: tuple[str, ...]
    tables: tuple[Table, ...] = ()
    charts: tuple[Chart, ...] = ()
    shop: str = ""


@dataclass(frozen=True, slots=True)
class Audit:
    """The whole of it. ``made_from`` names digests, versions and settings.

    ``called`` has by shop what it calls itself: its own word. The first section is the
    page for those who decide. A page of one shop, one order
    or one vehicle is an audit with fewer sections.
    """

    title: str
    sections: tuple[Section, ...]
    asked: tuple[AskedOfShop, ...]
    made_from: Mapping[str, Cell] = field(default_factory=dict)
    called: Mapping[str, str] = field(default_factory=dict)


def _refuse_endless(*numbers: float) -> None:
    """Raise ValueError for what has no place on a scale."""
    if not all(map(math.isfinite, numbers)):
        raise ValueError("a number of a chart is not finite")
