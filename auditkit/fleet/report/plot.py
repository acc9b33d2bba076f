"""Lines, bands, dots and shades over two axes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from auditkit.fleet.audited import Chart, Line, Shape, Style
from auditkit.fleet.report import ink, labels
from auditkit.fleet.report.axis import Axis
from auditkit.fleet.report.framed import Framed, across_axis, shades, up_axis
from auditkit.fleet.report.labels import Frame
from auditkit.fleet.report.legend import Item, legend, moved
from auditkit.reader.page.markup import Element

_MOST_LINES = 4  # that are told apart by dash and colour
_PILED = (0.0, -4.5, 4.5, -9.0, 9.0)  # dots of one member that would hide each other
_MEMBER = 26.0


@dataclass(frozen=True, slots=True)
class Look:
    """How a line is drawn."""

    stroke: str
    dash: str


def plot(chart: Chart, size: tuple[float, float]) -> Framed:
    """Return the picture of a chart that has neither bars nor lanes.

    ``size`` in px is what it may take; one with members is as high as they need.
    """
    wide, high = size
    keys, top = legend(_meanings(chart), wide - 24)
    top += 12
    beside = _right(chart, wide)
    right = wide - 18 - beside
    left = _left(chart, wide)
    if chart.up.members:
        top += 14 if any(line.name for line in chart.lines) else 0
        high = top + _MEMBER * len(chart.up.members) + 52
    frame = Frame(left, top, right, high - 46, beside)
    across, up = axes(chart, frame)
    drawn: list[Element] = [moved(keys, 12, 0)]
    drawn += shades(chart, across, frame)
    for line in chart.lines:
        drawn += _band(line, across, up)
    drawn += up_axis(up, frame)
    numbers = [along for _, row in chart.below for along, _ in row]
    drawn += across_axis(across, frame, sorted(set(numbers)))
    looks = _looks(chart)
    for line in chart.lines:
        drawn += _line(line, looks[_key(line)], across, up, frame)
    drawn += _dots(chart, across, up)
    named, left_out = labels.beside(
        [(across.at(d.along), up.at(d.up), d.name) for d in chart.dots if d.name],
        frame,
        [(across.at(d.along), up.at(d.up)) for d in chart.dots if not d.name],
    )
    drawn += named
    drawn += _ends(chart, looks, across, up, frame)
    drawn += _beside(chart, up, frame)
    below, bottom = _below(chart, across, frame, high)
    return Framed(wide, bottom, (*drawn, *below), tuple(left_out))


def axes(chart: Chart, frame: Frame) -> tuple[Axis, Axis]:
    """Return the axis along and the axis up of a chart in its frame."""
    down, top = frame.bottom, frame.top
    if chart.up.members:
        down, top = top, down  # the first member on top
    return (
        Axis.over(chart.along, values_along(chart), frame.left, frame.right),
        Axis.over(chart.up, values_up(chart), down, top, _limits(chart)),
    )


def values_along(chart: Chart) -> list[float]:
    """Return what decides how long the axis along is."""
    along = [p[0] for one in chart.lines for p in one.points]
    along += [d.along for d in chart.dots]
    return along + [edge for s in chart.shaded for edge in (s.low, s.high)]


def values_up(chart: Chart) -> list[float]:
    """Return what decides how high the axis up is.

    Beside dots or steps, other lines are limits, which may run off.
    """
    lines = [line for line in chart.lines if line not in _soft(chart)]
    up = [p[1] for one in lines for p in one.points] + [d.up for d in chart.dots]
    return up + [edge for one in lines for p in one.band for edge in p[1:]]


def _soft(chart: Chart) -> list[Line]:
    soft = [line for line in chart.lines if line.style is not Style.STEPS]
    return soft if chart.dots or len(soft) < len(chart.lines) else []


def _limits(chart: Chart) -> list[float]:
    return [p[1] for one in _soft(chart) for p in one.points]


def lines_only(chart: Chart, across: Axis, frame: Frame) -> list[Element]:
    """Return the lines of a chart with their axis up, on an axis along that is set."""
    up = Axis.over(chart.up, values_up(chart), frame.bottom, frame.top)
    looks = _looks(chart)
    drawn = up_axis(up, frame)
    for line in chart.lines:
        drawn += _line(line, looks[_key(line)], across, up, frame)
        drawn += [
            ink.mark(Shape.CIRCLE, across.at(x), up.at(y), 3) for x, y in line.points
        ]
    return drawn


def _left(chart: Chart, wide: float) -> float:
    """Return where the frame begins: what stands left of it fits."""
    if chart.up.members:
        longest = max((ink.wide(name) for name in chart.up.members), default=0.0)
        return min(longest, wide * 0.3) + 18
    return 62.0 if wide < 400 else 74.0


def _right(chart: Chart, wide: float) -> float:
    """Return the room for names at the ends of lines, or beside members."""
    said = [*chart.beside] if chart.up.members else [one.name for one in chart.lines]
    longest = max((ink.wide(name) for name in said), default=0.0)
    return min(longest, wide * 0.28) + 8 if longest else 0.0


def _meanings(chart: Chart) -> list[Item]:
    items: list[Item] = [
        ([ink.mark(shape, 10, 0)], said) for shape, said in chart.shapes
    ]
    shaded = [s.name for s in chart.shaded]
    shaded += [chart.band_name for one in chart.lines if one.band]
    box = ink.box(0, -5, 20, 10, ink.SHADE, ink.PALE)
    return items + [([box], said) for said in dict.fromkeys(shaded) if said]


def _looks(chart: Chart) -> dict[str, Look]:
    """Return how each line is drawn, by ``_key``: no two of one dash or colour.

    Limits of one style belong together, above and below.
    """
    keys = list(dict.fromkeys(map(_key, chart.lines)))
    steps = [key for key in keys if key not in ink.DASHES]
    free = 0 if len(steps) == len(keys) else len(ink.DASHES)
    looks = {}
    for place, key in enumerate(keys):
        if key in steps:
            dash = ink.STEP_DASHES[(steps.index(key) + free) % _MOST_LINES]
        else:
            dash = ink.DASHES[Style(key)]
        looks[key] = Look(ink.PALETTE[place % _MOST_LINES], dash)
    return looks


def _key(line: Line) -> str:
    """Return what lines drawn alike have in common."""
    return line.style if line.style in ink.DASHES else f"steps {line.name}"


def _steps(points: Sequence[tuple[float, float]]) -> Iterator[tuple[float, float]]:
    """Yield the corners of steps: a value holds until the next."""
    before: float | None = None
    for x, y in points:
        if before is not None:
            yield x, before
        yield x, y
        before = y


def _band(line: Line, across: Axis, up: Axis) -> list[Element]:
    if not line.band:
        return []
    lows, highs = (
        [(x, low) for x, low, _ in line.band],
        [(x, h) for x, _, h in line.band],
    )
    if line.style is Style.STEPS:
        lows, highs = list(_steps(lows)), list(_steps(highs))
    low, high = (
        [(across.at(x), up.within(up.at(y))) for x, y in edge] for edge in (lows, highs)
    )
    return [
        ink.area((*low, *high[::-1]), ink.SHADE),
        *(ink.path(edge, ink.PALE, 0.7) for edge in (low, high)),
    ]


def _line(
    line: Line, look: Look, across: Axis, up: Axis, frame: Frame
) -> list[Element]:
    points = list(_steps(line.points)) if line.style is Style.STEPS else line.points
    places = [(across.at(x), up.at(y)) for x, y in points]
    runs = _visible(places, frame)
    return [ink.path(run, look.stroke, 1.8, look.dash) for run in runs]


def _visible(
    points: Sequence[tuple[float, float]], frame: Frame
) -> Iterator[list[tuple[float, float]]]:
    """Yield the runs of a line that lie between the frame's top and bottom."""
    run: list[tuple[float, float]] = []
    for (x1, y1), (x2, y2) in pairwise(points):
        ends = _between((x1, y1), (x2, y2), frame)
        if ends is None or (run and run[-1] != ends[0]):
            if run:
                yield run
            run = []
        if ends is not None:
            run = [*(run or [ends[0]]), ends[1]]
    if run:
        yield run


