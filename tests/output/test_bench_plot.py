"""A picture and a budget a kind of bench test, as shown. All cases invented.

Where a place is checked, it is worked out from the numbers that the axes carry.
SVG 1.1 (W3C) names the elements; XML 1.0, section 2.2, the characters.
"""

from __future__ import annotations

import math
import re
from dataclasses import replace
from itertools import pairwise
from xml.etree import ElementTree as ET

import pytest
from bench_cases import CASES, FINE, coil, cylinders, hold
from bench_inputs import each, given, instrument, limit

from auditkit.bench import KINDS, BenchInput, BenchResult, KnownGood
from auditkit.errors import InputError
from auditkit.output.bench_lines import bench_json, bench_lines
from auditkit.output.bench_plot import bench_plot
from auditkit.output.budget_drawing import budget_bars
from auditkit.output.budget_table import budget_rows, share_text
from auditkit.plugin import (
    Axis,
    Chart,
    ChartDiagram,
    Mark,
    Point,
    ScaleDiagram,
    ScaleItem,
    Series,
    limits_of,
    point,
)
from auditkit.text.values import Quantity

SVG = "{http://www.w3.org/2000/svg}"
BY_OWN_RULE = {"intermittent", "known-good-swap"}
"""Kinds that ask for no limit."""


def plot(kind: str, inputs: BenchInput) -> str:
    return bench_plot(KINDS[kind], inputs, KINDS[kind].evaluate(inputs))


def read(svg: str) -> ET.Element:
    """Return the root; the text is our own, and what others wrote in it escaped."""
    return ET.fromstring(svg)  # noqa: S314


def texts(svg: str) -> list[str]:
    return [e.text or "" for e in read(svg).iter(f"{SVG}text")]


def dashed(svg: str) -> list[ET.Element]:
    """Return the limits as drawn: dashed lines that cross the picture."""
    lines = read(svg).iter(f"{SVG}line")
    lines = [e for e in lines if e.get("stroke-dasharray") == "8 4"]
    return [e for e in lines if float(e.get("x2")) - float(e.get("x1")) != 24]


def scale(svg: str, x: str, anchor: str):
    """Return numbers -> px as the printed numbers of an axis say (ends of it)."""
    found = [
        (float(e.text), float(e.get("y")) - 4 if x == "y" else float(e.get("x")))
        for e in read(svg).iter(f"{SVG}text")
        if e.get("text-anchor") == anchor and re.fullmatch(r"-?[\d.]+", e.text or "")
        if x == "y" or float(e.get("y")) > 340  # a value stands above its bar
    ]
    (v1, p1), (v2, p2) = found[0], found[1]
    return lambda value: p1 + (value - v1) * (p2 - p1) / (v2 - v1)


def test_there_is_a_case_for_every_kind():
    assert set(CASES) == set(KINDS)


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_gives_a_plot(kind):
    inputs = CASES[kind]
    result = KINDS[kind].evaluate(inputs)
    assert result.result is not None
    svg = bench_plot(KINDS[kind], inputs, result)
    root = read(svg)
    assert root.tag == f"{SVG}svg"
    assert root.get("viewBox") == "0 0 640 400"
    assert [child.tag for child in root][:2] == [f"{SVG}title", f"{SVG}desc"]
    assert root[0].text == f"{KINDS[kind].title}: {result.outcome}"
    assert str(result.result) in root[1].text
    assert str(result.result) in texts(svg)
    assert (result.limit is None) is (kind in BY_OWN_RULE)
    assert bool(dashed(svg)) is (result.limit is not None)
    if result.limit is not None:
        assert result.limit.source in root[1].text
        for side in (result.limit.minimum, result.limit.maximum):
            assert side is None or side in root[1].text
    assert svg == plot(kind, CASES[kind])


@pytest.mark.parametrize("kind", KINDS)
def test_only_greys_text_of_12_px_and_nothing_outside(kind):
    svg = plot(kind, CASES[kind])
    used = set(re.findall(r'(?:fill|stroke)="([^"]*)"', svg)) - {"none"}
    assert used
    for colour in used:
        parts = colour.removeprefix("#")
        assert colour.startswith("#")
        assert len(parts) in {3, 6}
        step = len(parts) // 3
        assert len({parts[i : i + step] for i in range(0, len(parts), step)}) == 1
    assert min(map(float, re.findall(r'font-size="([\d.]+)"', svg))) >= 12
    for element in read(svg).iter():
        for name, most in (("x", 640), ("x1", 640), ("x2", 640), ("y1", 400)):
            assert 0 <= float(element.get(name, 0)) <= most
        assert float(element.get("width", 0)) >= 0
        assert float(element.get("height", 0)) >= 0
    assert "nan" not in svg


