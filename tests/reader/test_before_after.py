"""Values before and after a repair, and their drawing: nothing is invented."""

import json
import re
from decimal import Decimal
from importlib.resources import files

import pytest
from hypothesis import given
from hypothesis import strategies as st

from auditkit.bench import KINDS
from auditkit.order.events import RepairOrder
from auditkit.reader.before_after import Measure, Reading, measures
from auditkit.reader.page.gauge import gauge
from auditkit.reader.page.markup import to_html

RECORD = json.loads((files("auditkit_demo") / "RO-1001.json").read_text("utf-8"))


def found(events):
    return measures(RepairOrder.fold("RO-1", events), KINDS)


def test_the_demos_repair_before_and_after():
    """As the demo's README tells it: 2.14 kPa below the limit of 3.50, then 6.12."""
    flow, count, bench = found(RECORD["events"])
    assert flow.name == "Self-test 31/81 of 7E8: EGR bank 1"
    assert flow.before == Reading("2.14 kPa", "failed", Decimal("2.14"))
    assert flow.after == Reading("6.12 kPa", "passed", Decimal("6.12"))
    assert (flow.minimum, flow.maximum) == (Decimal("3.50"), None)
    assert flow.limit == "minimum 3.50, maximum none"
    assert (count.before.text, count.after.text) == ("count 3", "count 1")
    assert bench.name == "Bench test of EGR valve: seal hold, pressure or vacuum"
    assert bench.before.outcome == "faulty"
    assert bench.before.number == Decimal("6.52")
    assert bench.after is None
    assert bench.minimum == Decimal("15.0")
    assert "it should be at least 15.0 inHg" in bench.limit


def test_without_a_repair_there_is_no_before_and_after():
    assert found([e for e in RECORD["events"] if e["kind"] != "repair"]) == ()


def test_a_limit_that_moved_is_drawn_for_neither():
    events = json.loads(json.dumps(RECORD["events"]))
    last = [e for e in events if e["kind"] == "readout"][-1]
    # Minimum of 31/81: 015E is 350 of 0.01 kPa; now 0064, 100 of them.
    assert last["raw"].count("01 5E") == 1
    last["raw"] = last["raw"].replace("01 5E", "00 64")
    flow = found(events)[0]
    assert (flow.minimum, flow.maximum) == (None, None)
    assert flow.limit == "minimum 1.00, maximum none; before: other limits"


def corrected(first, last):
    """Return the demo's events, its bench test corrected from one to another."""
    events = json.loads(json.dumps(RECORD["events"]))
    place = next(i for i, e in enumerate(events) if e["kind"] == "bench_test")
    later = {"kind": "amendment", "at": events[-1]["at"], "by": last["by"]}
    events[place] = first
    return [*events, {**later, "corrects": place, "why": "a slip", "event": last}]


def with_end(value):
    text = json.dumps(next(e for e in RECORD["events"] if e["kind"] == "bench_test"))
    assert text.count('"6.5"') == 1
    return json.loads(text.replace('"6.5"', f'"{value}"'))


def test_what_was_corrected_is_told_with_what_was_first_recorded():
    """A good part becomes a faulty one on paper after it was replaced."""
    plain = found(RECORD["events"])[-1]
    bench = found(corrected(with_end("16.5"), with_end("6.5")))[-1]
    assert bench.before == plain.before
    first = "corrected after it was recorded, first: before 16.51 ± 0.75 inHg (vacuum)"
    assert bench.limit == f"{first} good; {plain.limit}"
    assert (
        found(corrected({**with_end("6.5"), "note": "a word"}, with_end("6.5")))[-1]
        == plain
    )


def test_a_measure_that_a_correction_took_away_is_still_told():
    """A good test of the part that was replaced is moved to another part."""
    gone = found(corrected(with_end("16.5"), {**with_end("16.5"), "part": "a-pipe"}))[
        -1
    ]
    assert gone.before.outcome == "good"
    assert gone.limit.startswith("corrected after it was recorded; it should be")


def test_earlier_tests_that_say_otherwise_are_told():
    events = json.loads(json.dumps(RECORD["events"]))
    place = next(i for i, e in enumerate(events) if e["kind"] == "bench_test")
    plain = found(events)[-1]
    events[place:place] = [with_end("16.5"), with_end("16.5"), with_end("6.4")]
    bench = found(events)[-1]
    assert bench.before == plain.before
    assert bench.limit == f"2 earlier tests before the repair said: good; {plain.limit}"


