"""A receipt as one printed page (PDF, A4): words, fingerprint, and a code to scan.

PDF/A-2a (ISO 19005-2, level A: tagged, with Unicode) and PDF/UA-1 (ISO 14289-1). The
same receipt, time and versions give the same bytes.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from auditkit.errors import InputError
from auditkit.order.answer_text import TO_DO, is_open_line
from auditkit.order.questions import Question
from auditkit.order.statement import (
    DEFERS,
    JUDGED_BY,
    NO_RECORD_SHOWS,
    SHOWN_BY,
    WEIGHTS,
)
from auditkit.output.receipt_layout import LAYOUT
from auditkit.output.typeset import breakable, makers, missing, typeset
from auditkit.proof.receipt import Receipt, format_receipt

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

    import segno

    from auditkit.proof.check_report import JudgedHere

_INSTEAD = "hand over the receipt's text instead (--text)"
_QUIET = 4  # modules of white around a code (ISO/IEC 18004)
_DARK = re.compile(b"\x01+")
_LINE, _NARROW = 36.0, 22.0  # em of a line: of the statement, beside the code
_JUDGED, _VERDICT, _FOUND, _BENCH, _DONE, _AFTER, _RESTS, _OPEN, _ELSE, _NEVER = (
    "The verdict, judged again",
    "The verdict that the shop signed",
    "The faults, and their repairs",
    "Values measured on the bench",
    "What was done",
    "Values after the repair, by the vehicle's own tests",
    "What the verdict rests on",
    "What is missing or to be minded",
    "Also stated",
    "What no record shows",
)
_FAULT = re.compile(r"[PCBU][0-9A-F]{4}[^ ]* \(")
_BY_START = (
    ("Fault codes:", _FOUND),
    ("Repair of ", _FOUND),
    ("Bench test of ", _BENCH),
    ("After the repair ", _AFTER),
    (SHOWN_BY[Question.TEST_PASSED], _AFTER),
    ("Rests on ", _RESTS),
    ("Recorded late: ", _RESTS),
    (SHOWN_BY[Question.SAME_VEHICLE], _RESTS),
    *((start, _OPEN) for start in WEIGHTS.values()),
    (TO_DO, _OPEN),
    ("Tried before ", _DONE),
    ("Tested good and left in place: ", _DONE),
    ("Other work, not judged: ", _DONE),
)
"""How a statement's line begins -> the heading that it belongs under."""
_USE = {
    "name": "How to use this page",
    "what": "The code on the left carries this receipt as text. Keep it. A packet that "
    "the shop gives out for this repair order must agree with it: the same log, key "
    "and statement, and proof that the log only grew since. This page is not signed "
    "and proves nothing without a packet.",
    "how": "To check: save the code's text as a file, then",
    "command": "auditkit verify PACKET --receipt FILE",
    "else": ", or open packet and text in the checker page. It is one file for any "
    "browser, which 'auditkit checker --out check.html' writes: get it from somebody "
    "who has auditkit, and not from the shop alone.",
}
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
        raise missing(error) from error
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
    raise InputError(
        f"the receipt's text, {len(text.encode())} bytes, fits no QR code",
        what_to_do="hand over its text instead: --text FILE in place of --out",
    )


def receipt_pdf(
    receipt: Receipt,
    made_at: str,
    about: Mapping[str, str] | None = None,
    judged: JudgedHere | None = None,
) -> bytes:
    """Return the page of a receipt that was made at ``made_at`` (RFC 3339).

    ``about`` is what stands below the title, such as shop and vehicle. ``judged`` is
    what the evidence says when the page is made: where the signed verdict is another,
    it stands before that.

    Raises InputError where a library is missing, the time cannot be read, or the
    statement is longer than a page and a QR code hold.
    """
    code = receipt_code(receipt)
    return typeset(
        LAYOUT,
        lambda shown: _data(receipt, made_at, about or {}, code, judged, shown),
        standard="a-2a",
        dated=_moment(made_at),
        what_to_do=_INSTEAD,
    )


