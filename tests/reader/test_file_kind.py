"""A file is told by what it is; a packet is taken out of what carries it."""

import io
import json
import zlib

import pypdf
import pytest
import web_corpus
from hypothesis import given
from hypothesis import strategies as st

from auditkit.errors import InputError
from auditkit.proof.check_report import differing_places
from auditkit.proof.packet import parse_packet
from auditkit.proof.receipt import as_written, format_receipt, parse_receipt
from auditkit.reader.file_kind import LOG_HEAD, GivenFile, packet_in
from auditkit.reader.hold_receipt import receipt_of
from auditkit.reader.pdf_attachment import attachments
from auditkit.reader.read_packet import MENDED, check_file, expectations

PACKET = web_corpus.plain().packet()
RECEIPT = format_receipt(receipt_of(PACKET))
CHECKPOINT = json.loads(PACKET)["checkpoint"]


def page_of(text):
    inner = json.dumps(text).replace("<", "\\u003c")
    head = "<!doctype html><html><body><h1>Repair</h1>"
    return f'{head}<script type="application/json" id="packet">{inner}</script>'


def pdf_of(*files):
    """Return a PDF with attachments, written by pypdf."""
    writer = pypdf.PdfWriter()
    writer.add_blank_page(72, 72)
    for number, data in enumerate(files):
        writer.add_attachment(f"{number}.json", data)
    buffer = io.BytesIO()
    writer.write(buffer)
    return buffer.getvalue()


def test_a_packet_is_a_packet():
    found = packet_in(GivenFile("x", PACKET.encode()))
    assert found.packet.data == PACKET.encode()
    assert found.note == ""


@pytest.mark.parametrize(
    "page",
    [
        page_of(PACKET),
        "\n " + page_of(PACKET).replace("<!doctype", "<!DOCTYPE"),
        page_of(PACKET)
        .replace(' id="packet"', " id=packet")
        .replace("script", "SCRIPT"),
    ],
)
def test_a_packet_is_taken_out_of_a_page(page):
    found = packet_in(GivenFile("x", page.encode()))
    assert found.packet == GivenFile("x", PACKET.encode())
    assert "beside it was not checked" in found.note
    report = check_file(GivenFile("x", page.encode()), expectations())
    assert report.verified
    assert found.note in report.notes


def test_a_packet_is_taken_out_of_a_pdf():
    data = pdf_of(PACKET.encode())
    found = packet_in(GivenFile("x", data))
    assert found.packet.data == PACKET.encode()
    assert "auditkit exhibit --check" in found.note
    same = pdf_of(PACKET.encode(), b"something else", PACKET.encode())
    assert packet_in(GivenFile("x", same)).packet.data == PACKET.encode()


OTHER = web_corpus.plain().work().verdict().packet()
TOLD = {
    b"": "this file is empty; ask for it again",
    b" \n": "this file is empty",
    LOG_HEAD + bytes(50): "this is a log, not a packet; check it with auditkit",
    b"\x89PNG\r\n\x1a\n123": "this is a picture, not a packet",
    RECEIPT.encode(): "this is a receipt, not a packet",
    RECEIPT.replace("\n", " ").encode(): "this is a receipt, not a packet",
    CHECKPOINT.encode(): "this is a checkpoint, not a packet",
    b'{"format": "auditkit/repair-record@1"}': "a repair record, which nobody signed",
    b"<html><p>x</html>": "this is a page that carries no packet",
    page_of("x").encode(): "this is a page whose packet is damaged",
    page_of(PACKET)[:-30].encode(): "this is a page that carries no packet",
    (page_of(PACKET) * 2).encode(): "this is a page that carries more than one packet",
    pdf_of(): "to this PDF; ask for the packet itself; a receipt is given as its text",
    pdf_of(b"text"): "no packet is attached to this PDF",
    pdf_of(PACKET.encode(), OTHER.encode()): "more than one packet is attached",
    b"text": "this is no packet, and nothing that carries one",
    b"\xff\xfe": "this is not text: byte 0 is not UTF-8",
    b"{}": "this is no packet",
}


def test_a_packet_that_was_written_anew_is_told_as_one():
    packed = json.dumps(json.loads(PACKET), separators=(",", ":"))
    assert packet_in(GivenFile("a file", packed.encode())).note == ""
    with pytest.raises(InputError, match="not byte for byte what a packet"):
        parse_packet(packed)


