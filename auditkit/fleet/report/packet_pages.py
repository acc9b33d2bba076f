"""A page for each packet that an audit names, to lie beside the audit's own."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

from auditkit.fleet.audited import Audit
from auditkit.fleet.report.cells import is_digest
from auditkit.reader.page.packet_page import packet_page

if TYPE_CHECKING:
    from auditkit.bench import TestKind


def packets_named(audit: Audit) -> list[str]:
    """Return the SHA-256, in hex, of the packets that a reader is to open.

    They are those of questions, and those of the first section: a vehicle's visits.
    """
    named = [packet.sha256 for one in audit.asked for packet in one.to_open]
    named += [
        str(cell)
        for section in audit.sections[:1]
        for table in section.tables
        for row in table.rows
        for cell in row
        if is_digest(cell)
    ]
    return list(dict.fromkeys(named))


def packet_pages(
    audit: Audit,
    find: Callable[[str], bytes | None],
    kinds: Mapping[str, TestKind],
) -> dict[str, str]:
    """Return the pages of the packets that an audit names, by their SHA-256 in hex.

    ``find`` returns a packet, or None where it is gone: it then has no page. ``kinds``
    are the kinds of bench test that can be computed here, by name.
    """
    found = ((sha256, find(sha256)) for sha256 in packets_named(audit))
    return {
        sha256: packet_page(packet.decode(), kinds)
        for sha256, packet in found
        if packet is not None
    }


def page_name(sha256: str) -> str:
    """Return the name of the file of a packet's page."""
    return f"{sha256}.html"