def _between(
    one: tuple[float, float], two: tuple[float, float], frame: Frame
) -> tuple[tuple[float, float], tuple[float, float]] | None:
    """Return the part of a straight line inside the frame's height; None for none."""
    (x1, y1), (x2, y2) = one, two
    first, last = 0.0, 1.0
    for edge, sign in ((frame.top, 1.0), (frame.bottom, -1.0)):
        a, b = sign * (y1 - edge), sign * (y2 - edge)
        if a < 0 and b < 0:
            return None
        if a < 0:
            first = max(first, a / (a - b))
        elif b < 0:
            last = min(last, a / (a - b))
    if first > last:
        return None
    ends = [(x1 + t * (x2 - x1), y1 + t * (y2 - y1)) for t in (first, last)]
    return ends[0], ends[1]


def _dots(chart: Chart, across: Axis, up: Axis) -> Iterator[Element]:
    """Yield the marks; those of one member that would hide each other are moved."""
    size = 2.6 if chart.up.members and len(chart.dots) > 60 else 4.5
    if not chart.up.members:
        for dot in chart.dots:
            yield ink.mark(dot.shape, across.at(dot.along), up.at(dot.up), size)
        return
    free: dict[float, list[float]] = {}
    for dot in sorted(chart.dots, key=lambda d: (d.up, d.along)):
        x = across.at(dot.along)
        ends = free.setdefault(dot.up, [])
        row = _row(ends, x, 2 * size)
        yield ink.mark(dot.shape, x, up.at(dot.up) + _PILED[row], size)


