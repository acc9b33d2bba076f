"""A picture of a bench test, as SVG text: black and grey, the same bytes every run.

A seal hold is drawn as pressure against time, a sensor as points on its line with
what they depart from it, a balance as bars; every other test as its result beside
the limit. It is long because the pictures share their scales, marks and escaping. Error
bars are the expanded uncertainty, k = 2. A limit is drawn only
where the result was held against it.
"""

from __future__ import annotations

import html
import math
import re
import textwrap
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from auditkit.bench import KINDS, BenchInput, BenchResult, Limit, TestKind
from auditkit.bench.computed import Computed, in_unit
from auditkit.bench.kinds.balance import RATIO, median_of
from auditkit.bench.kinds.linear_transfer import BEND
from auditkit.bench.kinds.seal_hold import END, LOSS
from auditkit.bench.readings import BAROMETER, Readings
from auditkit.bench.uncertainty import COVERAGE, Uncertain, value_of
from auditkit.bench.units import Reference, Unit, exact, relative
from auditkit.errors import InputError
from auditkit.order.statement import DEFERS

_WIDTH, _HEIGHT = 640, 400
_LEFT, _RIGHT, _BOTTOM = 84.0, 612.0, 340.0
_FONT = 12
_LETTER = 5.8
"""Width of an average letter of that size, on the wide side."""
_LINE_OF_TEXT = 100
_LARGEST_PLAIN, _SMALLEST_PLAIN = 1e6, -5
_BLACK, _GREY, _MEMBER, _BAND = "#000", "#666", "#bbb", "#e8e8e8"
_SOLID, _LIMIT, _MIDDLE = "", "8 4", "2 3"

_NOT_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
"""What XML 1.0 (section 2.2, Char) has no place for."""

Point = tuple[float, float, float]
"""Where along the horizontal axis, value, expanded uncertainty."""


def bench_plot(
    kind: str,
    inputs: BenchInput,
    result: BenchResult,
    kinds: Mapping[str, TestKind] = KINDS,
) -> str:
    """Return the picture of one bench test; a text where nothing was computed.

    ``result`` is what the kind said of ``inputs``. Raises InputError for a kind that
    is not known.
    """
    if kind not in kinds:
        message = f"no kind of bench test is called {kind!r}"
        raise InputError(message, what_to_do=f"write one of {', '.join(sorted(kinds))}")
    test = kinds[kind]
    title = f"{test.title}: {result.outcome.value.replace('-', ' ')}"
    if result.result is None:
        said = result.reasons or ("nothing was computed",)
        return _svg(title, said, _paragraphs(said))
    told = _told(result)
    header = _header(told)
    top = 62.0 + 16 * len(header)
    return _svg(title, told, [*header, *_drawn(test, inputs, result, top)])


def _drawn(
    test: TestKind, inputs: BenchInput, result: BenchResult, top: float
) -> list[str]:
    """Return the picture that suits a kind, below ``top``."""
    limit = _used(result)
    readings = Readings(test.needs, inputs)
    computation = test.compute(readings, inputs.limit)
    computed = computation.named(test.chosen(limit).name)
    if test.name == "seal-hold" and computed.judged in {END, LOSS}:
        end = computation.named(END.name)
        return _hold(readings, end, computed, limit, top)
    if test.name == "temperature-sensor":
        baths = readings.series("bath temperature")
        sensor = tuple(e + t for e, t in zip(computed.values, baths, strict=True))
        names = ("bath temperature", "temperature by the sensor")
        unit = readings.unit(names[0])
        pair = (_Axis(names[0], unit, baths), _Axis(names[1], unit, sensor))
        return _transfer(pair, computed, limit, top)
    if test.name == "linear-transfer":
        across, up = (
            _Axis(name, readings.unit(name), readings.series(name))
            for name in ("stimulus", "output")
        )
        return _transfer((across, up), computed, limit, top)
    if test.name == "balance":
        return _balance(readings, computed, limit, top)
    return _beside_limit(test, inputs, result, top)


def _used(result: BenchResult) -> Limit | None:
    """Return the limit that the result was held against, if it was."""
    return result.limit if result.decision_rule else None


