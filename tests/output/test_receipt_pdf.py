"""The customer's receipt on paper: what it says, its code, its pictures."""

import builtins
import dataclasses
import io
import itertools
import json
import os
import subprocess
import sys
from datetime import datetime
from decimal import Decimal
from pathlib import Path

import pytest
from click.testing import CliRunner
from conftest import PASSPHRASE, judge
from photo import PICTURE, kept, record_of
from sheets import drawn, texts_of

from auditkit.cli.demo import demo_command
from auditkit.cli.receipt import receipt_command
from auditkit.errors import InputError
from auditkit.order.statement import DEFERS, JUDGED_BY
from auditkit.output.receipt_code import receipt_code
from auditkit.output.receipt_pdf import ReceiptPaper, receipt_pdf
from auditkit.proof.check_packet import parse_packet
from auditkit.proof.receipt import as_written, format_receipt, receipt_address
from auditkit.reader.before_after import Measure, Reading
from auditkit.reader.hold_receipt import receipt_of
from auditkit.reader.page.build import checker_page_sha256
from auditkit.reader.receipt_story import PartWorkedOn, story_of
from auditkit.reader.steps import steps_of
from auditkit.text.moment import clock_text

MADE_AT = "2026-03-02T17:00:00+01:00"
PAGE = "https://checker.example/check.html"


def paper_of(packet, **more):
    read = parse_packet(packet)
    story = story_of(steps_of(read))
    return ReceiptPaper(receipt_of(packet), read.statement, story, **more)


@pytest.fixture
def packet(closed):
    return closed.packet("RO-1")


@pytest.fixture
def paper(packet):
    pytest.importorskip("typst")
    pytest.importorskip("segno")
    return paper_of(packet)


def told(paper, **parts):
    """Return a paper of a story with other parts."""
    story = dataclasses.replace(paper.story, **parts)
    return dataclasses.replace(paper, story=story)


def words(data):
    return " ".join(" ".join(texts_of(data)).split())


def scanned(picture):
    zxingcpp = pytest.importorskip("zxingcpp")
    (found,) = zxingcpp.read_barcodes(picture, formats=zxingcpp.BarcodeFormat.QRCode)
    return found.text


def test_the_page_is_the_same_bytes_when_made_again(paper, packet, tmp_path):
    page = receipt_pdf(paper, MADE_AT)
    (tmp_path / "p.json").write_text(packet)
    code = (
        "import sys; sys.path[:0] = sys.argv[3:]; "
        "from test_receipt_pdf import paper_of, receipt_pdf; "
        "text = open(sys.argv[1]).read(); "
        "sys.stdout.buffer.write(receipt_pdf(paper_of(text), sys.argv[2]))"
    )
    elsewhere = {"TZ": "Pacific/Auckland", "LC_ALL": "C.UTF-8"}
    here = Path(__file__).parent
    again = subprocess.run(
        [
            *(sys.executable, "-c", code, str(tmp_path / "p.json"), MADE_AT),
            *map(str, (here, here.parent, here.parent / "support")),
        ],
        env=os.environ | elsewhere | {"SOURCE_DATE_EPOCH": "7"},
        capture_output=True,
        check=True,
    )
    assert again.stdout == page
    assert page != receipt_pdf(paper, "2026-03-02T17:00:01+01:00")


def test_the_page_says_when_it_was_made_and_what_standards_it_follows(paper):
    """XMP names: ISO 19005-2 section 6.6.4, ISO 14289-1 section 5."""
    pypdf = pytest.importorskip("pypdf")
    file = pypdf.PdfReader(io.BytesIO(receipt_pdf(paper, MADE_AT)))
    root = file.trailer["/Root"]
    said = root["/Metadata"].get_data().decode()
    for name, value in (
        ("pdfaid:part", "2"),
        ("pdfaid:conformance", "A"),
        ("pdfuaid:part", "1"),
    ):
        assert f"<{name}>{value}</{name}>" in said
    assert root["/MarkInfo"]["/Marked"]
    assert root["/Lang"] == "en"
    assert file.metadata.title == "Receipt for repair order RO-1"
    assert file.metadata.creation_date == datetime.fromisoformat(MADE_AT)
    assert file.metadata["/Keywords"].startswith("auditkit ")


