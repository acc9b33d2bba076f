"""The report's page: what stands there, and how.

What a report holds is ISO/IEC 17025:2017, 7.8 (from memory); headers and captions of
tables are WCAG 2.2, 1.3.1 (H51, H39, H63), titles of pictures 1.1.1. All data invented.
"""

from __future__ import annotations

import io
import unicodedata
from html.parser import HTMLParser
from importlib.util import find_spec
from itertools import pairwise

import pypdf
import pytest
from conftest import CHROMIUM

from auditkit.errors import InputError
from auditkit.order.catalogue import Catalogue
from auditkit.order.events import RepairOrder
from auditkit.output.bench_report import bench_report
from auditkit.plugin.loading import load_catalogue

CATALOGUE: Catalogue = load_catalogue()
SPECIFICATION = {
    "unit": "ohm",
    "low": "0",
    "high": "40",
    "resolution": "0.01",
    "percent_of_reading": "0.5",
    "digits": "2",
    "serial": "INV-9",
    "calibrated_on": "2025-09-01",
    "due": "2026-09-01",
    "certificate": "INV-2025-9",
    "certificate_u": "0.02",
}
WARMTH = {
    "unit": "degC",
    "low": "-20",
    "high": "120",
    "resolution": "0.1",
    "absolute": "0.5",
    "calibrated_on": "2025-01-01",
    "due": "2026-09-01",
}


def coil(**more) -> dict:
    """Return a bench test of a coil that names its method."""
    return {
        "kind": "bench_test",
        "at": "2026-03-02T09:15:00+01:00",
        "by": "mechanic-1",
        "part": "coil",
        "test": "resistance",
        "method": "winding",
        "readings": [{"name": "resistance", "value": "14.0", "unit": "ohm"}],
        "conditions": {
            "winding temperature": {"value": "20", "unit": "degC"},
            "conductor": "copper",
        },
        "instruments": [
            {"id": "meter", "description": "meter", "specification": SPECIFICATION},
            {"id": "warmth", "description": "probe", "specification": WARMTH},
        ],
        "limit": {"minimum": "11", "maximum": "13", "unit": "ohm", "source": "book"},
        **more,
    }


def page(*tests: dict) -> str:
    opening = {
        "kind": "opening",
        "shop": "Invented shop",
        "vehicle": {"description": "invented", "vin": "-"},
    }
    order = RepairOrder.fold("RO-1", [opening, *tests])
    return bench_report(order, CATALOGUE, "2026-03-03")


