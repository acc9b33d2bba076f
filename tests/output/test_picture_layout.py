"""No text of a picture covers another or leaves it, as a browser measures its texts.

The browser and its font are the judge: our own widths are what is tried. All invented.
"""

from __future__ import annotations

from dataclasses import replace
from importlib.util import find_spec

import pytest
from bench_cases import CASES, cylinders
from bench_inputs import limit
from conftest import CHROMIUM

from auditkit.bench import KINDS
from auditkit.output.bench_plot import bench_plot, limit_plot
from auditkit.output.budget_drawing import budget_bars
from auditkit.output.scale_drawing import bottom_of, on_scale
from auditkit.output.svg import HEIGHT, svg
from auditkit.output.text_width import width, wrapped
from auditkit.plugin import Axis, ScaleDiagram, ScaleItem

pytestmark = pytest.mark.skipif(
    not (CHROMIUM and find_spec("playwright")),
    reason="playwright or chromium is absent",
)
BOXES = """() => {
    const picture = document.querySelector('svg').getBoundingClientRect();
    const of = e => { const b = e.getBoundingClientRect();
        return [e.textContent || e.tagName, b.left - picture.left, b.top - picture.top,
            b.right - picture.left, b.bottom - picture.top]; };
    return {size: [picture.width, picture.height],
        texts: [...document.querySelectorAll('text')].map(of)};
}"""
LONG = "temperature of the air at the inlet of the compressor, behind the filter"


def pictures():
    for name, inputs in CASES.items():
        result = KINDS[name].evaluate(inputs)
        yield name, bench_plot(KINDS[name], inputs, result)
        yield f"{name}: limit", limit_plot(result)
        yield f"{name}: budget", budget_bars(result)
    both = limit("%", "-10", "10", "deviation from the median")
    inputs = cylinders(replace(both, source="a source " * 30))
    yield (
        "long source",
        bench_plot(KINDS["balance"], inputs, KINDS["balance"].evaluate(inputs)),
    )
    for count in (1, 7, 12):
        yield f"{count} results", _scale(count, 10, LONG)
    yield "long numbers", _scale(3, 12345678.25, "one")
    yield "small numbers", _scale(3, 1.25e-9, "W" * 60)


def _scale(count: int, middle: float, name: str) -> str:
    items = tuple(
        ScaleItem(f"{name} {i}", middle * (1 + i * 1e-7), middle * 1e-7)
        for i in range(count)
    )
    diagram = ScaleDiagram(Axis(LONG, "kPa"), items, {"maximum": middle})
    bottom = bottom_of(diagram, 60)
    return svg(LONG * 2, [], on_scale(diagram, 60, bottom), bottom + HEIGHT - 340)


PICTURES = {name: text for name, text in pictures() if text}


def covered(boxes):
    """Return pairs of texts that cover each other by more than a px."""
    return [
        (one[0], other[0])
        for place, one in enumerate(boxes)
        for other in boxes[place + 1 :]
        if min(one[3], other[3]) - max(one[1], other[1]) > 1
        and min(one[4], other[4]) - max(one[2], other[2])
        > 4  # room above small letters
    ]


@pytest.fixture(scope="module")
def measured(browser):
    """Return what the browser says of a picture's texts."""
    page = browser.new_page()

    def measure(picture: str):
        page.set_content(
            f"<style>svg{{width:640px;display:block}}</style><body>{picture}</body>"
        )
        return page.evaluate(BOXES)

    yield measure
    page.close()


@pytest.mark.parametrize("name", PICTURES)
def test_no_text_covers_another_or_leaves_the_picture(measured, name):
    found = measured(PICTURES[name])
    assert len(found["texts"]) > 1
    assert covered(found["texts"]) == []
    right, bottom = found["size"]
    for said, left, top, end, low in found["texts"]:
        assert left >= 0, said
        assert top >= 0, said
        assert end <= right, said
        assert low <= bottom, said


def test_a_planted_overlap_is_found(measured):
    planted = '<text x="20" y="26">planted</text></svg>'
    assert covered(measured(PICTURES["balance"].replace("</svg>", planted))["texts"])


def test_a_text_is_never_wider_than_it_was_held_for(measured):
    said = "The quick brown fox, 0123456789 +/- (k = 2) MW@ [kPa] ~ Ωµ漢"
    drawn = svg("t", [], [f'<text x="0" y="99">{said}</text>'])
    _, left, _, right, _ = measured(drawn)["texts"][1]
    assert 0.75 * width(said) < right - left <= width(said)


def test_what_does_not_fit_is_cut_and_shows_it():
    assert wrapped("one two", 200) == ["one two"]
    assert wrapped("", 200) == [""]
    lines = wrapped("word " * 40, 100)
    assert len(lines) == 2
    assert lines[1].endswith("...")
    assert all(width(line) <= 100 for line in lines)
    assert all(width(line) <= 60 for line in wrapped("x" * 99, 60))
