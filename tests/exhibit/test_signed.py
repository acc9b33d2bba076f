"""An exhibit that is signed (PAdES), and what was added to it since."""

import io
import re
import sys

import pytest
from exhibits import CATALOGUE, flipped, hide, outcome
from sampling import sampled

from auditkit.errors import InputError, KeyProblem, VerificationError
from auditkit.exhibit.check_pdf import check_exhibit
from auditkit.reader.file_kind import GivenFile, packet_in

pypdf = pytest.importorskip("pypdf")
pytest.importorskip("typst")


@pytest.fixture(scope="module")
def signed(pdf, keys):
    pytest.importorskip("pyhanko")
    from auditkit.exhibit.pades import sign_pdf

    return sign_pdf(pdf, keys[0], b"word")


def test_a_signed_exhibit_begins_with_the_unsigned_one_and_holds(pdf, signed, packet):
    assert signed.startswith(pdf)
    assert len(signed) > len(pdf)
    checked = check_exhibit(signed, CATALOGUE)
    assert checked.packet == packet
    (line,) = checked.signatures
    assert "Signer (invented)" in line
    assert "not judged" in line
    metadata = pypdf.PdfReader(io.BytesIO(signed)).trailer["/Root"]["/Metadata"]
    assert 'pdfaid:part="3"' in metadata.get_data().decode()


def test_a_reader_without_libraries_takes_the_packet_out(pdf, signed, packet):
    for made in (pdf, signed):
        found = packet_in(GivenFile("exhibit.pdf", made))
        assert found.packet.data == packet
        assert "were not held against it" in found.note


def test_pyhanko_trusts_the_signature_under_the_tests_own_root(signed, keys):
    """pyHanko's validation (ETSI EN 319 102-1): intact, valid, trusted, whole file."""
    from asn1crypto import x509
    from cryptography.hazmat.primitives.serialization import Encoding
    from pyhanko.pdf_utils.reader import PdfFileReader
    from pyhanko.sign.validation import validate_pdf_signature
    from pyhanko_certvalidator import ValidationContext

    (found,) = PdfFileReader(io.BytesIO(signed)).embedded_signatures
    root = x509.Certificate.load(keys[1].public_bytes(Encoding.DER))
    context = ValidationContext(trust_roots=[root], allow_fetching=False)
    status = validate_pdf_signature(found, context)
    assert status.bottom_line
    assert status.coverage.name == "ENTIRE_FILE"
    assert found.sig_object["/SubFilter"] == "/ETSI.CAdES.detached"


