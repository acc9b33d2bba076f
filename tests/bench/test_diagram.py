"""What a diagram shows, as data. All cases invented; places worked out by hand."""

import math
from dataclasses import replace

import pytest
from bench_inputs import THERMOMETER, each, given, instrument, limit

from auditkit.bench import KINDS, KnownGood
from auditkit.bench.diagram import (
    Axis,
    Chart,
    ChartDiagram,
    Level,
    Mark,
    Point,
    ScaleDiagram,
    ScaleItem,
    Segment,
    Series,
)
from auditkit.text.values import Quantity

WINDING = KINDS["winding"]
OHMS = instrument("ohm", "40000", "0.01", "0.05")
UP = Axis("resistance", "ohm")
DOTS = Series("read", Mark.DOT, (Point(1, 2, 0.5),))


def coil(resistance="14.00 ohm", **more):
    return given(
        {"resistance": resistance},
        {"winding temperature": "20 degC", "conductor": "copper"},
        {"meter": OHMS, "thermometer": THERMOMETER},
        **{"limit": limit("ohm", "11", "13"), **more},
    )


def diagram(kind, inputs):
    return kind.diagram(inputs, kind.evaluate(inputs))


def test_without_a_drawing_of_its_own_a_kind_shows_its_result_beside_the_limit():
    good = KnownGood("shelf part", {"resistance": each("12 ohm")})
    shown = diagram(WINDING, coil(known_good=good))
    assert shown.axis.label == "resistance at reference temperature, ohm"
    assert shown.limits == {"minimum": 11.0, "maximum": 13.0}
    assert [(i.name, i.value) for i in shown.items] == [
        ("this part", 14.0),
        ("known-good part", 12.0),
    ]
    assert all(0 < item.expanded < 0.1 for item in shown.items)


def test_a_limit_that_nothing_was_held_to_is_not_in_it():
    assert diagram(WINDING, coil(limit=None)).limits == {}
    assert diagram(WINDING, replace(coil(), readings={})) is None


@pytest.mark.parametrize("side", ["above", "below"])
def test_a_value_of_which_one_side_is_known_says_which(side):
    beyond = replace(coil(), readings={"resistance": Quantity("40", "ohm", side)})
    (item,) = diagram(WINDING, beyond).items
    assert (item.value, item.known) == (40.0, side)


def test_a_plugins_drawing_is_taken_and_may_leave_it_to_the_limit():
    chart = ChartDiagram(Axis("n"), (Chart(UP, (DOTS,)),))
    own = replace(WINDING, draw=lambda *_: chart)
    assert diagram(own, coil()) is chart
    asked = []
    none = replace(WINDING, draw=lambda *given: asked.append(given))
    assert isinstance(diagram(none, coil()), ScaleDiagram)
    ((readings, computation, judged, bound),) = asked
    assert readings.has("resistance")
    assert judged in computation.values
    assert bound == coil().limit


@pytest.mark.parametrize(
    "make",
    [
        lambda bad: Point(bad, 0),
        lambda bad: Point(0, bad),
        lambda bad: Point(0, 0, bad),
        Level,
        lambda bad: Segment("", (0, 0), (bad, 1)),
        lambda bad: ScaleItem("x", bad),
        lambda bad: Chart(UP, (DOTS,), limits={"minimum": bad}),
        lambda bad: ScaleDiagram(UP, (ScaleItem("x", 1),), {"maximum": bad}),
    ],
)
@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
def test_what_has_no_place_on_a_scale_is_refused(make, bad):
    with pytest.raises(ValueError, match="not a finite number"):
        make(bad)


def test_a_diagram_that_shows_nothing_is_refused():
    with pytest.raises(ValueError, match="no point"):
        Chart(UP, (Series("none", Mark.DOT, ()),))
    with pytest.raises(ValueError, match="no result"):
        ScaleDiagram(UP, ())
    for many in ((), (Chart(UP, (DOTS,)),) * 3):
        with pytest.raises(ValueError, match="not of 1 or 2"):
            ChartDiagram(Axis("n"), many)