def _told(result: BenchResult) -> list[str]:
    """Return result, limit and reasons as lines."""
    limit = _used(result)
    lines = [f"{result.result}"]
    if limit is not None:
        pairs = (("at least", limit.minimum), ("at most", limit.maximum))
        sides = [f"{word} {side}" for word, side in pairs if side is not None]
        said = f"{' and '.join(sides)} {limit.unit}, from {limit.source}"
        lines.append(f"limit: {said}")
    lines += [f"because {reason}" for reason in result.reasons[:1]]
    if result.comparison is not None:
        lines.append(result.comparison.text)
    return lines


@dataclass(frozen=True, slots=True)
class _Axis:
    """What is drawn along one axis: its name, its unit, its values in SI."""

    name: str
    unit: Unit
    values: Sequence[Uncertain]

    @property
    def label(self) -> str:
        return f"{self.name}, {self.unit}"

    @property
    def plain(self) -> list[float]:
        return [in_unit(v, self.unit)[0] for v in self.values]


def _expanded(value: Uncertain, unit: Unit) -> tuple[float, float]:
    """Return a value in SI, and its expanded uncertainty, in a unit."""
    number, u = in_unit(value, unit)
    return number, COVERAGE * u


def _bounds(limit: Limit | None) -> dict[str, float]:
    """Return the limits by name, in the unit in which they were written."""
    if limit is None:
        return {}
    sides = (("minimum", limit.minimum), ("maximum", limit.maximum))
    return {name: float(exact(side)) for name, side in sides if side is not None}


# --- the pictures -----------------------------------------------------------


def _hold(
    readings: Readings, end: Computed, judged: Computed, limit: Limit | None, top: float
) -> list[str]:
    """Return pressure against time: as read, and the end as it is judged."""
    unit, clock = readings.unit("start pressure"), readings.unit("hold time")
    against = unit.reference or Reference.ABSOLUTE
    air, start = readings.one(BAROMETER), readings.pascals("start pressure")
    late = f"{BAROMETER} at end"
    last = readings.pascals("end pressure", late if readings.has(late) else BAROMETER)

    def shown(time: Uncertain, pascals: Uncertain) -> Point:
        return (
            in_unit(time, clock)[0],
            *_expanded(relative(pascals, against, air), unit),
        )

    points = [shown(0.0, start), shown(readings.one("hold time"), last)]
    if readings.has("time during hold") and readings.has("pressure during hold"):
        name = "pressure during hold"
        times, during = readings.series("time during hold"), readings.series(name)
        if len(times) == len(during):
            absolute = [readings.absolute(name, p) for p in during]
            points += [shown(t, p) for t, p in zip(times, absolute, strict=True)]
    points.sort()
    held = in_unit(readings.one("hold time"), clock)[0]
    corrected = (held, *_expanded(end.values[0], unit))
    lines = {}
    sign = 1 if value_of(start) > value_of(air) else -1
    for name, bound in _bounds(limit).items():
        pascals = bound * float(judged.unit_against(limit).factor)
        if judged.judged is LOSS:
            left = value_of(start) - sign * pascals
            pascals = value_of(relative(left, against, value_of(air)))
            name = f"{name} of the loss"  # noqa: PLW2901  said as what it is
        lines[name] = in_unit(pascals, unit)[0]
    across = _Scale.over([p[0] for p in points], _LEFT, _RIGHT)
    up = _Scale.over(_reach([*points, corrected], lines.values()), _BOTTOM, top + 10)
    trace = " ".join(f"{_n(across.at(t))},{_n(up.at(p))}" for t, p, _ in points)
    legend = [("dot", "as read"), ("diamond", "end, at start temperature"), _BARS]
    return [
        *_legend([*legend, *_limit_legend(lines)], top - 14),
        *_axes(across, up, f"time, {clock}", f"pressure, {unit}"),
        *_limits(up, lines),
        f'<polyline points="{trace}" fill="none" stroke="{_GREY}"/>',
        *(s for p in points for s in _marked(across, up, p, "dot")),
        *_marked(across, up, corrected, "diamond"),
    ]


