"""A page that shows one packet and carries it: it reads without any script.

It claims no check of itself: it says what the packet says, and where and how to have it
checked. The packet lies in it as data, whole, so that the checker page, ``auditkit
verify`` and the one-file verifier take it out of the page's file.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from typing import TYPE_CHECKING

from auditkit.proof.check_packet import parse_packet, verify_packet
from auditkit.reader.page.build import as_data, hash_source, part
from auditkit.reader.page.draw import fingerprints
from auditkit.reader.page.limits import CANNOT_KNOW
from auditkit.reader.page.markup import Node, element, items, to_html
from auditkit.reader.page.tell import story_nodes

if TYPE_CHECKING:
    from auditkit.bench import TestKind
    from auditkit.proof.check_report import CheckReport

_NOTHING = (
    "This page shows what a packet says, and checks nothing: whoever hands it on could "
    "have changed what it shows. The packet lies in this file, signed."
)
_HOW = (
    (
        "Get a checker page from elsewhere than this page: from the shop's website, "
        "or from anyone who has auditkit ('auditkit checker --out FILE' writes it; its "
        "SHA-256 can be compared). It opens in a browser and needs no connection."
    ),
    "Open this very file in it: it takes the packet out and checks it.",
    (
        "Type the fingerprint of the shop's key into it. Take that from the shop's "
        "notice board, invoice or website, or from an earlier job: not from this page."
    ),
    (
        "Or run 'auditkit verify THIS-FILE --key FINGERPRINT', or the same with the "
        "one-file checker and a bare Python."
    ),
)


def packet_page(packet: str, kinds: Mapping[str, TestKind], *, where: str = "") -> str:
    """Return the page of a packet; VerificationError where the packet does not hold.

    That it held when the page was made is no claim of the page. ``kinds`` are the kinds
    of bench test that can be computed here, by name.
    """
    report = verify_packet(packet, where=where)
    report.must_hold(
        where=where, what_to_do="see 'auditkit verify'; make no page of it"
    )
    style = part("page.css")
    policy = (
        f"default-src 'none'; style-src {hash_source(style)}; img-src data:; "
        "base-uri 'none'"
    )
    title = f"Repair order {report.repair_order}"
    body = to_html(element("main", *_body(title, packet, report, kinds)))
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{policy}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"{to_html(element('title', title))}\n<style>{style}</style>\n</head>\n<body>\n"
        f'{body}\n<script type="application/json" id="packet">'
        f"{as_data(packet)}</script>\n</body>\n</html>\n"
    )


def _body(
    title: str, text: str, report: CheckReport, kinds: Mapping[str, TestKind]
) -> list[Node]:
    packet = parse_packet(text)
    story, details = story_nodes(packet, report, kinds, is_said=True)
    said = packet.statement[0] if packet.statement else "No statement was signed."
    return [
        element("h1", title),
        element("p", said, class_="says"),
        element(
            "p",
            _NOTHING,
            " ",
            element("a", "How to have it checked", href="#how-title"),
            ".",
            class_="note",
        ),
        story,
        element(
            "section",
            element("h2", "How to have it checked", id="how-title"),
            items(_HOW, "ol"),
            fingerprints(report.log_key),
            element("p", "SHA-256 of the packet:"),
            element("p", element("code", _digest(text))),
            aria_labelledby="how-title",
        ),
        details,
        element(
            "section",
            element("h2", "What the packet cannot show", id="limits-title"),
            items(CANNOT_KNOW),
            aria_labelledby="limits-title",
        ),
    ]


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()