@pytest.mark.parametrize(
    ("bound", "at"),
    [
        (limit("inH2O", low="8.0"), 8.0),
        # Gauge pressure: 14 less a loss of 5; 1 kPa is 4.01463 inH2O.
        (limit("inH2O", high="5", of="pressure loss"), 9.0),
        (limit("kPa", high="1", of="pressure loss"), 14 - 4.01463),
    ],
)
def test_the_limit_of_a_hold_lies_where_the_axis_says(bound, at):
    svg = plot("seal-hold", hold(limit=bound))
    (line,) = dashed(svg)
    assert float(line.get("y1")) == pytest.approx(scale(svg, "y", "end")(at), abs=0.1)
    circles = list(read(svg).iter(f"{SVG}circle"))
    drawn = {round(float(c.get("cy")), 1) for c in circles}
    for pressure in (14.0, 13.0, 11.8, 9.8, 8.9, 8.5):
        place = scale(svg, "y", "end")(pressure)
        assert min(abs(place - y) for y in drawn) < 0.2


def test_the_loss_of_a_vacuum_is_drawn_towards_the_air():
    inputs = given(
        {
            "start pressure": "18.0 inHg (vacuum)",
            "end pressure": "17.5 inHg (vacuum)",
            "hold time": "15 s",
        },
        {
            "start temperature": "20 degC",
            "end temperature": "20 degC",
            "barometer": "1013 hPa",
        },
        {
            "gauge": instrument("inHg (vacuum)", "30", "0.01", "0.1"),
            "thermometer": FINE,
        },
        limit=limit("inHg", high="1.0", of="pressure loss"),
    )
    svg = plot("seal-hold", inputs)
    (line,) = dashed(svg)
    assert float(line.get("y1")) == pytest.approx(scale(svg, "y", "end")(17), abs=0.1)


@pytest.mark.parametrize(
    ("bound", "places"),
    [
        # 75 % of the highest, 172; the median of the six is 169.
        (limit("%", low="75"), [129.0]),
        (limit("%", "-10", "10", "deviation from the median"), [152.1, 185.9]),
    ],
)
def test_the_band_of_a_balance(bound, places):
    svg = plot("balance", cylinders(bound))
    up = scale(svg, "y", "end")
    drawn = [float(e.get("y1")) for e in dashed(svg)]
    assert drawn == pytest.approx([up(p) for p in places], abs=0.2)
    assert "median 169" in texts(svg)


def test_residuals_lie_below_the_line():
    svg = plot("linear-transfer", CASES["linear-transfer"])
    circles = list(read(svg).iter(f"{SVG}circle"))
    above, below = circles[1:6], circles[6:]  # the first is the legend's
    assert len(below) == 5
    assert max(float(c.get("cy")) for c in above) < min(
        float(c.get("cy")) for c in below
    )
    assert "stimulus, kPa (absolute)" in texts(svg)


def test_a_known_good_part_is_a_bar_of_its_own():
    svg = plot("winding", CASES["winding"])
    assert "known-good part" in texts(svg)
    assert "known-good part" not in texts(plot("winding", coil()))
    across = scale(svg, "x", "middle")
    drawn = [float(e.get("x1")) for e in dashed(svg)]
    assert drawn == pytest.approx([across(11), across(13)], abs=0.1)
    bars = [e for e in read(svg).iter(f"{SVG}line") if e.get("stroke-width") == "2.5"]
    marks = [float(e.get("x1")) for e in bars][1:]  # the first is the legend's
    assert marks == pytest.approx([across(14), across(12)], abs=0.1)


@pytest.mark.parametrize(
    ("source", "said"), [("", ""), (" ", ""), ("a book", ", from a book")]
)
def test_a_limit_without_a_source_comes_from_nowhere(source, said):
    inputs = coil(limit=replace(limit("ohm", "11", "13"), source=source))
    (told,) = [
        line
        for line in bench_lines("coil", KINDS["winding"].evaluate(inputs))
        if line.startswith("    limit: ")
    ]
    assert told == f"    limit: minimum 11 ohm, maximum 13 ohm{said}"


