"""An audit on paper: tagged, titled, the same bytes again, and no stranger's markup."""

import subprocess
import sys
from dataclasses import replace
from datetime import UTC, datetime
from io import BytesIO

import invented_audit
import pytest
from sheets import texts_of

from auditkit.fleet.audited import Audit, Section
from auditkit.fleet.report.paper import audit_pdf
from auditkit.fleet.report.set_apart import sheets_of
from auditkit.fleet.report.told import Contents, Grid, Heading, Said, told

pypdf = pytest.importorskip("pypdf")
pytest.importorskip("typst")
DATED = datetime(2026, 7, 1, 8, 0, tzinfo=UTC)


def read(audit):
    """Return an audit on paper, as pypdf reads it, and the text of each sheet."""
    paper = audit_pdf(audit, DATED)
    made = pypdf.PdfReader(BytesIO(paper))
    return made, [" ".join(text.split()) for text in texts_of(paper)]


@pytest.fixture(scope="module")
def whole():
    return read(invented_audit.audit())


def test_same_audit_gives_the_same_bytes():
    script = (
        "import sys; sys.path.insert(0, 'tests/support'); import invented_audit as a;"
        "from datetime import UTC, datetime; d = datetime(2026, 7, 1, 8, tzinfo=UTC);"
        "from auditkit.fleet.report.paper import audit_pdf;"
        "sys.stdout.buffer.write(audit_pdf(a.audit(), d))"
    )
    made = [
        subprocess.run(
            [sys.executable, "-c", script],
            capture_output=True,
            check=True,
            env={"PYTHONHASHSEED": seed, "PYTHONUTF8": "1"},
        ).stdout
        for seed in ("1", "2")
    ]
    assert made[0] == made[1]
    assert made[0].startswith(b"%PDF-")


def test_it_is_tagged_titled_and_in_a_language(whole):
    """ISO 32000-1, 14.8 (tagged PDF) and 14.9.2 (language), from memory."""
    made, _ = whole
    root = made.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    assert "/StructTreeRoot" in root
    assert root["/Lang"] == "en"
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]
    assert made.metadata.title == "Audit of an invented fleet, first half of 2026"
    assert "pdfuaid:part" in root["/Metadata"].get_data().decode()


def test_every_picture_says_what_it_shows(whole):
    """ISO 32000-1, 14.9.3 (alternate descriptions), from memory."""
    made, _ = whole
    found = []

    def walk(node):
        node = node.get_object()
        if isinstance(node, list):
            for one in node:
                walk(one)
        elif isinstance(node, dict):
            if node.get("/S") == "/Figure":
                found.append(str(node.get("/Alt", "")))
            if "/K" in node:
                walk(node["/K"])

    walk(made.trailer["/Root"]["/StructTreeRoot"])
    audit = invented_audit.audit()
    charts = [c for section in audit.sections for c in section.charts]
    charts += [one.chart for one in audit.asked]
    assert sorted(found) == sorted(chart.sentence for chart in charts)


def test_first_sheet_is_for_who_decides(whole):
    _, texts = whole
    assert "94.9 in 100 held for 180 days" in texts[0]
    assert "26,001 packets" not in texts[0]
    assert "26,001 packets" in texts[1]


def test_all_is_there(whole):
    _, texts = whole
    text = " ".join(texts)
    for one in invented_audit.asked():
        assert one.question in text
        for packet in one.to_open:
            assert packet.sha256 in text.replace(" ", "")
    assert "too few" in text
    assert "The shop has not answered yet." in text
    assert "The numbers of the pictures" in text


def test_the_table_of_shops_comes_before_the_contents():
    first = Section("a", "A", ("x",), (invented_audit.rates(3),))
    blocks = told(Audit("A", (first, Section("b", "B", ("y",))), ()))
    kinds = [type(block) for block in sheets_of(blocks)]
    grid, contents = kinds.index(Grid), kinds.index(Contents)
    assert grid < contents < kinds.index(Heading, 1)
    assert len(kinds) == len(blocks)


def test_a_table_that_says_nothing_of_anybody_comes_last():
    few = replace(invented_audit.rates(3), title="Few", rows=(("Shop 1", *[None] * 5),))
    said = Section("b", "B", ("y",), (few, invented_audit.rates(2)))
    blocks = sheets_of(told(Audit("A", (Section("a", "A", ("x",)), said), ())))
    captions = [b.caption for b in blocks if isinstance(b, Grid)]
    assert captions[-1] == "Few"
    assert blocks[-2] == Heading(2, "Tables set apart")
    texts = [b.text for b in blocks if isinstance(b, Said)]
    words = "too few to say anything of anybody; see \u201cTables set apart\u201d"
    assert f"Few: {words}, at the end." in texts


def test_the_words_of_a_heading_are_not_broken(whole):
    _, texts = whole
    assert "of whom what number" in " ".join(texts)


def test_many_numbers_are_named_not_printed():
    strip = invented_audit.strip(50)
    first = Section("a", "A", ("x",))
    _, texts = read(Audit("A", (first, Section("b", "B", (), (), (strip,))), ()))
    assert f"{strip.title}: 600 rows, in the page (HTML)." in " ".join(texts)


def test_what_strangers_wrote_is_never_markup():
    audits = [invented_audit.named_all(name) for name in invented_audit.HOSTILE]
    sections = tuple(s for audit in audits for s in audit.sections)
    asked = tuple(q for audit in audits for q in audit.asked)
    made, texts = read(Audit(audits[0].title, sections, asked))
    text = "".join(texts).replace(" ", "")
    for name in invented_audit.HOSTILE:
        if name.isascii() and "\n" not in name and len(name) < 100:
            assert name.replace(" ", "") in text
    assert "<U+202E>" in text
    assert "<U+0000>" in text
    # No heading and no link came of it: the parts, the shops, and what always is said.
    heads = [b for b in told(Audit("", sections, asked)) if isinstance(b, Heading)]
    annex = 1
    assert count(made.outline) == len(heads) + annex
    annotations = [a for p in made.pages for a in p.get("/Annots", ())]
    for one in annotations:
        assert "/URI" not in one.get_object().get("/A", {})


def count(outline):
    """Return how many headings an outline has, at every depth."""
    return sum(count(one) if isinstance(one, list) else 1 for one in outline)


def test_letters_that_no_font_has_are_spelled_out():
    chart = replace(invented_audit.strip(1), title="\U0001f600 \u0b95")
    section = Section("s", "\U0001f600", ("\u0b95",), (), (chart,))
    _, texts = read(Audit("A", (section, section), ()))
    assert "<U+1F600>" in "".join(texts)
    assert "<U+0B95>" in "".join(texts)


@pytest.mark.parametrize("count", [0, 200])
def test_no_shop_and_two_hundred(count):
    _, texts = read(invented_audit.audit(count, ()))
    text = " ".join(texts)
    for number in range(1, count + 1):
        assert f"Shop {number} " in text
    assert "There is no question to a shop." in text


def test_nothing_at_all():
    made, texts = read(Audit("Nothing", (), ()))
    assert texts[0].startswith("Nothing")
    assert len(made.pages) <= 2
