"""What the pages of an exhibit say, and what kind of file it is."""

import base64
import hashlib
import io
import json
import os
import re
import subprocess
import sys
from datetime import UTC, datetime, timedelta, timezone
from unittest.mock import patch

import pytest
from click.testing import CliRunner
from conftest import PASSPHRASE
from exhibits import CATALOGUE, LONG, close, pages_of
from photo import DIGEST, OTHER, OTHER_DIGEST, PICTURE, attachment, kept, record_of
from sheets import texts_of, within

from auditkit.cli.receipt import receipt_command
from auditkit.errors import VerificationError
from auditkit.exhibit import exhibit_of
from auditkit.exhibit.check_pdf import attached_packet
from auditkit.exhibit.pdf import exhibit_pdf
from auditkit.output.receipt_code import receipt_code
from auditkit.output.typeset import makers
from auditkit.plugin.loading import load_canon
from auditkit.proof.check_packet import verify_packet
from auditkit.proof.receipt import digest_of_lines
from auditkit.reader.hold_receipt import receipt_of

pypdf = pytest.importorskip("pypdf")
pytest.importorskip("typst")


LACKING = ("<U+6F22>", "<U+5B57>", "<U+1F600>", "<U+0E44>", "<U+202E>")


@pytest.fixture(scope="module")
def odd(packets):
    return pages_of(packets["RO-ODD"], CATALOGUE)


def words(pdf):
    """Return the text of all pages without any white space."""
    return "".join("".join(texts_of(pdf)).split())


def tight(text):
    return "".join(text.split())


def test_the_attached_packet_is_the_packet_and_verifies(packet, pdf):
    assert attached_packet(pdf) == packet
    assert verify_packet(attached_packet(pdf)).verified
    (name,) = pypdf.PdfReader(io.BytesIO(pdf)).attachments
    assert name == "packet.json"


def test_the_same_packet_gives_the_same_bytes_anywhere(packet, pdf, tmp_path):
    assert exhibit_pdf(packet, CATALOGUE) == pdf
    (tmp_path / "another name.json").write_bytes(packet)
    code = (
        "import pathlib, sys; from auditkit.exhibit.pdf import exhibit_pdf; "
        "from auditkit.plugin.loading import load_catalogue; "
        "packet = pathlib.Path(sys.argv[1]).read_bytes(); "
        "sys.stdout.buffer.write(exhibit_pdf(packet, load_catalogue()))"
    )
    elsewhere = {"TZ": "Pacific/Auckland", "LC_ALL": "C", "SOURCE_DATE_EPOCH": "7"}
    again = subprocess.run(
        [sys.executable, "-c", code, "another name.json"],
        cwd=tmp_path,
        env=os.environ | elsewhere,
        capture_output=True,
        check=True,
    )
    assert again.stdout == pdf


def test_the_pages_name_the_shop_of_the_log_and_another_that_the_record_names(
    forged, pdf
):
    said = words(pdf).replace(":", "")
    assert tight("Shop that the log is of Example Yard Garage (invented)") in said
    assert "Anothershop" not in said
    said = words(pages_of(forged[1], CATALOGUE)).replace(":", "")
    assert tight("Shop that the log is of Stranger (invented)") in said
    assert tight("Another shop, which the record names Example Yard Garage") in said


def test_the_first_page_says_that_it_was_judged_again_and_by_what(packets):
    ours, _ = makers()
    for order, verdict in (("RO-1001", "proven"), ("RO-1003", "contradicted")):
        first = tight(texts_of(pages_of(packets[order], CATALOGUE))[0])
        assert (
            tight("Judged again from the evidence in the packet, by auditkit") in first
        )
        assert (
            tight(f"auditkit {ours} and the {len(load_canon().rules)} rules") in first
        )
        assert tight(f"{verdict}. The shop signed the same.") in first
        to_customer = (
            "a customer can do: ask the shop what it will do about what speaks"
        )
        assert (tight(to_customer) in first) == (verdict == "contradicted")
    said = words(pages_of(packets["RO-1001"], CATALOGUE))
    for rule in load_canon().rules:
        assert tight(f"{rule.name} {rule.version}") in said


def test_where_the_shop_signed_more_both_stand_there_the_judged_one_first(forged):
    _, packet = forged
    said = " ".join(texts_of(pages_of(packet, CATALOGUE))[0].split())
    judged = said.index("Judged again, repair order RO-9 is unproven: ")
    assert judged < said.index("The shop signed: Repair order RO-9 is proven.")
    assert "The shop signed the same" not in said
    assert "What is missing, judged again" in said