def _transfer(
    pair: tuple[_Axis, _Axis], judged: Computed, limit: Limit | None, top: float
) -> list[str]:
    """Return points and their line above, and below how far they lie from it."""
    across_axis, up_axis = pair
    own = judged.unit_against(limit)
    xs, ys = across_axis.plain, up_axis.plain
    step = float(own.factor) / float(up_axis.unit.factor)
    errors = [(x, *_expanded(e, own)) for x, e in zip(xs, judged.values, strict=True)]
    points = [(x, y, e[2] * step) for x, y, e in zip(xs, ys, errors, strict=True)]
    line = sorted((x, y - e[1] * step) for x, y, e in zip(xs, ys, errors, strict=True))
    ends = (line[0], line[-1])
    lines = _bounds(limit)
    middle = top + 10 + (_BOTTOM - top - 10) * 0.54
    across = _Scale.over(xs, _LEFT, _RIGHT)
    up = _Scale.over(_reach(points, [y for _, y in ends]), middle - 12, top + 10)
    below = _Scale.over(_reach(errors, [0.0, *lines.values()]), _BOTTOM, middle + 12)
    word = "best line" if judged.judged is BEND else "specified line"
    legend = [("dot", "measured"), ("line", word), _BARS, *_limit_legend(lines)]
    (x1, y1), (x2, y2) = ends
    return [
        *_legend(legend, top - 14),
        *_axes(across, up, "", up_axis.label, numbers=False),
        *_axes(across, below, across_axis.label, f"{judged.name}, {own}"),
        _line(across.at(x1), up.at(y1), across.at(x2), up.at(y2)),
        _line(_LEFT, below.at(0), _RIGHT, below.at(0)),
        *_limits(below, lines),
        *(s for p in points for s in _marked(across, up, p, "dot")),
        *(s for p in errors for s in _marked(across, below, p, "dot")),
    ]


def _balance(
    readings: Readings, judged: Computed, limit: Limit | None, top: float
) -> list[str]:
    """Return a bar for each member, the median, and the band that the limit leaves."""
    name = "reading of each member"
    unit, members = readings.unit(name), readings.series(name)
    points = [(float(i), *_expanded(m, unit)) for i, m in enumerate(members, 1)]
    median = in_unit(median_of(members), unit)[0]
    highest = max(p[1] for p in points)
    lines = {}
    for side, bound in _bounds(limit).items():
        share = bound * float(judged.unit_against(limit).factor)
        whole = highest * share if judged.judged is RATIO else median * (1 + share)
        lines[side] = whole
    across = _Scale(0.4, len(points) + 0.6, _LEFT, _RIGHT)
    up = _Scale.over(_reach(points, [0.0, *lines.values()]), _BOTTOM, top + 10)
    up = replace(up, low=min(0.0, *lines.values())) if lines else replace(up, low=0.0)
    half = 0.3 * (across.at(1) - across.at(0))
    legend = [("bar", "member"), ("dots", f"median {_short(median)}"), _BARS]
    every = math.ceil(len(points) / 20)
    low, high = lines.get("minimum"), lines.get("maximum")
    if low is not None and high is None and judged.judged is RATIO:
        high = highest
    legend += [_WITHIN] * bool(lines)
    return [
        *_legend([*legend, *_limit_legend(lines)], top - 14),
        *_band(up, low, high),
        *_axes(across, up, "member of the set", f"reading, {unit}", numbers=False),
        *(
            _text(across.at(p[0]), _BOTTOM + 18, f"{p[0]:g}", "middle")
            for p in points[::every]
        ),
        *(
            _rect(across.at(x) - half, up.at(y), 2 * half, up.at(0) - up.at(y))
            for x, y, _ in points
        ),
        _line(_LEFT, up.at(median), _RIGHT, up.at(median), _MIDDLE),
        *_limits(up, lines),
        *(s for p in points for s in _marked(across, up, p, "")),
    ]