def test_the_page_says_all_of_the_statement_and_of_the_receipt(paper):
    statement = (
        "Repair order RO-1 is unproven: something is missing.",
        "Fault codes: P0401.",
        "Bench test of coil-1 (winding) by mechanic-1: 1.2 k\u03a9.",
        "coil-1 was replaced by mechanic-1, \u20ac 5 \u2013 \u00fcber.",
        "coil-2 was cleaned by mechanic-1, \u4e2d\U0001f527, \u202egone.",
        "coil-3 was renewed by mechanic-1, #strong[$x$] `*a*` _b_ // c",
        "part-" + "long" * 40 + " was renewed by mechanic-1.",
        "After the repair the vehicle's own self-test 31/81 (x) passed: 1.",
        "Missing: x: y",
        "something else",
        DEFERS,
    )
    odd = dataclasses.replace(
        paper,
        statement=statement,
        receipt=dataclasses.replace(
            paper.receipt, origin="garage.example/" + "log" * 40
        ),
    )
    said = words(receipt_pdf(odd, MADE_AT))
    whole = said.replace(" ", "")  # words longer than a line are broken
    lacking = {c: f"<U+{ord(c):04X}>" for c in "\u4e2d\U0001f527\u202e"}
    for line in (*statement, *format_receipt(odd.receipt).splitlines()):
        assert line.translate(str.maketrans(lacking)).replace(" ", "") in whole
    assert clock_text(MADE_AT) in said
    assert said.count(DEFERS) == len(texts_of(receipt_pdf(odd, MADE_AT)))


def test_the_page_tells_the_repair(paper):
    part = PartWorkedOn(
        "EGR valve", "EX-EGR-1", "replaced for P0401, by m", "2026-03-02", "kept"
    )
    value = Measure(
        "Self-test 31/81 of 7E8: EGR bank 1",
        "minimum 3.50, maximum none",
        Decimal("3.50"),
        None,
        Reading("2.14 kPa", "failed", Decimal("2.14")),
        Reading("6.12 kPa", "passed", Decimal("6.12")),
    )
    lines = (
        "After the repair the vehicle's own self-test 31/81 (EGR bank 1) passed: 6.12.",
        "EGR valve was replaced by m.",
    )
    whole = told(paper, parts=(part,), values=(value,), more_values=3)
    whole = dataclasses.replace(whole, statement=(*paper.statement, *lines))
    said = words(receipt_pdf(whole, MADE_AT))
    for one in (
        "EX-EGR-1",
        "replaced for P0401",
        "before 2.14 kPa, failed; after 6.12",
    ):
        assert one in said
    assert "3 more values in the packet." in said
    assert not any(line in said for line in lines), "the story tells them"
    less = words(receipt_pdf(paper, MADE_AT))
    assert "No repair is recorded." in less
    assert "No value before or after the repair is recorded." in less


def test_what_was_not_shown_is_said_or_that_nothing_was_left_open(paper):
    said = words(receipt_pdf(paper, MADE_AT))
    assert "What was not shown, or is to be minded" in said
    assert "nothing was left open" not in said
    shops, customers = (
        "  what to do: write of it of: old",
        "what to do: ask the shop to show what is not shown, or why it cannot",
    )
    waits = "drive as usual and come back"
    part = "Part faulty before the repair (coil): not shown: it was not measured"
    run = "Vehicle's own test run again: waiting, a later readout can show it: x"
    for lines, is_waiting in (((part, shops), False), ((part, shops, run), True)):
        made = dataclasses.replace(paper, statement=(paper.statement[0], *lines))
        said = words(receipt_pdf(made, MADE_AT))
        assert part in said
        assert said.count(customers) == 1
        assert (waits in said) == is_waiting
        assert "write of it" not in said, "that is for the shop"
    proven = dataclasses.replace(paper, statement=("Repair order RO-1 is proven: x.",))
    said = words(receipt_pdf(proven, MADE_AT))
    assert "Of what was asked, nothing was left open." in said