def _moment(made_at: str) -> datetime:
    try:
        moment = datetime.fromisoformat(made_at)
        if moment.tzinfo is not None:
            return moment.astimezone(UTC)
    except (ValueError, OverflowError):
        pass  # said below
    raise InputError(
        f"{made_at!r} is no time with its offset",
        what_to_do="write it as 2026-03-02T08:00:00+01:00",
    )


def _section(line: str) -> str:
    """Return the heading that a statement's line belongs under."""
    if line == NO_RECORD_SHOWS:
        return _NEVER
    if line.startswith(JUDGED_BY):
        return _VERDICT
    if is_open_line(line):
        return _OPEN
    for start, name in _BY_START:
        if line.startswith(start):
            return name
    if _FAULT.match(line):
        return _FOUND
    return _DONE if " was " in line else _ELSE


def _sections(
    receipt: Receipt, made_at: str, judged: JudgedHere | None
) -> Iterator[tuple[str, list[str]]]:
    """Yield headings and their lines, every line of the statement under one of them."""
    if judged is not None and judged.verdict != judged.signed:
        yield (
            _JUDGED,
            [
                f"Judged again on {made_at[:10]}: {judged.said}.",
                f"The shop signed: {judged.signed}. What it signed stands below.",
            ],
        )
    by: dict[str, list[str]] = {
        name: []
        for name in (
            *(_VERDICT, _FOUND, _OPEN, _BENCH, _DONE, _AFTER, _RESTS, _ELSE),
            _NEVER,
        )
    }
    for line in receipt.statement[1:]:
        if line != DEFERS:
            by[_section(line)].append(line)
    yield _VERDICT, [receipt.statement[0], *by.pop(_VERDICT)]
    for name, lines in by.items():
        if lines or name in _NONE_STATED:
            yield name, lines or [_NONE_STATED[name]]


def _data(  # noqa: PLR0913, PLR0917  one a part of the page
    receipt: Receipt,
    made_at: str,
    about: Mapping[str, str],
    code: segno.QRCode,
    judged: JudgedHere | None,
    shown: Callable[[str], str],
) -> dict[str, Any]:
    """Return what the layout prints, every text of it fit to be printed."""
    ours, setter = makers()
    sections = list(_sections(receipt, made_at, judged))
    first = sections[0][0]
    return {
        "title": shown(f"Receipt for repair order {receipt.repair_order}"),
        "keywords": [f"auditkit {ours}", f"typst {setter}"],
        "about": [
            (shown(name), breakable(shown(said), _LINE)) for name, said in about.items()
        ],
        "made": shown(f"Made at {made_at} for the customer to keep."),
        "sections": [
            {
                "name": name,
                "verdict": name == first,
                "lines": [
                    {
                        "text": breakable(shown(line.strip()), _LINE),
                        "deeper": line.startswith("  "),
                    }
                    for line in lines
                ],
            }
            for name, lines in sections
        ],
        "facts": [
            ("The shop's log", breakable(shown(receipt.origin), _NARROW)),
            ("Its checkpoint at the hand-over", f"size {receipt.size}"),
            ("with the root", receipt.root),
            ("The log key's fingerprint", receipt.log_key),
        ],
        "use": _USE,
        "defers": DEFERS,
        "code": _drawn(code),
        "modules": len(code.matrix) + 2 * _QUIET,
        "alt": "QR code: the text of this receipt",
    }


def _drawn(code: segno.QRCode) -> str:
    """Return the code in its white margin as SVG, one unit for each module.

    Each run of dark modules laps over the next row by a hair: no gap is drawn between.
    """
    side = len(code.matrix) + 2 * _QUIET
    runs = "".join(
        f"M{run.start() + _QUIET} {row + _QUIET}h{len(run[0])}v1.02h-{len(run[0])}z"
        for row, cells in enumerate(code.matrix)
        for run in _DARK.finditer(bytes(cells))
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {side} {side}">'
        f'<path d="{runs}"/></svg>'
    )
