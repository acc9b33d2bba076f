"""A receipt as one printed page (PDF, A4): words, fingerprint, and a code to scan.

The same receipt, time and library versions give the same bytes. Everything is black on
white, so that it prints in grey. The fonts are those every PDF reader has; they know
the characters of Windows-1252, and any other is printed as ``<U+XXXX>``.
"""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from auditkit.errors import InputError
from auditkit.order.statement import DEFERS, JUDGED_BY
from auditkit.proof.receipt import Receipt, format_receipt

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    import segno
    from fpdf import FPDF
    from fpdf.recorder import FPDFRecorder

_LEFT, _TOP, _WIDTH = 18.0, 16.0, 174.0  # mm on A4, 210 by 297
_BOTTOM_BLOCK = 198.0  # mm from the top: where the code and the checkpoint begin
_FOOT = 279.0  # mm from the top: the line above the foot
_QR = 76.0  # mm with the quiet zone
_QUIET = 4  # modules of white around a code (ISO/IEC 18004)
_SIZES = (10.0, 9.0, 8.0, 7.0)  # points, the largest at which the statement fits
_LINE = 0.44  # mm of line height a point of type
_VERDICT, _FOUND, _BENCH, _DONE, _AFTER, _OPEN, _ELSE = (
    "The verdict",
    "What was found",
    "Values measured on the bench",
    "What was done",
    "Values after the repair, by the vehicle's own tests",
    "What is missing or to be minded",
    "Also stated",
)
_USE = (
    "The code on the left carries this receipt as text. Keep it. A packet that the "
    "shop gives out for this repair order must agree with it: the same log, key and "
    "statement, and proof that the log only grew since. This page is not signed "
    "and proves nothing without a packet. To check: save the code's text as a file, "
    "then `auditkit verify PACKET --receipt FILE`, or open the checker page."
)
_NONE_STATED = {
    _FOUND: "No fault code is stated.",
    _BENCH: "No bench test is stated.",
    _DONE: "No repair is stated.",
    _AFTER: "No self-test after the repair is stated.",
}


def receipt_code(receipt: Receipt) -> segno.QRCode:
    """Return the QR code that carries the receipt's text, as strong as it can be."""
    try:
        import segno
    except ImportError as error:
        raise _missing() from error
    text = format_receipt(receipt)
    for level in ("m", "l"):
        try:
            return segno.make_qr(
                text,
                error=level,
                mode="byte",
                encoding="utf-8",
                eci=not text.isascii(),
            )
        except segno.DataOverflowError:
            continue
    message = f"the receipt's text, {len(text.encode())} bytes, fits no QR code"
    raise InputError(message, mend="hand over its text instead (--text)")


def receipt_pdf(
    receipt: Receipt, made_at: str, about: Mapping[str, str] | None = None
) -> bytes:
    """Return the page of a receipt that was made at ``made_at`` (RFC 3339).

    ``about`` is what stands below the title: shop and vehicle, as ``about_of`` has it.

    Raises InputError where a library is missing, the time is none, or the statement is
    longer than a page and a QR code hold.
    """
    try:
        from fpdf import FPDF
    except ImportError as error:
        raise _missing() from error
    code = receipt_code(receipt)
    pdf = FPDF(format="A4")
    pdf.set_creation_date(_moment(made_at))
    pdf.set_title(f"Receipt for repair order {receipt.repair_order}")
    pdf.set_lang("en")
    pdf.set_margins(_LEFT, _TOP)
    pdf.set_auto_page_break(auto=False)
    pdf.c_margin = 0
    pdf.core_fonts_encoding = "cp1252"
    pdf.add_page()
    _text(pdf, f"Receipt for repair order {receipt.repair_order}", 17, bold=True)
    for name, said in (about or {}).items():
        _text(pdf, f"{name}: {said}", 10)
    _text(pdf, f"Made at {made_at} for the customer to keep.", 9)
    _statement(pdf, receipt)
    _code(pdf, code)
    _checkpoint(pdf, receipt)
    _foot(pdf)
    return bytes(pdf.output())


def _missing() -> InputError:
    message = "a receipt as PDF needs fpdf2 and segno, which are not installed"
    return InputError(message, mend="in the project's folder: pip install '.[pdf]'")


def _moment(made_at: str) -> datetime:
    try:
        moment = datetime.fromisoformat(made_at)
    except ValueError:
        moment = None
    if moment is None or moment.tzinfo is None:
        message = f"{made_at!r} is no time with its offset"
        raise InputError(message, mend="write it as 2026-03-02T08:00:00+01:00")
    return moment


def _shown(text: str) -> str:
    """Return text in the characters of the page's fonts."""
    return "".join(
        c if c.encode("cp1252", "ignore") else f"<U+{ord(c):04X}>" for c in text
    )