def test_a_receipt_has_both_verdicts_too_and_its_code_what_was_signed(forged, tmp_path):
    pytest.importorskip("segno")
    _, packet = forged
    (tmp_path / "p.json").write_bytes(packet)
    made = ["--made-at", "2030-03-02T08:00:00+01:00", "--out", str(tmp_path / "r.pdf")]
    with patch("auditkit.output.receipt_pdf.receipt_code", wraps=receipt_code) as code:
        done = CliRunner().invoke(receipt_command, [str(tmp_path / "p.json"), *made])
    assert isinstance(done.exception, VerificationError)
    assert done.exception.exit_code == 1
    said = " ".join(texts_of((tmp_path / "r.pdf").read_bytes())[0].split())
    judged = said.index("Judged again on 2030-03-02: unproven: ")
    signed = said.index("The shop signed: proven.")
    assert judged < signed < said.index("Repair order RO-9 is proven.")
    receipt, _ = code.call_args.args
    assert receipt == receipt_of(packet)
    assert receipt.statement == digest_of_lines(["Repair order RO-9 is proven."])


@pytest.mark.parametrize("order", ["RO-1001", "RO-1002", "RO-1003", "RO-ODD"])
def test_the_pages_say_what_was_signed(packets, order):
    content = json.loads(packets[order])
    said = words(pages_of(packets[order], CATALOGUE))
    origin, size, root = content["checkpoint"].split("\n")[:3]
    report = verify_packet(packets[order])
    fingerprint = report.log_key
    digest = hashlib.sha256(packets[order]).hexdigest()
    for exact in (
        *content["statement"],
        *report.notes,
        origin,
        root,
        fingerprint,
        digest,
    ):
        assert tight(exact) in said, exact
    first = texts_of(pages_of(packets[order], CATALOGUE))[0]
    assert digest in first  # whole, to be copied
    assert said.count(digest) >= 4  # on its own, in the certification, on each page
    assert said.index(tight(content["statement"][0])) < said.index("Thepacketverified")
    assert f"Checkpoint:size:{size}entr" in said
    for line in content["entries"]:
        payload = line["payload"]
        assert f"Entry{payload['seq']}:" in said
        # the invented shop's own time: one hour before UTC
        recorded = datetime.fromisoformat(payload["recorded_at"])
        recorded = recorded.astimezone(timezone(timedelta(hours=1)))
        assert recorded.strftime("%Y-%m-%dT%H:%M:%S") in said
        assert payload["key"] in said
    assert "+00:00" not in said


def test_bench_tests_self_tests_and_cautions_stand_with_their_limits(pdf, odd):
    """Values as the demo's record has them (invented), and as a person typed them."""
    said = words(pdf)
    for text in (
        "end pressure 6.52 +/- 0.75 inHg (vacuum)",
        "at least 15.0 inHg",
        "vehicle maker's service information (invented for this demo)",
        "start pressure 18.0 inHg",
        "7E8 31/81: EGR bank 1 2.14 3.50 none kPa failed",
        "7E8 31/81: EGR bank 1 6.12 3.50 none kPa passed",
        "Caution acknowledged: hot surfaces (hot-exhaust)",
        "Computed from the readings (seal hold, pressure or vacuum)",
        "By: the log's own key",
        "Precondition: surface temperature: 34 degC",
        "VIN: 0ZZTB1A18CA000123",
        "Stored fault codes: P0401 (7E8)",
    ):
        assert tight(text) in said, text
    said = words(odd)
    for text in (
        "Measured: primary: 0.912 \u03a9",
        "it should be at least 0.35 \u03a9 and at most 0.65 \u03a9",
        "Source of the limit: table 7 of an invented book",
        "Typed by hand, not read from the vehicle",
        "misfire cylinder 1 3 counts 0 counts 7 counts passed",
        "Seen on: screen of a tool (invented)",
    ):
        assert tight(text) in said, text


def test_a_correction_names_the_entry_and_stands_at_it(odd, packets):
    entries = [e["payload"] for e in json.loads(packets["RO-ODD"])["entries"]]
    own = [p["seq"] for p in entries if p["repair_order"]]
    said = words(odd)
    assert f"CorrectionofEntry{own[1]}".lower() in said.lower()
    assert f"Correctedlater,byentry{own[4]}." in said
    assert "Tool:therighttool" in said


def test_hard_texts_are_printed_or_named_and_never_vanish(odd):
    said = words(odd)
    for text in ("Z\u00fcndspule1.2k\u03a9\u00b10.1\u2264\u20ac", "\u0440\u0435\u043c"):
        assert text in said
    for code in LACKING:
        assert code in said
    assert "#strong[notmarkup]$x$@ref<label>\\//" in said
    assert LONG in said
    assert within(odd)
    for letter in "\u05d0\u05d1\u05d2":
        assert letter in said


def test_a_withheld_name_is_nowhere_and_a_disclosed_one_is_shown(odd, packets):
    assert b"Customer One" not in packets["RO-ODD"]
    assert "CustomerOne" not in words(odd)
    assert "Customer:name:CustomerOne(invented)" in words(
        pages_of(packets["named"], CATALOGUE)
    )
    said = "customer.contact, customer.name, vehicle.plate"
    said += " (kept back, or never written down)"
    assert tight(f"Withheld in the opening entry: {said}") in words(odd)