def _beside_limit(
    test: TestKind, inputs: BenchInput, result: BenchResult, top: float
) -> list[str]:
    """Return the result as a bar on a scale, beside limits and known-good part."""
    rows = [("this part", result)]
    if inputs.known_good is not None and result.comparison is not None:
        same = replace(inputs.of_known_good(inputs.known_good), known_good=None)
        rows.append(("known-good part", test.evaluate(same)))
    bars = [
        (name, float(said.value.text), float(said.expanded_uncertainty.text))
        for name, r in rows
        if (said := r.result) is not None
    ]
    lines = _bounds(_used(result))
    reach = _reach([(0.0, v, u) for _, v, u in bars], lines.values())
    across = _Scale.over(reach, 130.0, _RIGHT)
    height = (_BOTTOM - top - 10) / len(bars)
    low, high = (
        across.at(lines[side]) if side in lines else edge
        for side, edge in (("minimum", across.start), ("maximum", across.end))
    )
    drawn = [
        _rect(low, top + 10, high - low, _BOTTOM - top - 10, _BAND, "none")
    ] * bool(lines)
    drawn += [
        _line(across.at(x), top + 10, across.at(x), _BOTTOM, _LIMIT)
        for x in lines.values()
    ]
    for place, (name, value, u) in enumerate(bars):
        y = top + 10 + height * (place + 0.5)
        left, right = across.at(value - u), across.at(value + u)
        drawn += [
            _rect(left, y - 10, max(right - left, 1.0), 20, "#fff"),
            _line(across.at(value), y - 16, across.at(value), y + 16, width=2.5),
            _text(122, y + 4, name, "end"),
            _text(_within(across.at(value)), y - 24, _short(value), "middle", _HALO),
        ]
    legend = [("tick", "result"), ("box", "+/- U (k = 2)"), *[_WITHIN] * bool(lines)]
    said = result.result
    label = f"{said.name}, {said.value.unit}" if said else ""
    return [
        *_legend([*legend, *_limit_legend(lines)], top - 14),
        *drawn,
        *_bottom_axis(across, label),
    ]


# --- scales and axes --------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Scale:
    """A straight scale: values ``low`` to ``high`` drawn from ``start`` to ``end``."""

    low: float
    high: float
    start: float
    end: float

    @classmethod
    def over(cls, values: Iterable[float], start: float, end: float) -> _Scale:
        """Return a scale on which all values lie, with a little room beyond."""
        known = list(values)
        low, high = min(known), max(known)
        room = 0.06 * (high - low)
        if room <= abs(high) * 1e-9:
            room = abs(high) * 0.05 or 1.0
        return cls(low - room, high + room, start, end)

    def at(self, value: float) -> float:
        """Return where a value is drawn."""
        part = (value - self.low) / (self.high - self.low)
        return self.start + part * (self.end - self.start)

    def ticks(self) -> list[tuple[float, str]]:
        """Return round values on the scale, with their text.

        About one to 60 px across, one to 30 px up.
        """
        apart = 60 if self.end > self.start else 30
        wanted = max(3.0, abs(self.end - self.start) / apart)
        rough = (self.high - self.low) / wanted
        power = math.floor(math.log10(rough))
        factor = next(f for f in (1, 2, 5, 10) if f * 10.0**power >= rough * 0.999)
        if factor == 10:  # noqa: PLR2004  the next power
            factor, power = 1, power + 1
        first = math.ceil(self.low / (factor * 10.0**power))
        last = math.floor(self.high / (factor * 10.0**power))
        values = [float(f"{i * factor}e{power}") for i in range(first, last + 1)]
        largest = max((abs(v) for v in values), default=0.0)
        if power >= _SMALLEST_PLAIN and largest < _LARGEST_PLAIN:
            return [(v, f"{v:.{max(0, -power)}f}") for v in values]
        digits = math.floor(math.log10(largest)) - power if largest else 0
        return [(v, f"{v:.{max(0, digits)}e}") for v in values]


def _reach(points: Iterable[Point], more: Iterable[float]) -> list[float]:
    """Return the ends of all error bars, and more values that have to be seen."""
    return [e for _, y, u in points for e in (y - u, y + u)] + list(more)