class Parts(HTMLParser):
    """What a page is made of: its tags in order, tables row by row, all text."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict]] = []
        self.rows: list[list[str]] = []
        self.text: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        if tag == "tr":
            self.rows.append([])
        elif tag in {"th", "td"}:
            self.rows[-1].append("")

    def handle_data(self, data):
        self.text.append(data)
        if self.rows and self.rows[-1] and self.tags[-1][0] in {"th", "td"}:
            self.rows[-1][-1] += data

    def cell(self, name: str) -> str:
        """Return the text beside a name in a table of two columns."""
        (found,) = (row[1] for row in self.rows if row[0] == name and len(row) == 2)
        return found

    def row(self, begins: str) -> list[str]:
        """Return the row of a wide table that begins so."""
        (found,) = (r for r in self.rows if r and r[0].startswith(begins) and r[2:])
        return found


def test_a_page_has_for_each_test_what_a_metrologist_asks():
    parts = Parts(page(coil()))
    assert parts.cell("Expanded uncertainty U").endswith(
        "k = 2, covers 95.45 % of a normal distribution"
    )
    assert parts.cell("Conformity (7.8.6)") == "faulty"
    assert "JCGM 106:2012" in parts.cell("Decision rule (7.8.6)")
    assert "alpha 0.05" in parts.cell("Risk of a wrong answer")
    meter = parts.row("meter, meter, serial number INV-9")
    assert meter[1:] == [
        "resistance",
        "0 to 40 ohm, in steps of 0.01",
        "+/- (0.5 % of the reading + 2 steps of the display)",
        "calibrated 2025-09-01, due 2026-09-01: in calibration",
        "INV-2025-9; U = 0.02 ohm, k = 2",
    ]
    assert parts.row("warmth")[-1].startswith("no certificate recorded; no uncertainty")
    # 0.5 % of 14 ohm is 0.07 ohm, over sqrt 3: 0.0404 ohm; 0.02 / 2 is 0.010 ohm.
    limits = parts.row("specification of meter")
    assert limits[1:5] == [
        "0.000 ohm",
        "type B, rectangular, its limits of error; of resistance",
        "0.04 ohm",
        "endless",
    ]
    assert limits[5:7] == ["1", "0.04 ohm"]
    certificate = parts.row("certificate of meter")
    assert certificate[2].startswith("type B, normal, calibration certificate")
    assert certificate[6] == "0.01 ohm"


def test_the_values_at_which_the_answer_turns_are_told():
    # u at 14 ohm: limits of error 0.07 / sqrt 3 = 0.0404, digits sqrt(0.09^2 - 0.07^2)
    # / sqrt 3 = 0.0327, step 0.0029, certificate 0.010, warmth 0.055 ohm per degC times
    # hypot(0.5 / sqrt 3, 0.029) = 0.0160; together 0.0555, and 1.645 u = 0.091 ohm.
    parts = Parts(page(coil()))
    name = "At most 13 ohm, with this uncertainty (guard band)"
    assert parts.cell(name).startswith(
        "good asks for about 12.909 ohm at most, faulty for about 13.091 ohm at least"
    )
    name = "At least 11 ohm, with this uncertainty (guard band)"
    assert "good asks for about 11.091 ohm at least" in parts.cell(name)


@pytest.mark.parametrize(
    "reading", [{"above": "40"}, {"value": "39.9"}, {"value": "0.5"}]
)
def test_no_value_at_which_it_turns_is_told_from_far_away(reading):
    # 39.9 ohm is more than three times 13 ohm, 0.5 ohm less than a third of 11 ohm.
    text = page(coil(readings=[{"name": "resistance", "unit": "ohm", **reading}]))
    parts = Parts(text)
    assert parts.cell("Conformity (7.8.6)") == "faulty"
    assert "(guard band)" not in text


def test_readings_that_scatter_are_type_a_and_their_few_degrees_of_freedom_are_told():
    read = ("11.9", "12.1", "12.0", "12.4")
    readings = [{"name": "resistance", "value": v, "unit": "ohm"} for v in read]
    parts = Parts(page(coil(readings=readings)))
    scatter = parts.row("scatter of resistance")
    assert scatter[2].startswith("type A, Student's t, standard deviation of the mean")
    assert scatter[4] == "3"
    assert "Welch-Satterthwaite" in parts.cell("Degrees of freedom")
    assert parts.cell("resistance") == "11.9 ohm; 12.1 ohm; 12.0 ohm; 12.4 ohm"


def test_a_one_sided_result_is_shown_as_one():
    readings = [{"name": "resistance", "above": "40", "unit": "ohm"}]
    text = page(coil(readings=readings))
    parts = Parts(text)
    assert "lies above the value shown" in parts.cell("One-sided")
    assert parts.cell("resistance") == "above 40 ohm"
    assert parts.cell("Probability that it lies within the limit")
    assert "the end that is known of resistance" in text
    assert "lies on this side" in text, "an arrow in the picture"
    assert "One-sided" not in page(coil())


def test_a_test_without_method_is_shown_with_its_instruments_and_said_not_computed():
    typed = coil(result={"value": "14.0", "unit": "ohm"})
    del typed["method"]
    del typed["instruments"][1]["specification"]
    text = page(typed)
    parts = Parts(text)
    assert "not computed: this test names no method" in text
    assert parts.cell("Result (m)") == "14.0 ohm, as typed"
    assert parts.cell("Conformity (7.8.6)").startswith("not stated")
    assert parts.row("meter")[2] == "0 to 40 ohm, in steps of 0.01"
    assert parts.row("warmth")[2] == "specification not recorded"
    assert parts.row("warmth")[4] == "no calibration recorded"
    assert "uncertainty budget" not in text
    bare = coil(instruments=[])
    del bare["method"]
    assert "cannot be traced" in page(bare)


@pytest.mark.parametrize(
    ("days", "said"),
    [
        ({"due": "2026-03-01"}, "OUT OF CALIBRATION on the day of the test"),
        ({"calibrated_on": "2026-03-03"}, "NOT YET CALIBRATED on the day of the test"),
        ({"due": "2026-03-02"}, "in calibration"),
    ],
)
def test_the_calibration_is_told_as_on_the_day_of_the_test(days, said):
    item = {"id": "meter", "specification": {**SPECIFICATION, **days}}
    parts = Parts(page(coil(instruments=[item, coil()["instruments"][1]])))
    assert parts.row("meter")[4].endswith(said)


def test_what_could_not_be_computed_is_said_and_has_no_budget():
    text = page(coil(readings=[]))
    assert "resistance is missing" in text
    assert "Nothing was computed, so there is no budget." in text
    assert "What makes it unsure" not in text
    unknown = page(coil(method="guess"))
    assert "not computed: no kind of bench test is called" in unknown


def test_tables_have_captions_and_headers_and_pictures_titles():
    text = page(coil())
    parts = Parts(text)
    tags = [tag for tag, _ in parts.tags]
    assert tags.count("table") == tags.count("caption") > 4
    assert tags.count("svg") == tags.count("desc") == 2
    for tag, after in pairwise(tags):
        assert tag != "table" or after == "caption"
        assert tag != "svg" or after == "title"
    heads = [attributes for tag, attributes in parts.tags if tag == "th"]
    assert {one["scope"] for one in heads} == {"row", "col"}
    levels = [int(tag[1]) for tag in tags if tag in {"h1", "h2", "h3"}]
    assert levels[:2] == [1, 2]
    assert all(b - a <= 1 for a, b in pairwise(levels))
    assert "@page{size:A4" in text
    assert text.count("<svg") == text.count('role="img"')


def test_a_count_has_its_own_rule_and_no_budget():
    counts = {"seen": "4", "tries": "10"}
    given = [
        {"name": f"{name} {which} stimulus", "value": number, "unit": "times"}
        for which, numbers in (
            ("with", counts),
            ("without", {"seen": "0", "tries": "10"}),
        )
        for name, number in numbers.items()
    ]
    tap = {"stimulus": "tap"}
    test = coil(method="intermittent", readings=given, conditions=tap, instruments=[])
    del test["limit"]
    text = page(test)
    parts = Parts(text)
    assert parts.cell("Conformity (7.8.6)") == "faulty"
    assert parts.cell("Expanded uncertainty U").endswith("k = 2, about 95 %")
    assert "no instrument: there is no budget of inputs" in text
    assert "what was counted needs none" in text
    assert "by the rule above" in parts.cell("Risk of a wrong answer")
    assert "JCGM 106" not in text


def test_an_instrument_is_told_with_all_that_it_measured():
    # The result, the end pressure, hangs on no start pressure; the gauge read both.
    amounts = {"start pressure": "18.0 inHg", "end pressure": "6.5 inHg"}
    warm = {"value": "20", "unit": "degC"}
    gauge = {
        **WARMTH,
        "unit": "inHg (vacuum)",
        "low": "0",
        "high": "30",
        "resolution": "0.1",
    }
    test = coil(
        method="seal-hold",
        readings=[
            {"name": name, "value": text.split()[0], "unit": "inHg"}
            for name, text in amounts.items()
        ],
        conditions={
            "start temperature": warm,
            "end temperature": warm,
            "barometer": {"value": "98.2", "unit": "kPa"},
            "hold time": {"value": "60", "unit": "s"},
            "pressure reference": "vacuum",
        },
        instruments=[
            {"id": "gauge", "specification": gauge},
            {"id": "probe", "specification": WARMTH},
        ],
        limit={
            "minimum": "15",
            "unit": "inHg",
            "source": "book",
            "of": "end pressure",
        },
    )
    parts = Parts(page(test))
    assert parts.row("gauge")[1] == "start pressure, end pressure"
    assert parts.row("probe")[1] == "start temperature, end temperature"
    assert parts.row("specification of gauge")[2].endswith("of end pressure")


def test_a_claim_that_cannot_be_is_asked_about():
    # +/- 0.001 ohm is less than half a step of 0.01 ohm.
    fine = {**WARMTH, "unit": "ohm", "resolution": "0.01", "absolute": "0.001"}
    items = [{"id": "meter", "specification": fine}, coil()["instruments"][1]]
    text = page(coil(instruments=items))
    assert "meter claims +/- 0.001 ohm, less than half a digit" in text
    assert "What an instrument claims" not in page(coil())


def test_hostile_text_is_escaped_everywhere():
    bad = "<script>alert(1)</script>"
    item = {"id": bad, "description": bad, "specification": SPECIFICATION}
    item["measures"] = ["resistance", bad]
    given = coil(
        part=bad,
        test=bad,
        note=bad,
        by=bad,
        setup=bad,
        instruments=[item, coil()["instruments"][1]],
        limit={"minimum": "11", "unit": "ohm", "source": bad},
        known_good={
            "part": bad,
            "readings": [{"name": "resistance", "value": "12", "unit": "ohm"}],
        },
    )
    text = page(given, {**given, "method": bad})
    assert "<script" not in text
    assert "&lt;script&gt;" in text


def test_no_bench_test_is_one_clear_error():
    with pytest.raises(InputError, match="no bench test to report"):
        page()


@pytest.fixture
def shown(browser):
    """Return a view of a page with many tests, at a width, on screen or on paper."""
    readings = [
        {"name": "resistance", "value": v, "unit": "ohm"}
        for v in ("11.9", "12.1", "12.4")
    ]
    typed = coil(result={"value": "14.0", "unit": "ohm"})
    del typed["method"]
    text = page(coil(), coil(readings=readings), typed)
    opened = browser.new_page()

    def at(width: int, media: str, extra: str = ""):
        opened.set_viewport_size({"width": width, "height": 1000})
        opened.emulate_media(media=media)
        opened.set_content(text + extra)
        return opened

    yield at
    opened.close()


IN_A_BROWSER = pytest.mark.skipif(
    not (CHROMIUM and find_spec("playwright") and find_spec("axe_playwright_python")),
    reason="playwright, axe-playwright-python or chromium is absent",
)
PAPER = 687
"""Width of A4 within its margins of 14 mm, in px of CSS."""
TOO_WIDE = """() => [...document.querySelectorAll('html, th, td, .wide')]
    .filter(e => e.scrollWidth > e.clientWidth + 1).map(e => e.textContent)"""


@IN_A_BROWSER
def test_nothing_is_cut_off_on_paper_and_a_phone_scrolls_tables_alone(shown):
    assert shown(PAPER, "print").evaluate(TOO_WIDE) == []
    long = f"<table><tr><td>{'x' * 300}</td></tr></table>"
    assert shown(PAPER, "print", long).evaluate(TOO_WIDE), "a planted one"
    phone = shown(360, "screen")
    assert phone.evaluate("document.documentElement.scrollWidth") <= 360


@IN_A_BROWSER
def test_the_print_is_a4(shown):
    printed = shown(PAPER, "print").pdf(prefer_css_page_size=True)
    sheets = pypdf.PdfReader(io.BytesIO(printed)).pages
    for sheet in sheets:
        width, height = (float(side) / 72 * 25.4 for side in sheet.mediabox[2:])
        assert (width, height) == (pytest.approx(210, abs=1), pytest.approx(297, abs=1))
    text = " ".join(" ".join(sheet.extract_text() for sheet in sheets).split())
    text = unicodedata.normalize("NFKC", text)  # the font joins "fi"
    for said in (
        "Share of the variance",
        "End of report RO-1",
        "specification of meter",
    ):
        assert said in text


@IN_A_BROWSER
def test_axe_finds_no_fault(shown):
    from axe_playwright_python.sync_playwright import Axe

    for width, media in ((1280, "screen"), (360, "screen"), (PAPER, "print")):
        found = Axe().run(shown(width, media)).response
        assert found["passes"]
        assert [rule["id"] for rule in found["violations"]] == []
    planted = Axe().run(shown(1280, "screen", "<img src='data:,'>")).response
    assert "image-alt" in [rule["id"] for rule in planted["violations"]]
