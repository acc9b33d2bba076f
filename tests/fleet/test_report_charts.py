"""The pictures: what they show lies where it belongs, and nothing hides a name."""

import re
from dataclasses import replace
from itertools import combinations, pairwise
from math import isclose

import invented_audit
import pytest

from auditkit.fleet.audited import Bars, Chart, Dot, Line, Scale, Span, Style
from auditkit.fleet.report import ink
from auditkit.fleet.report.axis import Axis
from auditkit.fleet.report.chart_numbers import chart_numbers
from auditkit.fleet.report.labels import spread
from auditkit.fleet.report.picture import pictures, small_pictures
from auditkit.reader.page.markup import to_html


def drawn(chart):
    """Return a chart's one picture as text."""
    (one,) = pictures(chart)
    return to_html(one.drawn)


def luminance(colour):
    """Return the relative luminance of ``#rrggbb`` (WCAG 2.2, definitions)."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    red, green, blue = (
        c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one, other):
    lights = sorted([luminance(one), luminance(other)])
    return (lights[1] + 0.05) / (lights[0] + 0.05)


def test_marks_are_seen_on_white():
    """WCAG 2.2, 1.4.11: 3:1 for what is needed to understand a graphic."""
    for colour in ink.PALETTE:
        assert contrast(colour, ink.WHITE) >= 3
    # And the formula, against ratios published for these colours on white: blue 5.19,
    # vermilion 3.87 (computed elsewhere).
    assert isclose(contrast(ink.BLUE, ink.WHITE), 5.19, abs_tol=0.01)
    assert isclose(contrast(ink.VERMILION, ink.WHITE), 3.87, abs_tol=0.01)


def test_words_are_seen_on_what_they_stand_on():
    """WCAG 2.2, 1.4.3: 4.5:1 for text; black, or the colour of its line, or white."""
    charts = (
        invented_audit.survival(),
        invented_audit.strength(),
        invented_audit.funnel(),
        *invented_audit.lateness(),
    )
    found = set()
    for chart in charts:
        found |= set(re.findall(r'<text[^>]* fill="(#\w+)"', drawn(chart)))
    assert {ink.BLACK, ink.BLUE, ink.WHITE} <= found
    for colour in found - {ink.WHITE}:
        assert contrast(colour, ink.WHITE) >= 4.5
    for ground in ("#333333", "#767676"):  # under numbers in white
        assert contrast(ink.WHITE, ground) >= 4.5


def test_lines_of_one_sort_differ_without_colour():
    lines = tuple(
        Line(f"Shop {i}", ((0.0, 100.0), (90.0, 95.0 - i)), Style.STEPS)
        for i in range(4)
    )
    chart = replace(invented_audit.survival(), lines=lines, below=())
    found = re.findall(
        r'stroke="(#\w+)" stroke-width="1.8"(?: stroke-dasharray="([^"]*)")?',
        drawn(chart),
    )
    assert len(found) == 4
    assert len({stroke for stroke, _ in found}) == 4
    assert len({dash for _, dash in found}) == 4


def test_parts_of_a_bar_differ_without_colour():
    assert len(set(ink.FILLS)) == len(ink.FILLS)
    grey = [fill for fill in ink.FILLS if fill.startswith("#")]
    for one, other in combinations(grey, 2):
        assert contrast(one, other) >= 1.5
    text = drawn(invented_audit.strength())
    for name in ("first-hand", "photographed", "typed", "word", "not shown"):
        assert name in text


def test_a_cut_axis_says_so_and_a_whole_one_does_not():
    assert "axis begins at 80" in drawn(invented_audit.survival())
    whole = invented_audit.survival()
    whole = replace(whole, up=replace(whole.up, low=0.0))
    assert "axis begins" not in drawn(whole)
    assert "axis begins" not in drawn(invented_audit.digits())


def test_steps_hold_their_value_until_the_next():
    line = Line("held", ((0.0, 100.0), (50.0, 80.0), (100.0, 60.0)), Style.STEPS)
    chart = Chart(
        "c", "C", "C.", Scale("days", 0.0, 100.0), Scale("held", 0.0, 100.0), (line,)
    )
    (trace,) = re.findall(r'd="(M[^"]*)" fill="none" stroke="#0072B2"', drawn(chart))
    points = [tuple(map(float, p.split())) for p in trace[1:].split("L")]
    assert len(points) == 5
    for (x1, y1), (x2, y2) in pairwise(points):
        assert x1 == x2 or y1 == y2  # no slope anywhere
    down = [y for _, y in points]
    assert down[0] == down[1] < down[2] == down[3] < down[4]


def test_a_limit_that_runs_off_does_not_stretch_the_axis():
    chart = invented_audit.funnel()
    limit = Line("95 %", ((1.0, 400.0), (100.0, 1.5)), Style.DASHED)
    axis = [float(t) for t in re.findall(r'anchor="end"[^>]*>([\d.]+)<', drawn(chart))]
    longer = replace(chart, lines=(*chart.lines, limit))
    ends = [float(t) for t in re.findall(r'anchor="end"[^>]*>([\d.]+)<', drawn(longer))]
    assert max(axis) == max(ends) < 4


def test_hollow_marks_say_what_they_mean():
    text = drawn(invented_audit.funnel())
    hollow = text.count('fill="#ffffff" stroke="#0072B2"')
    assert hollow == 1 + sum(i % 7 == 3 for i in range(24))  # one in the legend
    assert "a shop that delivered less than 90 of 100 entries" in text


def test_withheld_is_hatched_and_said():
    text = drawn(invented_audit.timeline())
    assert ">withheld, or not here<" in text
    open_ = replace(
        invented_audit.timeline(),
        spans=tuple(
            replace(s, is_hatched=False) for s in invented_audit.timeline().spans
        ),
    )
    assert ">withheld, or not here<" not in drawn(open_)
    for lane in ("visits", "codes", "bench tests", "repairs"):
        assert f">{lane}<" in text


def test_what_was_written_late_has_its_mark_at_the_start_of_a_bar():
    text = drawn(invented_audit.timeline())
    assert ">claimed, and when it was written down<" in text
    (table,) = [
        t for t in chart_numbers(invented_audit.timeline()) if len(t.columns) == 4
    ]
    (row,) = [row for row in table.rows if "cooler" in str(row[3])]
    assert row[2:] == ("2026-02-10 00:00", "EGR cooler: good, claimed 2026-01-16 00:00")


def test_small_pictures_share_their_axes():
    made = [to_html(p.drawn) for p in small_pictures(invented_audit.lateness())]
    ends = [re.findall(r'anchor="end"[^>]*>([\d.,]+)<', text) for text in made]
    assert ends[0] == ends[1] == ends[2] == ["0.1", "1", "10", "100", "1,000", "10,000"]


def test_nothing_and_less_stand_at_the_low_end_of_a_logarithmic_axis():
    axis = Axis.over(Scale("min", is_logarithmic=True), [0.0, -3.0, 5, 800], 0, 100)
    assert (axis.low, axis.high) == (1, 1000)
    assert axis.at(0.0) == axis.at(-3.0) == 0
    assert isclose(axis.at(31.6227766), 50, abs_tol=1e-6)


@pytest.mark.parametrize(
    ("seconds", "first"),
    [
        (2 * 3600, "01-01 00:00"),
        (5 * 86400, "2026-01-01"),
        (200 * 86400, "2026-01"),
        (9 * 366 * 86400, "2026"),
    ],
)
def test_times_are_written_as_coarsely_as_they_are_apart(seconds, first):
    begin = invented_audit.day(1, 1)
    scale = Scale("time", begin, begin + seconds, is_time=True)
    ticks = Axis.over(scale, [], 0, 600).ticks()
    assert ticks[0] == (begin, first)
    assert 3 <= len(ticks) <= 7
    apart = {round((b[0] - a[0]) / 86400, 4) for a, b in pairwise(ticks)}
    assert max(apart) - min(apart) <= 3  # months and years are not of one length


def test_many_rows_become_several_pictures_on_one_axis():
    made = list(pictures(invented_audit.strip(120)))
    assert [len(p.chart.up.members) for p in made] == [24] * 5
    assert len({p.chart.along for p in made}) == 1
    shown = [name for p in made for name in p.chart.up.members]
    assert shown == list(invented_audit.shops(120))
    assert sum(len(p.chart.dots) for p in made) == 120 * 12
    names = tuple(f"Shop {i}" for i in range(60))
    bars = Bars(names, ("a", "b"), tuple((float(i), 1.0) for i in range(60)))
    chart = replace(invented_audit.strength(), bars=bars)
    made = list(pictures(chart))
    assert [name for p in made for name in p.chart.bars.names] == list(names)
    assert len({p.chart.up for p in made}) == 1


@pytest.mark.parametrize(
    "chart",
    [
        Chart("empty", "Empty", "Nothing.", Scale("x"), Scale("y")),
        Chart("one", "One", "One.", Scale("x"), Scale("y"), dots=(Dot(3, 3),)),
        Chart(
            "zero", "Zero", "Zero.", Scale("x"), Scale("y"), dots=(Dot(0, 0), Dot(0, 0))
        ),
        Chart(
            "none", "None", "None.", Scale("x"), Scale("y"), bars=Bars((), ("a",), ())
        ),
        Chart(
            "span",
            "Span",
            "Span.",
            Scale("t", is_time=True),
            Scale("y"),
            spans=(Span("a", 0.0, 0.0),),
        ),
        Chart(
            "log",
            "Log",
            "Log.",
            Scale("x"),
            Scale("y", is_logarithmic=True),
            dots=(Dot(1, 0), Dot(2, 0)),
        ),
        Chart(
            "huge", "Huge", "Huge.", Scale("x"), Scale("y"), dots=(Dot(1e300, -1e300),)
        ),
        Chart("members", "M", "M.", Scale("x"), Scale("y", members=("a",))),
    ],
)
def test_little_and_odd_data_are_drawn(chart):
    text = drawn(chart)
    assert "nan" not in text
    assert "inf" not in text


def test_what_has_no_place_is_refused():
    with pytest.raises(ValueError, match="not finite"):
        Dot(float("nan"), 1)
    with pytest.raises(ValueError, match="all parts"):
        Bars(("a",), ("x", "y"), ((1.0,),))


def test_names_at_the_ends_of_lines_keep_apart():
    assert spread([50, 50, 50], 0, 100) == [50, 64, 78]
    assert spread([95, 96, 97], 0, 100) == [72, 86, 100]
    assert spread([10, 60], 0, 100) == [10, 60]


def test_names_at_the_ends_of_lines_stay_in_a_small_picture():
    line = Line("Example Yard Garage, north of the river", ((0.0, 1.0), (5.0, 4.0)))
    charts = [replace(chart, lines=(line,)) for chart in invented_audit.lateness()]
    for one in small_pictures(charts):
        wide = float(one.drawn.attributes["width"])
        (name,) = [
            part
            for part in one.drawn.inner
            if part.inner and str(part.inner[0]).startswith("Example")
        ]
        begins = float(name.attributes["x"])
        assert begins + ink.wide(name.inner[0]) <= wide


def test_a_name_without_room_is_told_below():
    crowd = tuple(Dot(50.0, 1.0 + i / 1e6, name=f"Shop {i}") for i in range(60))
    (one,) = pictures(replace(invented_audit.funnel(), dots=crowd))
    text = to_html(one.drawn)
    for i in range(60):
        assert f">Shop {i}<" in text or re.search(rf"Shop {i}\b", one.note)
    assert one.note.startswith("Without room")