def _axes(
    across: _Scale, up: _Scale, name: str, upward: str, *, numbers: bool = True
) -> list[str]:
    """Return both axes with names and numbers; ``numbers``: of the horizontal one."""
    middle = (up.start + up.end) / 2
    turned = f' transform="rotate(-90 18 {_n(middle)})"'
    drawn = [_line(_LEFT, up.start, _LEFT, up.end)]
    for value, text in up.ticks():
        drawn += [
            _line(_LEFT - 5, up.at(value), _LEFT, up.at(value)),
            _text(_LEFT - 8, up.at(value) + 4, text, "end"),
        ]
    for place, text in enumerate(_folded(upward, abs(up.start - up.end))):
        y = middle + 15 * place
        drawn.append(_text(18, y, text, "middle", turned))
    if numbers:
        return [*drawn, *_bottom_axis(across, name)]
    drawn.append(_line(_LEFT, up.start, _RIGHT, up.start))
    return [*drawn, _text((_LEFT + _RIGHT) / 2, _BOTTOM + 42, name, "middle")]


def _bottom_axis(across: _Scale, name: str) -> list[str]:
    drawn = [_line(across.start, _BOTTOM, across.end, _BOTTOM)]
    for value, text in across.ticks():
        drawn += [
            _line(across.at(value), _BOTTOM, across.at(value), _BOTTOM + 5),
            _text(_within(across.at(value)), _BOTTOM + 18, text, "middle"),
        ]
    where = (across.start + across.end) / 2
    return [*drawn, _text(where, _BOTTOM + 42, name, "middle")]


def _within(x: float) -> float:
    """Return a place at which a short text in the middle still fits the picture."""
    return min(max(x, 24.0), _WIDTH - 28.0)


def _limits(up: _Scale, lines: Mapping[str, float]) -> list[str]:
    """Return each limit as a dashed line across."""
    return [
        _line(_LEFT, up.at(y), _RIGHT, up.at(y), _LIMIT, width=2)
        for y in lines.values()
    ]


def _band(up: _Scale, low: float | None, high: float | None) -> list[str]:
    """Return what lies within the limits, shaded; nothing where there are none."""
    if low is None and high is None:
        return []
    top = up.end if high is None else up.at(high)
    bottom = up.start if low is None else up.at(low)
    height = max(0.0, bottom - top)  # none where no set can meet the limit
    return [_rect(_LEFT, top, _RIGHT - _LEFT, height, _BAND, "none")]


def _marked(across: _Scale, up: _Scale, point: Point, shape: str) -> list[str]:
    """Return a point with its error bar; ``shape`` dot, diamond or none."""
    x, y = across.at(point[0]), up.at(point[1])
    ends = [up.at(point[1] - point[2]), up.at(point[1] + point[2])]
    bar = [_line(x, ends[0], x, ends[1])]
    caps = [_line(x - 4, end, x + 4, end) for end in ends]
    return [*(bar + caps if point[2] else []), *_shape(shape, x, y)]


# --- marks and text ---------------------------------------------------------


def _shape(shape: str, x: float, y: float) -> list[str]:
    if shape == "dot":
        return [f'<circle cx="{_n(x)}" cy="{_n(y)}" r="3.5" fill="{_BLACK}"/>']
    if shape == "diamond":
        corners = ((x, y - 6), (x + 6, y), (x, y + 6), (x - 6, y))
        points = " ".join(f"{_n(a)},{_n(b)}" for a, b in corners)
        look = f'fill="#fff" stroke="{_BLACK}" stroke-width="1.5"'
        return [f'<polygon points="{points}" {look}/>']
    return []


_BARS = ("error", "+/- U (k = 2)")
_WITHIN = ("shade", "within the limit")
_FILLS = {"bar": _MEMBER, "box": "#fff", "shade": _BAND}
_HALO = ' stroke="#fff" stroke-width="3" paint-order="stroke"'
_LEGEND_LINES = {"line": _SOLID, "dash": _LIMIT, "dots": _MIDDLE}