def test_limits_are_those_of_the_run_where_the_other_has_not_run():
    """What has not run sends zeros for its limits (SAE J1979, from memory)."""
    events = json.loads(json.dumps(RECORD["events"]))
    last = [e for e in events if e["kind"] == "readout"][-1]
    # 31/81 after the repair: value 0264, minimum 015E, maximum FFFF.
    was = "02 64\n7E8 21 01 5E FF FF"
    assert last["raw"].count(was) == 1
    last["raw"] = last["raw"].replace(was, "00 00\n7E8 21 00 00 00 00")
    flow = found(events)[0]
    assert flow.after == Reading("has not run", "")
    assert flow.limit == "minimum 3.50, maximum none"
    assert (flow.minimum, flow.maximum) == (Decimal("3.50"), None)


TYPED = {
    "kind": "bench_test",
    "at": "2026-03-02T09:00:00+01:00",
    "part": "valve",
    "test": "vacuum hold",
    "result": {"value": "6.5", "unit": "inHg"},
    "limit": {"minimum": "15", "maximum": "x", "unit": "inHg", "source": "invented"},
}
WORK = {"kind": "repair", "part": "valve", "action": "replaced"}


@pytest.mark.parametrize(
    ("change", "text", "number"),
    [
        ({}, "6.5 inHg", Decimal("6.5")),
        ({"result": {"value": "6.5", "unit": "kPa"}}, "6.5 kPa", None),
        ({"result": {"value": "much", "unit": "inHg"}}, "much inHg", None),
        ({"result": {"value": "NaN", "unit": "inHg"}}, "NaN inHg", None),
        ({"result": "none"}, "no value was measured", None),
        ({"method": "unknown"}, "not computed: no kind of bench test is called", None),
    ],
)
def test_bench_tests_of_any_form(change, text, number):
    """A packet's maker may sign anything: what is no number is told and not drawn."""
    measure = found([TYPED | change, WORK])[0]
    assert measure.before.text.startswith(text)
    assert measure.before.number == number
    assert (measure.minimum, measure.maximum) == (Decimal(15), None)
    assert measure.after is None


@pytest.mark.parametrize("part", ["other", 5, None])
def test_a_part_that_was_not_worked_on_has_no_before(part):
    assert found([TYPED | {"part": part}, WORK]) == ()


def x_of(drawing, style):
    """Return the places of what is drawn in a style, along the drawing."""
    written = to_html(drawing)
    marks = re.findall(rf'<(?:circle|rect|line) ([^>]*)class="{style}"/>', written)
    return [
        [float(v) for v in re.findall(r'\b(?:cx|x|x1|x2|width)="([^"]+)"', mark)]
        for mark in marks
    ]


NUMBERS = st.decimals("-1e6", "1e6", places=3)
READINGS = st.builds(
    lambda number, margin: Reading(f"{number} kPa", "good", number, margin),
    NUMBERS,
    st.none() | st.decimals(0, "1e5", places=2),
)


@given(
    st.none() | READINGS,
    st.none() | READINGS,
    st.none() | NUMBERS,
    st.none() | NUMBERS,
)
def test_marks_stand_where_the_numbers_say(before, after, minimum, maximum):
    drawing = gauge(Measure("a value", "limit", minimum, maximum, before, after))
    if before is None and after is None:
        assert drawing is None
        return
    places = {}
    for name, style, reading in (
        ("before", "ring", before),
        ("after", "square", after),
    ):
        marks = x_of(drawing, style)
        assert len(marks) == (reading is not None)
        if reading is not None:
            (mark,) = marks
            places[name] = mark[0] if style == "ring" else mark[0] + mark[1] / 2
            assert 48 <= places[name] <= 236
    limits = [limit for limit in (minimum, maximum) if limit is not None]
    lines = x_of(drawing, "limit")
    assert [one for one, _ in lines] == [other for _, other in lines]
    assert len(lines) == len(limits)
    drawn = dict(zip(map(str, limits), (one for one, _ in lines), strict=True))
    for reading, name in ((before, "before"), (after, "after")):
        for limit in limits if reading else ():
            apart = places[name] - drawn[str(limit)]
            if abs(apart) > 0.2:  # places are rounded to a tenth
                assert (apart > 0) == (reading.number > limit)
    allowed = x_of(drawing, "allowed")
    crossed = len(limits) == 2 and minimum > maximum
    if limits and not crossed:
        assert len(allowed) == 1
    label = drawing.attributes["aria-label"]
    for reading in (before, after):
        assert reading is None or reading.text in label


def test_no_number_is_drawn_as_none():
    words = Reading("no value was measured")
    assert gauge(Measure("x", "no limit", None, None, words, None)) is None