def test_hostile_text_is_escaped():
    bad = '<script>alert("&")</script>\x00\ud800'
    source = replace(limit("ohm", "11", "13"), source=bad)
    good = KnownGood(bad, {"resistance": each("12 ohm")})
    svg = plot("winding", coil(limit=source, known_good=good))
    root = read(svg.encode().decode())
    assert not [e for e in root.iter() if "script" in e.tag]
    assert '<script>alert("&")</script>\ufffd\ufffd' in root[1].text


def test_what_was_not_computed_is_said_in_words():
    inputs = coil(limit=None)
    nothing = replace(inputs, readings={})
    svg = plot("winding", nothing)
    assert "resistance is missing" in texts(svg)
    assert "not valid" in read(svg)[0].text
    svg = plot("winding", inputs)
    assert not dashed(svg)


def test_a_kind_of_someone_else_is_drawn_beside_its_limit():
    mine = replace(KINDS["winding"], name="mine", title="Coil <mine>")
    inputs = coil()
    svg = bench_plot(mine, inputs, mine.evaluate(inputs))
    assert read(svg)[0].text == "Coil <mine>: faulty"
    assert len(dashed(svg)) == 2
    assert "limit 11 to 13" in texts(svg)


def test_a_limit_that_no_set_can_meet_leaves_no_band():
    svg = plot("balance", cylinders(limit("%", low="150")))
    heights = [float(e.get("height", 0)) for e in read(svg).iter(f"{SVG}rect")]
    assert min(heights) == 0
    (line,) = dashed(svg)
    place = scale(svg, "y", "end")(1.5 * 172)
    assert float(line.get("y1")) == pytest.approx(place, abs=0.2)


def arrows(svg: str) -> list[tuple[float, float]]:
    """Return the tips of the arrows, without the legend's."""
    heads = [
        [tuple(map(float, p.split(","))) for p in e.get("points").split()]
        for e in read(svg).iter(f"{SVG}polygon")
    ]
    return [head[0] for head in heads if len(head) == 3][1:]


@pytest.mark.parametrize(("side", "sign"), [("above", 1), ("below", -1)])
def test_where_one_side_is_known_an_arrow_points_to_it(side, sign):
    inputs = replace(coil(), readings={"resistance": Quantity("12", "ohm", side)})
    svg = plot("winding", inputs)
    ((x, _),) = arrows(svg)
    assert (x - scale(svg, "x", "middle")(12)) * sign > 30
    assert f"{side} 12" in texts(svg)
    assert "lies on this side" in texts(svg)
    members = list(cylinders(None).readings["reading of each member"])
    members[4] = Quantity("118", "kPa", side)
    inputs = cylinders(limit("%", "-10", "10", "deviation from the median"))
    inputs = replace(inputs, readings={"reading of each member": tuple(members)})
    svg = plot("balance", inputs)
    ((_, y),) = arrows(svg)
    assert (scale(svg, "y", "end")(118) - y) * sign > 20


def test_what_is_known_on_neither_side_is_called_so():
    shown = ScaleDiagram(Axis("x", "V"), (ScaleItem("this part", 5, 1, "neither"),))
    kind = replace(KINDS["winding"], draw=lambda *_: shown)
    svg = bench_plot(kind, coil(), kind.evaluate(coil()))
    assert "not known" in texts(svg)
    assert not arrows(svg)


def test_a_kind_of_someone_else_draws_by_data_alone():
    def draw(readings, _computation, _judged, limit):
        unit = readings.unit("resistance")
        read = point(1.0, readings.one("resistance"), unit)
        series = Series("<cold>", Mark.BAR, (read, Point(2.0, -3.0)))
        chart = Chart(Axis("coil", str(unit)), (series,), limits=limits_of(limit))
        return ChartDiagram(Axis("at", members=2), (chart,))

    mine = replace(KINDS["winding"], draw=draw)
    svg = bench_plot(mine, coil(), mine.evaluate(coil()))
    assert {"<cold>", "coil, ohm", "at", "1", "2", "limit 11 to 13"} <= set(texts(svg))
    assert len(dashed(svg)) == 2
    up = scale(svg, "y", "end")
    bars = [e for e in read(svg).iter(f"{SVG}rect") if float(e.get("width")) > 100]
    tops = [(float(e.get("y")), float(e.get("height"))) for e in bars[1:]]
    assert tops[0] == pytest.approx((up(14), up(0) - up(14)), abs=0.2)
    assert tops[1] == pytest.approx((up(0), up(-3) - up(0)), abs=0.2)