@pytest.mark.parametrize("page", ["", PAGE, "https://c.example/" + "p" * 90])
def test_the_code_carries_the_receipt_and_a_reader_of_codes_reads_it(paper, page):
    """Read by zxing-cpp, an encoder and decoder of its own (ISO/IEC 18004)."""
    image = pytest.importorskip("PIL.Image")
    for change in ({}, {"repair_order": "RO-" + "9" * 61, "origin": "l" * 200}):
        made = dataclasses.replace(paper.receipt, **change)
        picture = io.BytesIO()
        code = receipt_code(made, page)
        code.save(picture, kind="png", scale=3, border=4)
        found = scanned(image.open(picture))
        assert found == (receipt_address(page, made) if page else format_receipt(made))
        assert as_written(found) == format_receipt(made)
        assert code.version <= 23
        assert code.error in {"M", "Q", "H"}


def test_a_code_that_would_be_too_fine_is_refused(paper):
    long = dataclasses.replace(paper.receipt, origin="\u00e9" * 200)
    with pytest.raises(InputError, match="too fine for a phone") as caught:
        receipt_code(long, PAGE)
    assert "checker_url" in caught.value.what_to_do
    with pytest.raises(InputError, match="too fine for a phone"):
        receipt_code(paper.receipt, PAGE + "p" * 3000)


@pytest.mark.parametrize("page", ["", PAGE])
def test_the_code_is_read_off_the_drawn_page_in_grey(paper, page):
    """Drawn by PDFium at 100 dots an inch, as a poor camera sees it; by zxing-cpp."""
    made = dataclasses.replace(paper, checker_url=page)
    with drawn(receipt_pdf(made, MADE_AT), 100) as picture:
        assert as_written(scanned(picture)) == format_receipt(paper.receipt)


def test_modules_are_as_wide_as_is_said(paper):
    """Measured on the drawn page: the code's finder is 7 modules (ISO/IEC 18004)."""
    said = words(receipt_pdf(paper, MADE_AT))
    side, module = said.split(" modules of ")
    side = int(side.rsplit(" x ", 1)[1])
    module = float(module.split(" mm")[0])
    assert module >= 0.7
    with drawn(receipt_pdf(paper, MADE_AT), 254) as picture:
        zxingcpp = pytest.importorskip("zxingcpp")
        (found,) = zxingcpp.read_barcodes(
            picture, formats=zxingcpp.BarcodeFormat.QRCode
        )
        corners = found.position
        wide = corners.top_right.x - corners.top_left.x
    assert wide / 10 == pytest.approx(side * module, rel=0.02)  # 10 dots a millimetre


def test_an_address_of_the_shop_is_told_as_such_and_the_pages_digest_is_printed(paper):
    said = words(
        receipt_pdf(
            dataclasses.replace(
                paper, checker_url=PAGE, page_sha256="ab" * 32, packet_from="the desk"
            ),
            MADE_AT,
        )
    )
    assert f"The code opens {PAGE} with this receipt in the address" in said
    assert "so it is the shop's word" in said
    assert "Better get the page elsewhere" in said
    assert "ab" * 32 in said.replace(" ", "")
    assert "Ask the desk for the packet of repair order RO-1" in said
    other = words(receipt_pdf(paper, MADE_AT))
    assert "The code opens" not in other
    assert "Ask Example Yard Garage for the packet" in other
    assert "and not from the shop alone" in other


def test_short_facts_stand_two_in_a_row_and_a_long_one_alone(paper):
    """What no record shows then stays on the first page of an ordinary order."""
    pypdf = pytest.importorskip("pypdf")

    def rows(made):
        data = io.BytesIO(receipt_pdf(made, MADE_AT))
        (first, *_) = pypdf.PdfReader(data).pages
        return first.extract_text(extraction_mode="layout").splitlines()

    (row,) = [line for line in rows(paper) if "Shop:" in line]
    assert "Vehicle:" in row
    about = [(name, f"{said} {'van ' * 12}") for name, said in paper.story.about]
    story = dataclasses.replace(paper.story, about=tuple(about))
    (row,) = [
        line
        for line in rows(dataclasses.replace(paper, story=story))
        if "Shop:" in line
    ]
    assert "Vehicle:" not in row


