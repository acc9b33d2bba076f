"""A receipt as a printed page (PDF, A4): the repair in words, and a code to scan.

PDF/A-2a (ISO 19005-2, level A: tagged, with Unicode) and PDF/UA-1 (ISO 14289-1). The
same receipt, time and versions give the same bytes.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from auditkit.errors import InputError
from auditkit.order.statement import DEFERS
from auditkit.output.receipt_code import receipt_code
from auditkit.output.receipt_drawings import (
    QUIET,
    code_svg,
    picture_of,
    picture_svg,
    value_svg,
)
from auditkit.output.receipt_layout import LAYOUT
from auditkit.output.receipt_words import how_to_check, sections, verdicts
from auditkit.output.typeset import breakable, makers, typeset
from auditkit.proof.receipt import Receipt, format_receipt
from auditkit.reader.receipt_story import picture_text, reading_text
from auditkit.text.display_text import first_large, plural
from auditkit.text.moment import clock_text

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

    import segno

    from auditkit.output.receipt_words import PaperSection
    from auditkit.proof.check_report import JudgedHere
    from auditkit.reader.receipt_story import PictureShown, ReceiptStory

_INSTEAD = "hand over the receipt's text instead (--text)"
_LINE, _COLUMN, _CELL, _NARROW = 36.0, 15.0, 6.0, 26.0
"""How wide a line is, in em: across, in a column, in a cell, beside the code."""
_MODULE_MM, _LEAST_MM = 0.7, 60
"""How wide a module of the code is printed, and the least width of the code with its
white. GS1 asks at least 0.396 mm of a code that phones scan off a package (General
Specifications; from memory); more leaves room for bad printers and light."""
_MOST_DRAWN = 6
_PARTS = ("Part", "Number", "What was done", "When (claimed)", "Old part")


@dataclass(frozen=True, slots=True)
class ReceiptPaper:
    """What is printed of a packet's receipt.

    ``judged`` is what the evidence says when the page is made: where the signed verdict
    is another, it stands before that. ``carried`` are pictures by their SHA-256 (hex).
    ``checker_url`` is where the shop says that a checker page lies, ``page_sha256`` the
    page's SHA-256 (hex) as this version writes it, ``packet_from`` whom to ask for the
    packet; each may be empty.
    """

    receipt: Receipt
    statement: tuple[str, ...]
    story: ReceiptStory
    judged: JudgedHere | None = None
    carried: Mapping[str, bytes] = field(default_factory=dict)
    checker_url: str = ""
    page_sha256: str = ""
    packet_from: str = ""


def receipt_pdf(paper: ReceiptPaper, made_at: str) -> bytes:
    """Return the page of a receipt that was made at ``made_at`` (RFC 3339).

    Raises InputError where a library is missing, the time cannot be read, or the code
    would be too fine for a phone.
    """
    code = receipt_code(paper.receipt, paper.checker_url)
    return typeset(
        LAYOUT,
        lambda shown: _data(paper, made_at, code, shown),
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


def _data(
    paper: ReceiptPaper, made_at: str, code: segno.QRCode, shown: Callable[[str], str]
) -> dict[str, Any]:
    """Return what the layout prints, every text of it fit to be printed."""
    ours, setter = makers()
    receipt, story = paper.receipt, paper.story

    def fit(text: str, room: float = _LINE) -> str:
        return breakable(shown(text), room)

    def laid(section: PaperSection, room: float = _LINE) -> dict[str, Any]:
        return {
            "name": section.name,
            "lines": [
                {"text": fit(line.strip(), room), "deeper": line.startswith("  ")}
                for line in section.lines
            ],
        }

    how = how_to_check(paper, ours)
    return {
        "title": shown(f"Receipt for repair order {receipt.repair_order}"),
        "order": shown(receipt.repair_order),
        "keywords": [f"auditkit {ours}", f"typst {setter}"],
        "about": [(shown(name), fit(said)) for name, said in story.about],
        "made": shown(f"Made at {clock_text(made_at)} for the customer to keep."),
        "first": [laid(section) for section in verdicts(paper, made_at)],
        "parts_name": "What was done",
        "parts_head": list(_PARTS),
        "no_parts": "No repair is recorded.",
        "parts": [
            [
                fit(cell, _CELL)
                for cell in (p.name, p.number, p.work, p.when, p.old_part or "-")
            ]
            for p in story.parts
        ],
        "values_name": "Values before and after, against their limits",
        "no_values": "No value before or after the repair is recorded.",
        "values": list(_values(story, fit)),
        "beside_values": _beside(story),
        "sections": [laid(section) for section in sections(paper)],
        "pictures_name": "Photographs",
        "pictures": list(_pictures(paper, fit)),
        "how": [
            {"name": s.name, "lines": [fit(line, _NARROW) for line in s.lines]}
            for s in how
        ],
        "text_name": "What the code holds",
        "text": [fit(line, _NARROW) for line in format_receipt(receipt).splitlines()],
        "defers": DEFERS,
        "code": code_svg(code),
        "wide": _wide(code),
        "modules": len(code.matrix) + 2 * QUIET,
        "size": _size(code),
        "alt": "QR code: the text of this receipt",
    }


def _wide(code: segno.QRCode) -> float:
    """Return how wide the code is printed with its white, in mm."""
    return max(_LEAST_MM, (len(code.matrix) + 2 * QUIET) * _MODULE_MM)


def _size(code: segno.QRCode) -> str:
    """Return in words how coarse the code is on paper."""
    side = len(code.matrix)
    module = _wide(code) / (side + 2 * QUIET)
    return (
        f"QR code, version {code.version}: {side} x {side} modules of {module:.2f} mm "
        "where the page is printed in its own size."
    )


def _values(story: ReceiptStory, fit: Callable[..., str]) -> Iterator[dict[str, str]]:
    drawn = 0
    for value in story.values:
        before, after = (reading_text(r, value) for r in (value.before, value.after))
        picture = value_svg(value) if drawn < _MOST_DRAWN else ""
        drawn += bool(picture)
        yield {
            "name": fit(value.name, _COLUMN),
            "said": fit(f"before {before}; after {after}", _COLUMN),
            "drawn": picture,
            "alt": fit(f"{value.name}: before {before}, after {after}; {value.limit}"),
            "limit": fit(first_large(value.limit), _COLUMN),
        }


def _beside(story: ReceiptStory) -> str:
    """Return what stands below the values: what their margins are, what is left out."""
    said: list[str] = []
    readings = [r for v in story.values for r in (v.before, v.after) if r]
    if any(r.margin is not None for r in readings):
        said.append("\u00b1 is the expanded uncertainty (k = 2).")
    if story.more_values:
        more = plural(story.more_values, "more value", "more values")
        said.append(f"{more} in the packet.")
    return " ".join(said)


def _pictures(paper: ReceiptPaper, fit: Callable[..., str]) -> Iterator[dict[str, str]]:
    drawn = 0
    for shown in paper.story.pictures:
        found = None
        if (data := paper.carried.get(shown.sha256)) and drawn < _MOST_DRAWN:
            found = picture_of(data)
        drawn += found is not None
        turned = _turned(shown, found.orientation if found else None)
        said = picture_text(shown)
        yield {
            "drawn": picture_svg(found, turned) if found else "",
            "alt": fit(f"Photograph: {shown.shows}"),
            "said": fit(said if found else f"{said}. Not printed here.", _COLUMN),
        }


def _turned(shown: PictureShown, own: int | None) -> int | None:
    of = shown.event.object("event") or shown.event.data
    stated = of.get("orientation")
    return stated if isinstance(stated, int) else own