def test_a_kind_that_cannot_draw_is_one_clear_error():
    kind = replace(KINDS["winding"], draw=lambda *_: 1 / 0)
    with pytest.raises(InputError, match="'winding' gives no diagram: ZeroDivision"):
        bench_plot(kind, coil(), kind.evaluate(coil()))


def test_a_legend_that_is_too_long_takes_a_second_row():
    svg = plot(
        "balance", cylinders(limit("%", "-10", "10", "deviation from the median"))
    )
    (end,) = (
        e for e in read(svg).iter(f"{SVG}text") if e.text == "limit 152.1 to 185.9"
    )
    (start,) = (e for e in read(svg).iter(f"{SVG}text") if e.text == "member")
    assert float(end.get("y")) == float(start.get("y")) + 16
    assert float(end.get("x")) < 100


def found(kind: str) -> BenchResult:
    return KINDS[kind].evaluate(CASES[kind])


COUNTED = ("intermittent", "known-good-swap")
MEASURED = [kind for kind in CASES if kind not in COUNTED]


@pytest.mark.parametrize("kind", MEASURED)
def test_the_budget_of_every_kind_makes_its_uncertainty(kind):
    result = found(kind)
    rows, parts = budget_rows(result), result.components
    assert rows
    together = math.hypot(*(c.standard_uncertainty for c in parts))
    stated = float(result.result.standard_uncertainty.text)
    assert together == pytest.approx(stated, rel=0.05)  # two digits
    assert math.fsum(row.share for row in rows) == pytest.approx(1)
    assert all(a.share >= b.share for a, b in pairwise(rows))
    for part in parts:
        assert part.sources, "every input says where it comes from"
        if part.sensitivity is not None:
            adds = part.sensitivity * part.input_uncertainty
            assert adds == pytest.approx(part.standard_uncertainty)


@pytest.mark.parametrize("kind", MEASURED)
def test_text_json_and_picture_show_the_same_budget(kind):
    result = found(kind)
    rows, text = budget_rows(result), "\n".join(bench_lines("x", result))
    told = bench_json(result)["budget"]
    assert [one["name"] for one in told] == [row.name for row in rows]
    assert [share_text(one["share"]) for one in told] == [
        share_text(row.share) for row in rows
    ]
    drawn = budget_bars(result)
    for row in rows:
        assert f"{row.name}:" in text
        assert f"adds {row.contribution}, {share_text(row.share)}" in text
        assert not row.sensitivity or f"|c| {row.sensitivity};" in text
    for row in rows[:8]:
        assert f"{row.contribution}, {share_text(row.share)}" in drawn
    assert "covers 95.45 % of a normal distribution" in text


@pytest.mark.parametrize("kind", COUNTED)
def test_what_was_counted_has_no_budget_of_inputs(kind):
    result = found(kind)
    assert float(result.result.standard_uncertainty.text) > 0
    assert budget_rows(result) == ()
    assert bench_json(result)["budget"] == []
    assert budget_bars(result) == ""


def test_what_one_instrument_shares_is_named_with_its_readings():
    rows = {row.name: row for row in budget_rows(found("seal-hold"))}
    shared = rows["specification of thermometer"]
    assert shared.basis.endswith("common to start temperature, end temperature")


def test_an_input_without_unit_and_many_inputs_have_their_bars():
    # Orifice: a discharge coefficient, 0.7 +/- 0.1, is a plain number.
    inputs = CASES["flow-at-pressure"]
    bound = limit("mm", high="0.5", of="orifice diameter")
    result = KINDS["flow-at-pressure"].evaluate(replace(inputs, limit=bound))
    (row,) = (r for r in budget_rows(result) if r.name == "discharge coefficient")
    assert (row.value, row.uncertainty) == ("0.700", "0.058")
    assert row.sensitivity.endswith(" mm")
    many = tuple(replace(c, name=f"{i}") for i in range(5) for c in result.components)
    drawn = budget_bars(replace(result, components=many))
    assert f"{len(many) - 8} more, together" in drawn
    bars = [float(e.get("width")) for e in read(drawn).iter(f"{SVG}rect")][1:]
    assert max(bars) == bars[-1] == pytest.approx(234)
