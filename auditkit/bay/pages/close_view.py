"""Closing an order, and what leaves the shop then: the packet and the receipt."""

from __future__ import annotations

import secrets
from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING
from urllib.parse import quote

from starlette.responses import Response

from auditkit.bay.pages.form_view import drop, kept_draft
from auditkit.bay.pages.order_view import PICTURES, path_of, values
from auditkit.bay.pages.visit import see_other
from auditkit.order.statement import late_text, verdict_text
from auditkit.text.display_text import not_text

if TYPE_CHECKING:
    from auditkit.bay.pages.visit import Visit


def show(visit: Visit) -> Response:
    """Show all answers as the packet's reader will see them, and ask to sign them."""
    draft = kept_draft(_placed(visit))
    return _asked(replace(visit, answers={**draft, **visit.answers}))


def _placed(visit: Visit) -> Visit:
    """Return a visit as one of the forms by kind."""
    return replace(visit, place={**visit.place, "kind": "close"})


def close(visit: Visit) -> Response:
    """Write the verdict; the same form sent again is answered as at first."""
    lines = visit.answers.get("reason", "").split("\n")  # Enter is no fault
    reason = " ".join(filter(None, map(str.strip, lines)))
    standing = visit.desk.standing(visit.order)
    if not standing.so_far.judgement.is_enough and not reason:
        return _asked(visit, "Write why it is closed as it is, or do the next step.")
    if told := not_text(reason, one_line=True):
        return _asked(visit, f"{told}: write plain text on one line.")
    is_sent = bool(visit.desk.writer.recorded_as(visit.order, visit.once))
    if not is_sent and visit.answers.get("seen") != str(standing.last_entry):
        return _asked(visit, went_on=True)
    done = visit.desk.close(visit, visit.order, reason or None)
    drop(visit)
    return see_other(path_of(visit.order, since=str(done.last_seq)))


def _asked(visit: Visit, told: str = "", *, went_on: bool = False) -> Response:
    standing = visit.desk.standing(visit.order)
    judgement = standing.so_far.judgement
    late = late_text(judgement)
    return visit.page(
        "close.html",
        422 if told or went_on else 200,
        **values(visit, standing),
        went_on=went_on,
        seen=standing.last_entry,
        verdict=verdict_text(judgement),
        late=late,
        is_enough=judgement.is_enough,
        is_waiting=judgement.is_waiting,
        told=told,
        reason=visit.answers.get("reason", ""),
        once=visit.answers.get("once") or secrets.token_urlsafe(16),
        action=path_of(visit.order, "close"),
        draft_path=path_of(visit.order, "draft", "close"),
    )


def packet(visit: Visit) -> Response:
    """Return the packet of a closed order, as a file."""
    data = _packet(visit)
    name = f"{visit.order}.packet.json"
    return Response(data, media_type="application/json", headers=_file(name))


def receipt(visit: Visit) -> Response:
    """Return the customer's receipt, a PDF to print."""
    from auditkit.exhibit.receipt_page import receipt_of_packet

    data = _packet(visit).encode()
    made = receipt_of_packet(data, visit.order, policy=visit.desk.policy)
    page = made.page(made.local(datetime.fromisoformat(visit.desk.at())))
    name = f"{visit.order}.receipt.pdf"
    return Response(page, media_type="application/pdf", headers=_file(name))


def _packet(visit: Visit) -> str:
    """Return the customer's packet; with the pictures where the link asked for them."""
    asked = PICTURES in visit.asked
    with visit.desk.writer.reading() as log:
        return log.packet(visit.order, with_attachments=asked)


def _file(name: str) -> dict[str, str]:
    """Return the header that gives a file its name (RFC 6266, RFC 8187)."""
    return {
        "Content-Disposition": f"attachment; filename*=UTF-8''{quote(name, safe='')}"
    }