def test_the_certification_is_unsigned_and_says_so(pdf, packet):
    """Wording checked against rule 902(13), (14) and 28 U.S.C. 1746, as reprinted."""
    said = words(pdf)
    for text in (
        "Not certified. Nothing on these pages is certified until a person",
        "no legal advice",
        "A lawyer decides",
        "rule 902(14)",
        "rule 902(13)",
        "28 U.S.C. 1746",
        "Each numbered statement must be true of the own knowledge of the person",
        "produces an accurate result",
        "I declare under penalty of perjury that the foregoing is true and correct",
        "Qualifications and experience",
        "Signature:",
        f"Length: {len(packet)} bytes",
        "it proves only that it is consistent",
        "Entries written to this repair order after the verdict are not seen",
        "Every time here is a claim",
    ):
        assert tight(text) in said, text


def test_the_file_is_marked_as_pdf_a_3a_and_pdf_ua_1(pdf, packet):
    """ISO 19005-3 (A: 6.6.4, 6.7.2, 6.8) and ISO 14289-1 (5, 7.1), read from memory.

    No validator of the whole standards is at hand here; the typesetter refuses by
    itself what it knows to break them. These are the marks that a reader looks for.
    """
    reader = pypdf.PdfReader(io.BytesIO(pdf))
    root = reader.trailer["/Root"]
    metadata = root["/Metadata"].get_data().decode()
    for mark in ("pdfaid:part>3", "pdfaid:conformance>A", "pdfuaid:part>1"):
        assert mark in metadata, mark
    assert not reader.is_encrypted
    assert root["/MarkInfo"]["/Marked"]
    assert root["/Lang"] == "en"
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]
    assert root["/OutputIntents"][0]["/S"] == "/GTS_PDFA1"
    assert reader.metadata.title == "Exhibit: repair order RO-1001"
    (file,) = root["/AF"]
    assert file["/AFRelationship"] == "/Source"
    embedded = file["/EF"]["/F"]
    assert embedded["/Subtype"] == "/application/json"
    assert embedded.get_data() == packet
    kinds = {str(o.get("/S")) for o in structure(root["/StructTreeRoot"])}
    assert {"/Document", "/H1", "/H2", "/Table", "/TH", "/TD", "/L"} <= kinds
    embedded_fonts = 0
    for page in reader.pages:
        for font in page["/Resources"].get("/Font", {}).values():
            assert "/ToUnicode" in font.get_object()
            (inner,) = font["/DescendantFonts"]
            assert {"/FontFile2", "/FontFile3"} & inner["/FontDescriptor"].keys()
            embedded_fonts += 1
    assert embedded_fonts > len(reader.pages)


def structure(node):
    """Yield every element of a structure tree."""
    node = node.get_object()
    if isinstance(node, list):
        for item in node:
            yield from structure(item)
    elif isinstance(node, dict):
        yield node
        if "/K" in node:
            yield from structure(node["/K"])


def test_the_only_date_is_the_verdicts(pdf, packet):
    verdict = json.loads(packet)["entries"][-1]["payload"]
    moment = datetime.fromisoformat(verdict["recorded_at"]).astimezone(UTC)
    dates = re.findall(rb"\(D:(\d{14})Z?", pdf)
    dates += [d.encode() for d in re.findall(r"D:(\d{14})", str(attached_dates(pdf)))]
    assert dates
    assert set(dates) == {moment.strftime("%Y%m%d%H%M%S").encode()}
    assert exhibit_of(packet, CATALOGUE, version="0").dated == datetime.fromisoformat(
        verdict["recorded_at"]
    )


def attached_dates(pdf):
    root = pypdf.PdfReader(io.BytesIO(pdf)).trailer["/Root"]
    return root["/AF"][0]["/EF"]["/F"].get("/Params", {})


def test_what_became_of_each_picture_is_told(ledger):
    elsewhere = attachment(sha256="0" * 64, media_type="text/csv", size=9)
    events = (kept(), kept(OTHER), elsewhere)
    close(ledger, CATALOGUE, record_of("RO-1", *events, pictures=[PICTURE, OTHER]))
    ledger.erase("RO-1", attachments=[DIGEST], reason="r", passphrase=PASSPHRASE)
    packet = ledger.packet("RO-1", with_attachments=True).encode()
    made = exhibit_pdf(packet, CATALOGUE)
    said = words(made)
    for digest, state in (
        (DIGEST, "erased, as entry"),
        (OTHER_DIGEST, "its bytes are in the packet, and have this SHA-256"),
        ("0" * 64, "its bytes are not in the packet"),
    ):
        assert tight(state) in said
        assert digest in said
    assert base64.b64encode(OTHER).decode()[:40] not in said
    assert attached_packet(made) == packet
