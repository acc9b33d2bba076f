"""An exhibit is checked: whatever was altered in it is found."""

import hashlib
import io

import pytest
from exhibits import CATALOGUE, flipped, hide, lie, outcome
from sampling import sampled

from auditkit.errors import InputError, VerificationError
from auditkit.exhibit.check_pdf import attached_packet, check_exhibit
from auditkit.exhibit.pdf import exhibit_pdf
from auditkit.proof.check_packet import verify_packet

pypdf = pytest.importorskip("pypdf")
pytest.importorskip("typst")


def test_an_altered_packet_makes_no_exhibit_and_every_reason_is_told(packet):
    altered = lie(packet, b"delivery van", b"delivery vaN")
    with pytest.raises(VerificationError, match="does not verify: entry 2: ") as caught:
        exhibit_pdf(altered, CATALOGUE, where="p.json")
    assert caught.value.where == "p.json"
    assert len(verify_packet(altered).problems) > 1
    for problem in verify_packet(altered).problems:
        assert problem.problem in caught.value.message
    with pytest.raises(InputError):
        exhibit_pdf(b"{}", CATALOGUE)


def test_check_says_yes_to_what_the_packet_makes(pdf, packet, monkeypatch):
    monkeypatch.setattr("auditkit.exhibit.check_pdf.exhibit_pdf", exhibit_pdf)
    checked = check_exhibit(pdf, CATALOGUE)
    assert checked.packet == packet
    assert checked.sha256 == hashlib.sha256(packet).hexdigest()
    assert checked.signatures == ()


def edited(pdf, change):
    """Return a PDF as a common editor writes it anew after ``change``."""
    writer = pypdf.PdfWriter(clone_from=io.BytesIO(pdf))
    change(writer)
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()


def test_an_altered_attachment_is_found(pdf, packet):
    altered = lie(packet, b"delivery van", b"delivery vaN")

    def change(writer):
        file = writer.root_object["/AF"][0]["/EF"].raw_get("/F").get_object()
        file.set_data(altered)

    found = edited(pdf, change)
    assert attached_packet(found) == altered
    with pytest.raises(VerificationError, match="does not verify"):
        check_exhibit(found, CATALOGUE)


def test_another_packet_behind_the_same_pages_is_found(pdf, packets):
    def change(writer):
        file = writer.root_object["/AF"][0]["/EF"].raw_get("/F").get_object()
        file.set_data(packets["RO-1002"])

    with pytest.raises(VerificationError, match="byte for byte"):
        check_exhibit(edited(pdf, change), CATALOGUE)


def test_changed_pages_around_the_same_packet_are_found(pdf, packet):
    """The first page is replaced by the second: an editor's work, not a broken file."""

    def change(writer):
        writer.remove_page(0)

    found = edited(pdf, change)
    assert attached_packet(found) == packet
    with pytest.raises(VerificationError, match="it was altered, though its packet"):
        check_exhibit(found, CATALOGUE)


def test_another_version_is_named_where_the_bytes_differ(packet, pdf, monkeypatch):
    monkeypatch.setattr("auditkit.exhibit.pdf.makers", lambda: ("9.9", "8.8"))
    other = exhibit_pdf(packet, CATALOGUE)
    monkeypatch.undo()
    assert other != pdf
    with pytest.raises(VerificationError, match=r"says of itself auditkit 9\.9"):
        check_exhibit(other, CATALOGUE)


def test_something_appended_is_found(pdf):
    pytest.importorskip("pyhanko")
    with pytest.raises(VerificationError, match="no signature"):
        check_exhibit(pdf + b"\n% a line more\n", CATALOGUE)


def test_flipped_bytes_are_caught(pdf):
    places = sampled(range(0, len(pdf), len(pdf) // 60), 60, "bytes of an exhibit")
    assert [p for p in places if outcome(flipped(pdf, p)) is not None] == []


@pytest.mark.parametrize(
    "file", [b"", b"%PDF-1.7\n", b"no pdf", b"%PDF-1.7\n" + b"\xff" * 2000]
)
def test_what_is_no_pdf_is_one_clear_error(file):
    with pytest.raises(InputError) as caught:
        check_exhibit(file, CATALOGUE, where="f.pdf")
    assert caught.value.where == "f.pdf"
    assert caught.value.what_to_do


def test_a_pdf_without_a_packet_is_one_clear_error():
    out = io.BytesIO()
    writer = pypdf.PdfWriter()
    writer.add_blank_page(100, 100)
    writer.write(out)
    with pytest.raises(InputError, match="no packet is attached: printing"):
        check_exhibit(out.getvalue(), CATALOGUE)


@pytest.mark.parametrize("name", ["typst", "pypdf"])
def test_a_missing_library_names_the_extra(packet, pdf, monkeypatch, name):
    hide(monkeypatch, name)
    with pytest.raises(InputError, match=f"library {name}, which is not") as caught:
        exhibit_pdf(packet, CATALOGUE) if name == "typst" else check_exhibit(
            pdf, CATALOGUE
        )
    assert ".[pdf]" in caught.value.what_to_do