@pytest.mark.parametrize("order", [*itertools.product([True, False], repeat=3)])
def test_whatever_facts_are_long_the_page_is_made_and_has_them_in_their_order(
    paper, order
):
    """A shop that the record names otherwise, say: its row is long, and comes first."""
    about = [
        (f"Name{n}", "long " * 24 if is_long else "short")
        for n, is_long in enumerate((*order, True, False))
    ]
    said = words(receipt_pdf(told(paper, about=tuple(about)), MADE_AT))
    places = [said.index(f"{name}: {text.strip()}") for name, text in about]
    assert places == sorted(places)


@pytest.mark.parametrize("number", [0, 40, 300])
def test_a_long_order_goes_on_behind_and_its_code_stays_as_coarse(paper, number):
    lines = tuple(f"line-{at} of the statement" for at in range(number))
    made = dataclasses.replace(paper, statement=("The verdict.", *lines))
    data = receipt_pdf(made, MADE_AT)
    said = texts_of(data)
    assert all(line in " ".join(said) for line in lines)
    assert "What the code holds" in said[0], "the code stands on the first page"
    assert f"page {len(said)} of" in " ".join(said[-1].split())
    assert len(said) >= number // 60


def test_a_picture_that_the_packet_carries_is_printed(ledger, catalogue, tmp_path):
    pytest.importorskip("typst")
    record = record_of("RO-6", kept(PICTURE), pictures=(PICTURE,))
    ledger.record(
        record,
        judge(catalogue, record),
        passphrase=PASSPHRASE,
        unproven_reason="a test of pictures",
    )
    bare, whole = (
        ledger.packet("RO-6", with_attachments=on).encode() for on in (False, True)
    )
    assert receipt_of(bare).story == receipt_of(whole).story
    without = paper_of(bare)
    shown = paper_of(whole, carried=dict(parse_packet(whole).attachments))
    assert "Not printed here." in words(receipt_pdf(without, MADE_AT))
    data = receipt_pdf(shown, MADE_AT)
    assert "Not printed here." not in words(data)
    pypdf = pytest.importorskip("pypdf")
    images = [i for p in pypdf.PdfReader(io.BytesIO(data)).pages for i in p.images]
    assert images
    assert not [
        i
        for p in pypdf.PdfReader(io.BytesIO(receipt_pdf(without, MADE_AT))).pages
        for i in p.images
    ]


@pytest.mark.parametrize(
    "made_at",
    ["", "today", "2026-03-02T17:00:00", "9999-12-31T23:59:59-01:00"],
)
def test_a_time_without_its_offset_is_refused(paper, made_at):
    with pytest.raises(InputError, match="no time with its offset"):
        receipt_pdf(paper, made_at)


@pytest.mark.parametrize("name", ["typst", "segno"])
def test_a_missing_library_names_the_extra(paper, monkeypatch, name):
    real = builtins.__import__

    def absent(wanted, *arguments, **how):
        if wanted == name:
            raise ImportError(wanted, name=wanted)
        return real(wanted, *arguments, **how)

    monkeypatch.setattr(builtins, "__import__", absent)
    with pytest.raises(InputError, match=f"library {name}, which is not") as caught:
        receipt_pdf(paper, MADE_AT)
    assert ".[pdf]" in caught.value.what_to_do