def _text(  # noqa: PLR0913  a text, its type and its place
    pdf: FPDF | FPDFRecorder,
    text: str,
    size: float,
    *,
    bold: bool = False,
    mono: bool = False,
    x: float = _LEFT,
    width: float = _WIDTH,
) -> None:
    pdf.set_font("Courier" if mono else "Helvetica", "B" if bold else "", size)
    pdf.set_x(x)
    pdf.multi_cell(
        width,
        size * _LINE,
        _shown(text),
        align="L",
        new_x="LMARGIN",
        new_y="NEXT",
    )


def _section(line: str) -> str:
    """Return the heading that a statement's line belongs under."""
    if line.startswith(JUDGED_BY):
        return _VERDICT
    if line.startswith("Fault codes:"):
        return _FOUND
    if line.startswith("Bench test of "):
        return _BENCH
    if line.startswith("After the repair "):
        return _AFTER
    if line.startswith(("blocking: ", "advisory: ", "  to mend: ")):
        return _OPEN
    return _DONE if " was " in line else _ELSE


def _sections(receipt: Receipt) -> Iterator[tuple[str, list[str]]]:
    """Yield headings and their lines, every line of the statement under one of them."""
    by: dict[str, list[str]] = {
        name: [] for name in (_VERDICT, _FOUND, _BENCH, _DONE, _AFTER, _OPEN, _ELSE)
    }
    for line in receipt.statement[1:]:
        if line != DEFERS:
            by[_section(line)].append(line)
    yield _VERDICT, [receipt.statement[0], *by.pop(_VERDICT)]
    for name, lines in by.items():
        if lines or name in _NONE_STATED:
            yield name, lines or [_NONE_STATED[name]]


def _statement(pdf: FPDF, receipt: Receipt) -> None:
    """Print the statement in the largest type in which all of it fits."""
    top = pdf.get_y()
    for size in _SIZES:
        with pdf.offset_rendering() as dry:
            dry.set_y(top)
            _print_sections(dry, receipt, size)
            end = dry.get_y()
        if end <= _BOTTOM_BLOCK:
            pdf.set_y(top)
            _print_sections(pdf, receipt, size)
            return
    message = "the statement is longer than one page holds"
    raise InputError(message, mend="hand over the receipt's text instead (--text)")


def _print_sections(pdf: FPDF | FPDFRecorder, receipt: Receipt, size: float) -> None:
    for name, lines in _sections(receipt):
        verdict = name == _VERDICT
        pdf.set_y(pdf.get_y() + size * 0.3)
        _text(pdf, name, size, bold=True)
        for line in lines:
            indent = 6.0 if line.startswith("  ") else 3.0
            _text(
                pdf,
                line.strip(),
                size + 2 if verdict else size,
                bold=verdict,
                x=_LEFT + indent,
                width=_WIDTH - indent,
            )


def _code(pdf: FPDF, code: segno.QRCode) -> None:
    """Draw the code as filled runs; each laps over the next by a hair, without gaps."""
    matrix = code.matrix
    module = _QR / (len(matrix) + 2 * _QUIET)
    left, top = _LEFT - _QUIET * module, _BOTTOM_BLOCK - _QUIET * module
    pdf.set_fill_color(0)
    for row, cells in enumerate(matrix):
        start = 0
        while start < len(cells):
            end = start
            while end < len(cells) and cells[end]:
                end += 1
            if end > start:
                pdf.rect(
                    left + (start + _QUIET) * module,
                    top + (row + _QUIET) * module,
                    (end - start) * module,
                    module + 0.01,
                    style="F",
                )
            start = end + 1


def _checkpoint(pdf: FPDF, receipt: Receipt) -> None:
    x = _LEFT + _QR
    width = _WIDTH - _QR
    pdf.set_y(_BOTTOM_BLOCK)
    for name, said, mono in (
        ("The shop's log", receipt.origin, True),
        ("Its checkpoint at the hand-over", f"size {receipt.size}", True),
        ("with the root", receipt.root, True),
        ("The log key's fingerprint", receipt.log_key, True),
        (
            "How to use this page",
            _USE,
            False,
        ),
    ):
        _text(pdf, name, 8, bold=True, x=x, width=width)
        _text(pdf, said, 8, mono=mono, x=x, width=width)
        pdf.set_y(pdf.get_y() + 1.5)
    if pdf.get_y() > _FOOT:
        message = "the log's name is longer than the page holds"
        raise InputError(message, mend="hand over the receipt's text instead (--text)")


def _foot(pdf: FPDF) -> None:
    pdf.set_draw_color(0)
    pdf.line(_LEFT, _FOOT, _LEFT + _WIDTH, _FOOT)
    pdf.set_y(_FOOT + 2)
    _text(pdf, DEFERS, 8)
