"""What a file is that a reader was given, and the packet that it is or carries.

A stranger gets a file and opens it: a packet, a page or an exhibit that carries one, or
something else, which is told by its name with what to do. Pure.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from typing import NamedTuple

from auditkit.errors import AuditkitError, InputError
from auditkit.proof.note import checkpoint_text
from auditkit.proof.packet import MAX_PACKET, is_packet
from auditkit.proof.receipt import is_receipt
from auditkit.reader.pdf_attachment import PDF_HEAD, attachments

LOG_HEAD = b"SQLite format 3\x00"  # the SQLite file format, section 1.3.1
_PICTURES = (b"\x89PNG\r\n\x1a\n", b"\xff\xd8\xff", b"GIF8", b"RIFF")
_HEAD = 1024  # bytes in which a file says what it is
_PAGE = re.compile(rb"\s*<(?:!doctype\s+html|html)\b", re.IGNORECASE)
_CARRIED = re.compile(
    r"<script\b[^>]*\bid=[\"']?packet[\"']?[^>]*>(.*?)</script\s*>",
    re.IGNORECASE | re.DOTALL,
)
_RECORD = '"auditkit/repair-record@'


class GivenFile(NamedTuple):
    """A file as it was read: its name, for errors, and its bytes."""

    where: str
    data: bytes

    def text(self) -> str:
        """Return the file's text; raise InputError where it is not UTF-8."""
        try:
            return self.data.decode()
        except UnicodeDecodeError as error:
            raise InputError(
                f"this is not text: byte {error.start} is not UTF-8",
                where=self.where,
                what_to_do="name the file that was handed over, as it was",
            ) from error


class FoundPacket(NamedTuple):
    """A packet, and in words what it was taken out of (empty for a packet itself)."""

    packet: GivenFile
    note: str = ""


def packet_in(given: GivenFile) -> FoundPacket:
    """Return the packet that a file is or carries.

    Raises InputError, which says what the file is, where there is none in it.
    """
    head = given.data[:_HEAD]
    if is_packet(head.decode(errors="replace")):
        return FoundPacket(given)
    if PDF_HEAD in head:
        return _in_exhibit(given)
    if _PAGE.match(head):
        return _in_page(given)
    raise _unlike(*_told(given), given)


def _in_exhibit(given: GivenFile) -> FoundPacket:
    found = {
        data
        for data in attachments(given.data, MAX_PACKET)
        if is_packet(data[:_HEAD].decode(errors="replace"))
    }
    if len(found) != 1:
        many, to_do = "more than one packet is", "ask for the packet itself"
        if not found:
            many = "no packet is"
            to_do += "; a receipt is given as its text, or the address of its code"
        raise _unlike(f"{many} attached to this PDF", to_do, given)
    note = (
        "the packet was taken out of a PDF, whose pages were not held against it: "
        "'auditkit exhibit --check' does that"
    )
    return FoundPacket(GivenFile(given.where, found.pop()), note)


def _in_page(given: GivenFile) -> FoundPacket:
    found = _CARRIED.findall(given.text())
    if len(found) != 1:
        many = "more than one packet" if found else "no packet"
        raise _unlike(
            f"this is a page that carries {many}",
            "ask for the packet itself, or for a page of it",
            given,
        )
    written = found[0].strip()
    try:
        # Nothing but a text: what else could be there is not parsed at all.
        packet = json.loads(written) if written.startswith('"') else None
    except ValueError:
        packet = None
    if not isinstance(packet, str) or not is_packet(packet):
        raise _unlike(
            "this is a page whose packet is damaged", "ask for the packet itself", given
        )
    note = (
        "the packet was taken out of a page: what the page shows beside it was not "
        "checked"
    )
    return FoundPacket(GivenFile(given.where, packet.encode(errors="replace")), note)


def _told(given: GivenFile) -> tuple[str, str]:
    """Return what a file without a packet is, and what to do."""
    for is_so, message, what_to_do in _OTHERS:
        if is_so(given):
            return message, what_to_do
    return _UNKNOWN


def is_checkpoint(given: GivenFile) -> bool:
    """Return whether a file has the form of a checkpoint; nothing is verified."""
    try:
        checkpoint_text(given.text(), where=given.where)
    except AuditkitError:
        return False
    return True


# What else a reader may hold: told in this order.
_OTHERS: tuple[tuple[Callable[[GivenFile], bool], str, str], ...] = (
    (lambda g: not g.data.strip(), "this file is empty", "ask for it again"),
    (
        lambda g: g.data.startswith(LOG_HEAD),
        "this is a log, not a packet",
        "check it with auditkit: 'auditkit verify'",
    ),
    (
        lambda g: g.data.startswith(_PICTURES),
        "this is a picture, not a packet",
        "scan a receipt's code: what counts is its text",
    ),
    (
        lambda g: is_receipt(g.text()),
        "this is a receipt, not a packet",
        "open the packet of its repair order and give this as the receipt",
    ),
    (
        lambda g: _RECORD in g.text()[:_HEAD],
        "this is a repair record, which nobody signed",
        "ask for the packet; 'auditkit check' judges a record",
    ),
    (
        is_checkpoint,
        "this is a checkpoint, not a packet",
        "open a packet and give this as the checkpoint that you kept",
    ),
)
_UNKNOWN = (
    "this is no packet, and nothing that carries one",
    "open a file that 'auditkit packet' or 'auditkit exhibit' made, as it was made",
)


def _unlike(message: str, what_to_do: str, given: GivenFile) -> InputError:
    return InputError(message, where=given.where, what_to_do=what_to_do)