@pytest.mark.parametrize("data", TOLD)
def test_anything_else_is_told_by_what_it_is(data):
    with pytest.raises(InputError) as caught:
        packet_in(GivenFile("a file", data))
    assert str(caught.value).startswith("a file: ")
    assert TOLD[data] in str(caught.value)
    assert caught.value.what_to_do


@given(st.binary(max_size=300))
def test_any_bytes_are_a_packet_or_refused(data):
    for whole in (data, b"%PDF-1.7\n" + data, b"<html>" + data):
        with pytest.raises(InputError):
            packet_in(GivenFile("x", whole))


def stream(dictionary, data):
    return (
        b"1 0 obj\n<<" + dictionary + b">>\nstream\n" + data + b"\nendstream\nendobj\n"
    )


def test_attachments_are_bounded():
    packed = zlib.compress(bytes(5_000_000))
    flate = b"/Type/EmbeddedFile/Filter/FlateDecode/Length %d" % len(packed)
    assert list(attachments(stream(flate, packed), 4_999_999)) == []
    assert list(attachments(stream(flate, packed), 5_000_000)) == [bytes(5_000_000)]
    assert list(attachments(stream(flate, packed[:-9]), 5_000_000)) == []
    plain = stream(b"/Type /EmbeddedFile /Length 4", b"abcd")
    assert list(attachments(plain, 4)) == [b"abcd"]
    assert list(attachments(plain, 3)) == []
    later = stream(b"/Type /EmbeddedFile /Length 9 0 R", b"abcd")
    assert list(attachments(later, 5)) == [b"abcd\n"]
    assert len(list(attachments(plain * 99, 4))) == 16
    other = stream(b"/Type/EmbeddedFile/Filter/LZWDecode/Length 4", b"abcd")
    assert list(attachments(other, 9)) == []
    parted = b"1 0 obj<</Type/EmbeddedFile>>endobj " + stream(b"/Length 1", b"x")
    assert list(attachments(parted, 9)) == []


def test_the_same_attachments_as_pypdf_reads():
    """Against a library that reads PDF, over files that it wrote."""
    for files in ([b"one"], [b"one", b"two" * 999], [PACKET.encode(), b""]):
        data = pdf_of(*files)
        reader = pypdf.PdfReader(io.BytesIO(data))
        wanted = [bytes(one.content) for one in reader.attachment_list]
        found = sorted(a.rstrip(b"\n") for a in attachments(data, 1 << 20))
        assert found == sorted(a.rstrip(b"\n") for a in wanted)


@pytest.mark.parametrize(
    "copied",
    [
        RECEIPT,
        RECEIPT.replace("\n", " "),
        RECEIPT.replace("\n", ""),
        RECEIPT.replace("\n", "\r\n"),
        RECEIPT.replace("\n", "\n\n"),
        f"\ufeff\n{RECEIPT} ",
        RECEIPT[:-1],
    ],
)
def test_lost_line_ends_of_a_receipt_are_put_back(copied):
    assert as_written(copied) == RECEIPT
    wanted = expectations(receipt=GivenFile("r", copied.encode()))
    report = check_file(GivenFile("p", PACKET.encode()), wanted)
    assert report.verified
    assert (MENDED in report.notes) == (copied != RECEIPT)


@pytest.mark.parametrize(
    "text", ["", "x", "auditkit/receipt@1", "auditkit/receipt@1 log_key: x", CHECKPOINT]
)
def test_what_is_no_receipt_is_not_mended(text):
    assert as_written(text) == text


def test_every_sound_receipt_stays_as_it_is():
    sound = 0
    for text in web_corpus.receipt_edits():
        try:
            parse_receipt(text)
        except InputError:
            continue
        sound += 1
        assert as_written(text) == text
    assert sound > 3


def test_where_two_fingerprints_differ():
    assert differing_places("abc", "abc") == ()
    assert differing_places("abcd", "axcy") == (1, 3)
    assert differing_places("ab", "abcd") == (2, 3)
    found = check_file(GivenFile("p", PACKET.encode()), expectations()).log_key
    typed = f"{found[:6]}{'A' if found[6] != 'A' else 'B'}{found[7:]}"
    report = check_file(GivenFile("p", PACKET.encode()), expectations(expect_key=typed))
    lines = report.lines("p")
    place = lines.index(f"    expected  {typed}")
    assert lines[place + 1] == f"    found     {found}"
    assert lines[place + 2] == "    " + " " * 16 + "^"