def test_flipped_bytes_of_a_signed_exhibit_are_caught(pdf, signed):
    """Every byte but the signature value's own is under the signature (ISO 32000-2,
    12.8.1); in that value, padding and the authority's certificate are not, and a
    change there changes nothing that is said.
    """
    hole = re.search(rb"/Contents <([0-9a-fA-F]+)>", signed[len(pdf) :])
    start, end = (len(pdf) + place for place in hole.span(1))
    places = [*range(0, len(pdf), len(pdf) // 8), *range(len(pdf), start, 499)]
    places += range(end, len(signed), 61)
    places = sampled(places, len(places), "bytes of a signed exhibit")
    assert [p for p in places if outcome(flipped(signed, p)) is not None] == []
    held = check_exhibit(signed, CATALOGUE).signatures
    inside = {outcome(flipped(signed, p)) for p in range(start, end, 311)}
    assert None in inside
    assert inside <= {None, held}


def appended(pdf, change):
    """Return a PDF with an incremental update that ``change`` makes."""
    from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter

    writer = IncrementalPdfFileWriter(io.BytesIO(pdf))
    change(writer)
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()


def other_text(writer):
    from pyhanko.pdf_utils import generic

    page = writer.root["/Pages"]
    while page["/Type"] != "/Page":
        page = page["/Kids"][0]
    text = generic.StreamObject(stream_data=b"BT ET")
    page["/Contents"] = writer.add_object(text)
    writer.update_container(page)


def start_action(writer):
    from pyhanko.pdf_utils import generic

    writer.root["/OpenAction"] = generic.DictionaryObject(
        {generic.pdf_name("/S"): generic.pdf_name("/Launch")}
    )
    writer.update_root()


def visible_note(writer):
    from pyhanko.pdf_utils import generic

    page = writer.root["/Pages"]
    while page["/Type"] != "/Page":
        page = page["/Kids"][0]
    name = generic.pdf_name
    note = generic.DictionaryObject(
        {
            name("/Type"): name("/Annot"),
            name("/Subtype"): name("/FreeText"),
            name("/Rect"): generic.ArrayObject(
                generic.NumberObject(n) for n in (50, 700, 400, 800)
            ),
            name("/Contents"): generic.TextStringObject("PROVEN"),
        }
    )
    page["/Annots"] = generic.ArrayObject([writer.add_object(note)])
    writer.update_container(page)


@pytest.mark.parametrize("change", [other_text, start_action, visible_note])
def test_an_update_that_changes_pages_and_is_then_signed_is_refused(pdf, keys, change):
    """The first bytes are the true exhibit; the signature holds; the pages lie."""
    pytest.importorskip("pyhanko")
    from auditkit.exhibit.pades import sign_pdf

    forged = sign_pdf(appended(pdf, change), keys[0], b"word")
    assert forged.startswith(pdf)
    with pytest.raises(VerificationError, match="more than a signature"):
        check_exhibit(forged, CATALOGUE)


def by_hand(pdf, objects, order):
    """Return the PDF with an update whose table lists ``objects`` in this order.

    ``objects`` are (number, body); ISO 32000-1 section 7.5.6 is the form.
    """
    import re

    from pyhanko.pdf_utils.reader import PdfFileReader

    reader = PdfFileReader(io.BytesIO(pdf))
    trailer, out, places = reader.trailer, bytearray(pdf), []
    for number, body in objects:
        places.append(len(out))
        out += b"%d 0 obj\n%b\nendobj\n" % (number, body)
    table = len(out)
    out += b"xref\n"
    for at in order:
        out += b"%d 1\n%010d 00000 n \n" % (objects[at][0], places[at])
    ident = re.search(rb"/ID ?\[.*?\]", pdf[-2000:])[0]
    before = int(re.findall(rb"startxref\s+(\d+)", pdf)[-1])
    out += b"trailer\n<< /Size %d /Root %d 0 R /Info %d 0 R /Prev %d %b >>\n" % (
        int(trailer["/Size"]) + 5,
        trailer.raw_get("/Root").idnum,
        trailer.raw_get("/Info").idnum,
        before,
        ident,
    )
    out += b"startxref\n%d\n%%%%EOF\n" % table
    return bytes(out)


def body_of(value):
    made = io.BytesIO()
    value.write_to_stream(made, None)
    return made.getvalue()


@pytest.mark.parametrize("order", [(0, 1, 2), (1, 0, 2)])
def test_an_update_that_lists_a_page_twice_is_refused(pdf, keys, order):
    """Of two spellings one reader takes the first, another the last."""
    pytest.importorskip("pyhanko")
    from pyhanko.pdf_utils import generic
    from pyhanko.pdf_utils.reader import PdfFileReader

    from auditkit.exhibit.pades import sign_pdf

    reader = PdfFileReader(io.BytesIO(pdf))
    page = reader.root["/Pages"]
    while page["/Type"] != "/Page":
        page = page["/Kids"][0]
    size = int(reader.trailer["/Size"])
    forged = generic.DictionaryObject({key: page.raw_get(key) for key in page})
    forged[generic.pdf_name("/Contents")] = generic.IndirectObject(size + 1, 0, None)
    number = page.container_ref.idnum
    black = b"0 0 0 rg 0 0 700 900 re f"
    objects = [
        (number, body_of(page)),
        (number, body_of(forged)),
        (size + 1, b"<< /Length %d >>\nstream\n%b\nendstream" % (len(black), black)),
    ]
    made = sign_pdf(by_hand(pdf, objects, order), keys[0], b"word")
    with pytest.raises(VerificationError, match="lists an object twice"):
        check_exhibit(made, CATALOGUE)


def test_an_update_of_the_title_in_its_metadata_is_refused(pdf, keys):
    """A reader shows it in the window's title: ISO 32000-1 section 12.2."""
    pytest.importorskip("pyhanko")
    from pyhanko.pdf_utils.reader import PdfFileReader

    from auditkit.exhibit.pades import sign_pdf

    root = PdfFileReader(io.BytesIO(pdf)).root
    true = root["/Metadata"].data
    false = true.replace(b"Exhibit: repair order", b"PROVEN by the court:")
    assert false != true
    head = b"<< /Type /Metadata /Subtype /XML /Length %d >>" % len(false)
    body = b"%b\nstream\n%b\nendstream" % (head, false)
    objects = [(root.raw_get("/Metadata").idnum, body)]
    made = sign_pdf(by_hand(pdf, objects, (0,)), keys[0], b"word")
    with pytest.raises(VerificationError, match="changes what it says of itself"):
        check_exhibit(made, CATALOGUE)


def test_an_update_after_the_signature_is_refused(signed):
    with pytest.raises(VerificationError):
        check_exhibit(appended(signed, lambda writer: writer.update_root()), CATALOGUE)


@pytest.mark.parametrize(
    ("data", "word"), [(None, b"wrong"), (b"no key", b"word"), (b"", b"word")]
)
def test_a_key_that_cannot_be_opened_is_one_clear_error(pdf, keys, data, word):
    pytest.importorskip("pyhanko")
    from auditkit.exhibit.pades import sign_pdf

    with pytest.raises(KeyProblem) as caught:
        sign_pdf(pdf, keys[0] if data is None else data, word, where="k.p12")
    assert caught.value.where == "k.p12"


def test_signing_without_its_library_names_the_extra(pdf, keys, signed, monkeypatch):
    from auditkit.exhibit.pades import sign_pdf

    hide(monkeypatch, "pyhanko")
    monkeypatch.delitem(sys.modules, "auditkit.exhibit.appended", raising=False)
    for attempt in (
        lambda: sign_pdf(pdf, keys[0], b"word"),
        lambda: check_exhibit(signed, CATALOGUE),
    ):
        with pytest.raises(InputError, match="not installed") as caught:
            attempt()
        assert ".[sign]" in caught.value.what_to_do
    assert check_exhibit(pdf, CATALOGUE).signatures == ()