def _row(ends: list[float], x: float, apart: float) -> int:
    """Return the row, by rank, in which a dot hides the least of those before it."""
    for row, end in enumerate(ends):
        if end + apart <= x:
            ends[row] = x
            return row
    if len(ends) < len(_PILED):
        ends.append(x)
        return len(ends) - 1
    row = ends.index(min(ends))
    ends[row] = x
    return row


def _ends(
    chart: Chart, looks: dict[str, Look], across: Axis, up: Axis, frame: Frame
) -> list[Element]:
    """Return the names of lines at their ends, moved apart."""
    named = [line for line in chart.lines if line.name and line.points]
    if chart.up.members:
        return [part for one in named for part in _standing(one, across, frame)]
    ends = []
    for line in named:
        x, y = line.points[-1]
        ends.append((across.at(x), up.within(up.at(y))))
    moved = labels.spread([y for _, y in ends], frame.top, frame.bottom)
    drawn = []
    for line, (x, y), place in zip(named, ends, moved, strict=True):
        at = frame.right + 8
        if abs(place - y) > 3 or x < frame.right - 3:
            drawn.append(ink.line(x + 2, y, at - 2, place, ink.PALE))
        look = looks[_key(line)]
        said = ink.cut(line.name, frame.beside)
        drawn.append(ink.text(at, place + 4, said, fill=_inked(look.stroke)))
    return drawn


def _inked(stroke: str) -> str:
    """Return the colour of a name: text needs 4.5:1, which blue and grey have."""
    return stroke if stroke in {ink.BLUE, ink.GREY} else ink.BLACK


def _standing(line: Line, across: Axis, frame: Frame) -> list[Element]:
    """Return the name of a line that stands across the members, above the frame."""
    x = across.at(line.points[0][0])
    said = ink.cut(line.name, frame.wide / 2)
    anchor = "end" if x > frame.left + frame.wide / 2 else "start"
    return [ink.text(x, frame.top - 3, said, anchor)]


def _beside(chart: Chart, up: Axis, frame: Frame) -> list[Element]:
    return [
        ink.text(frame.right + 8, up.at(i) + 4, ink.cut(said, frame.beside))
        for i, said in enumerate(chart.beside)
    ]


def _below(
    chart: Chart, across: Axis, frame: Frame, high: float
) -> tuple[list[Element], float]:
    """Return the rows of numbers below the axis, and where the picture ends."""
    drawn: list[Element] = []
    y = high
    for name, numbers in chart.below:
        said = ink.cut(name, frame.right - 12)
        drawn.append(ink.text(12, y + 10, said, font_weight="bold"))
        free = -1.0
        for along, told in numbers:
            half = ink.wide(told) / 2
            x = across.at(along)
            if x - half > free:
                drawn.append(ink.text(x, y + 25, told, "middle"))
                free = x + half + 3
        y += 32
    return drawn, y + (6 if chart.below else 0)
