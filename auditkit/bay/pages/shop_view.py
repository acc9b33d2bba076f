"""The shop: its people, its instruments, its fingerprint; enrolling and revoking."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from starlette.responses import Response

    from auditkit.bay.pages.visit import Visit


def show(visit: Visit) -> Response:
    """Show who records here, with what, and by which fingerprint the shop is known."""
    desk = visit.desk
    today = date.fromisoformat(desk.at()[:10])
    with desk.writer.reading() as log:
        people = log.people()
        fingerprint = log.log_key.thumbprint
    return visit.page(
        "shop.html",
        fingerprint=fingerprint,
        people=[
            (p.id, str(p.role), p.revoked_seq is None, p.has_private) for p in people
        ],
        instruments=[
            (one.id, one.description, one.state(today))
            for one in desk.register.values()
        ],
    )