def test_the_command_writes_page_and_text_and_never_over_a_file(
    packet, paper, tmp_path, monkeypatch
):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "p.json").write_text(packet)

    def run(*arguments):
        return CliRunner().invoke(receipt_command, ["p.json", *arguments])

    handed = "2126-03-02T17:00:00+01:00"
    done = run("--out", "r.pdf", "--text", "r.txt", "--made-at", handed)
    assert done.exit_code == 0, done.output
    assert (tmp_path / "r.txt").read_text() == format_receipt(paper.receipt)
    said = words((tmp_path / "r.pdf").read_bytes())
    assert said.startswith(
        "Receipt for repair order RO-1 Shop: Example Yard Garage Vehicle: delivery "
        "van, 2012 VIN: 0ZZTB1A18CA000123 Odometer when it came in: 120345 km Came in: "
        "2026-03-02 08:00:00 +01:00 Repaired on: no repair is recorded Complaint: lamp "
        "on Made at 2126-03-02 17:00:00 +01:00"
    )
    assert "auditkit verify PACKET --receipt FILE" in said
    assert checker_page_sha256() in said.replace(" ", "")
    assert "Customer One" not in said
    (tmp_path / "r.pdf").unlink()
    early = run("--out", "r.pdf", "--made-at", MADE_AT)
    assert "before the verdict was recorded" in str(early.exception)
    assert not (tmp_path / "r.pdf").exists()
    (tmp_path / "r.pdf").write_bytes(b"kept")
    for refused in (
        ("--out", "r.pdf"),
        ("--text", "r.txt"),
        ("--out", "a", "--text", "a"),
        (),
    ):
        assert isinstance(run(*refused).exception, InputError)
    assert sorted(p.name for p in tmp_path.glob("[ar].*")) == ["r.pdf", "r.txt"]


def test_the_shops_policy_names_checker_and_desk(packet, tmp_path, monkeypatch):
    pytest.importorskip("typst")
    monkeypatch.chdir(tmp_path)
    (tmp_path / "p.json").write_text(packet)
    (tmp_path / "policy.toml").write_text(
        f'format = "auditkit/policy@1"\nchecker_url = "{PAGE}"\n'
        'packet_from = "the desk, 555-0100"\n'
    )
    done = CliRunner().invoke(receipt_command, ["p.json", "--out", "r.pdf"])
    assert done.exit_code == 0, done.output
    assert "policy.toml beside the log is taken" in done.stderr
    said = words((tmp_path / "r.pdf").read_bytes())
    assert f"The code opens {PAGE}" in said
    assert "Ask the desk, 555-0100 for the packet" in said


def test_a_policy_that_asks_less_stands_with_the_verdict(paper):
    less = f"{JUDGED_BY}1 rule (self-test-not-run) did not run."
    first, *others = paper.statement
    made = dataclasses.replace(paper, statement=(first, less, *others))
    said = words(receipt_pdf(made, MADE_AT))
    assert said.count(less) == 1
    assert said.index(less) < said.index("What was done")


def test_the_demos_receipt_tells_the_demos_repair(tmp_path, monkeypatch):
    """As the demo's README tells it: 2.14 kPa below the limit of 3.50, then 6.12."""
    pytest.importorskip("typst")
    monkeypatch.chdir(tmp_path)
    assert CliRunner().invoke(demo_command, ["--into", "week"]).exit_code == 0
    data = (tmp_path / "week" / "RO-1001.packet.json").read_bytes()
    story = json.loads(data)["statement"]
    assert story[0].startswith("Repair order RO-1001 is proven")
    said = words(receipt_pdf(paper_of(data), MADE_AT))
    for told_so in (
        "Odometer when it came in: 184210 km",
        "Repaired on: 2026-03-02",
        "Complaint: The engine lamp is on and the van idles badly when warm.",
        "EX-EGR-1",
        "given back to the customer",
        "before 2.14 kPa, failed; after 6.12 kPa, passed",
        "is the expanded uncertainty (k = 2).",
    ):
        assert told_so in said, told_so

    data = (tmp_path / "week" / "RO-1003.packet.json").read_bytes()
    sheets = texts_of(receipt_pdf(paper_of(data), MADE_AT))
    assert len(sheets) == 1
    said = " ".join(sheets[0].split())
    assert said.count("should be at least 3.0 kPa") == 1, "beside its drawing alone"
    assert "Values measured on the bench" not in said