def _legend(items: Sequence[tuple[str, str]], y: float) -> list[str]:
    """Return what each mark means, side by side."""
    drawn, x = [], 16.0
    for mark, said in items:
        if mark in _LEGEND_LINES:
            drawn.append(_line(x, y - 4, x + 24, y - 4, _LEGEND_LINES[mark], width=2))
        elif mark == "tick":
            drawn.append(_line(x + 12, y - 11, x + 12, y + 3, width=2.5))
        elif mark == "error":
            drawn += [_line(x + 8, y - e, x + 16, y - e) for e in (-1, 11)]
            drawn.append(_line(x + 12, y - 11, x + 12, y + 1))
        elif mark in _FILLS:
            drawn.append(_rect(x + 2, y - 10, 20, 11, _FILLS[mark]))
        drawn += [*_shape(mark, x + 12, y - 4), _text(x + 30, y, said)]
        x += 30 + _LETTER * len(said) + 14
    return drawn


def _limit_legend(lines: Mapping[str, float]) -> list[tuple[str, str]]:
    if not lines:
        return []
    if set(lines) == {"minimum", "maximum"}:
        low, high = lines["minimum"], lines["maximum"]
        return [("dash", f"limit {_short(low)} to {_short(high)}")]
    said = ", ".join(f"{name} {_short(value)}" for name, value in lines.items())
    return [("dash", said)]


def _header(told: Sequence[str]) -> list[str]:
    """Return what is told, two lines each at most; the description has it whole."""
    lines = [
        part
        for line in told
        for part in textwrap.wrap(line, _LINE_OF_TEXT, max_lines=2, placeholder="...")
    ]
    return [_text(16, 42 + 16 * i, line) for i, line in enumerate(lines)]


def _paragraphs(said: Sequence[str]) -> list[str]:
    lines = [part for text in said for part in textwrap.wrap(text, _LINE_OF_TEXT)]
    return [_text(16, 60 + 18 * i, line) for i, line in enumerate(lines[:18])]


def _folded(text: str, room: float) -> list[str]:
    """Return a text in lines that fit ``room`` px."""
    return textwrap.wrap(text, max(8, int((room + 12) / _LETTER)))[:2] or [""]


def _short(value: float) -> str:
    return f"{value:.5g}"


def _n(number: float) -> str:
    """Return a coordinate as text; never ``-0``."""
    text = f"{number:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _escaped(text: str) -> str:
    return html.escape(_NOT_XML.sub("\ufffd", text))


def _text(x: float, y: float, text: str, anchor: str = "start", more: str = "") -> str:
    where = f'x="{_n(x)}" y="{_n(y)}" text-anchor="{anchor}"{more}'
    return f"<text {where}>{_escaped(text)}</text>"


def _line(  # noqa: PLR0913, PLR0917  two ends and a look
    x1: float, y1: float, x2: float, y2: float, dash: str = _SOLID, width: float = 1
) -> str:
    ends = f'x1="{_n(x1)}" y1="{_n(y1)}" x2="{_n(x2)}" y2="{_n(y2)}"'
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    return f'<line {ends} stroke="{_BLACK}" stroke-width="{width:g}"{dashes}/>'


def _rect(  # noqa: PLR0913, PLR0917  a box and a look
    x: float,
    y: float,
    width: float,
    height: float,
    fill: str = _MEMBER,
    stroke: str = _BLACK,
) -> str:
    box = f'x="{_n(x)}" y="{_n(y)}" width="{_n(width)}" height="{_n(height)}"'
    return f'<rect {box} fill="{fill}" stroke="{stroke}"/>'


def _svg(title: str, told: Sequence[str], drawn: Sequence[str]) -> str:
    """Return the whole picture; title and description come first, to be read out."""
    told = [*told, DEFERS]
    box = f'viewBox="0 0 {_WIDTH} {_HEIGHT}" role="img"'
    look = f'font-family="sans-serif" font-size="{_FONT}" fill="{_BLACK}"'
    bold = 'font-size="16" font-weight="bold"'
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" {box} {look}>',
        f"<title>{_escaped(title)}</title>",
        f"<desc>{_escaped('. '.join(told))}</desc>",
        f'<rect width="{_WIDTH}" height="{_HEIGHT}" fill="#fff"/>',
        f'<text x="16" y="24" {bold}>{_escaped(title)}</text>',
        *drawn,
        "</svg>",
    ]
    return "\n".join(lines) + "\n"
