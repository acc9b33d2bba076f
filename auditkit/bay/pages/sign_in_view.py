"""Signing in, locking, signing out: a person's own key is opened, or forgotten."""

from __future__ import annotations

import secrets
from typing import TYPE_CHECKING
from urllib.parse import quote

from starlette.responses import PlainTextResponse

from auditkit.bay.pages.visit import Visit, see_other
from auditkit.bay.signed_in import WaitFirst
from auditkit.errors import KeyProblem
from auditkit.text.display_text import first_large

if TYPE_CHECKING:
    from starlette.responses import Response

COOKIE = "auditkit_bay"
TABLET = "auditkit_tablet"
"""A secret of the browser's own: who signed in there before is not locked out there."""
_YEAR = 365 * 24 * 3600  # seconds


def show(visit: Visit) -> Response:
    """Ask who records; of a locked page the passphrase of whoever locked it."""
    return _asked(visit, visit.asked.get("next", ""))


def sign_in(visit: Visit) -> Response:
    """Open a person's key, and go on where that person was.

    Who unlocks their own page has its sign-in still: what is open in it can be sent.
    """
    then = visit.answers.get("next", "")
    person = visit.answers.get("person", "")
    tablet = visit.tablet or secrets.token_urlsafe(16)
    if visit.shown and person != visit.signed_in_as:
        return _asked(visit, then, told="The page shows one order still.", status=403)
    passphrase = visit.answers.get("passphrase", "").encode()
    known = {"address": visit.address, "tablet": tablet}
    signs = visit.desk.sign_ins
    try:
        if person == visit.signed_in_as and signs.unlock(
            visit.token, passphrase, **known
        ):
            return see_other(local(then))
        token = signs.sign_in(person, passphrase, **known)
    except WaitFirst as error:
        return _asked(visit, then, told=_told(error), chosen=person, status=429)
    except KeyProblem as error:
        return _asked(visit, then, told=_told(error), chosen=person, status=403)
    signs.sign_out(visit.token)
    answer = see_other(local(then))
    _give(visit, answer, COOKIE, token)
    _give(visit, answer, TABLET, tablet, max_age=_YEAR)
    return answer


def _told(error: KeyProblem) -> str:
    told = f"{error.message}: {error.what_to_do}"
    return f"{first_large(told)}."


def _give(
    visit: Visit, answer: Response, name: str, value: str, max_age: int | None = None
) -> None:
    answer.set_cookie(
        name,
        value,
        max_age=max_age,
        httponly=True,
        samesite="strict",
        secure=visit.desk.is_secure,
    )


def lock(visit: Visit) -> Response:
    """Forget the key until its person unlocks it. The order and drafts stay."""
    visit.desk.sign_ins.lock(visit.token)
    there = local(visit.answers.get("next", ""))
    return see_other(f"/sign-in?next={quote(there)}")


def sign_out(visit: Visit) -> Response:
    """End the sign-in. Drafts stay, and come back after signing in."""
    if not visit.is_own:
        return PlainTextResponse("This form is not of this sign-in. Load it anew.", 403)
    visit.desk.sign_ins.sign_out(visit.token)
    answer = see_other("/sign-in")
    answer.delete_cookie(COOKIE)
    return answer


def local(path: str) -> str:
    """Return a path of this bay; what leads elsewhere leads to the orders."""
    is_local = path.startswith("/") and not path.startswith(("//", "/\\"))
    return path if is_local and path.isprintable() else "/orders"


def _asked(
    visit: Visit, then: str, *, told: str = "", chosen: str = "", status: int = 200
) -> Response:
    who, desk = visit.signed_in, visit.desk
    # In the network anybody may look: who works here is told where somebody has been.
    is_told = not desk.is_secure or desk.sign_ins.knows(visit.tablet)
    return visit.page(
        "sign_in.html",
        status,
        people=desk.people() if is_told and not visit.shown else (),
        is_told=is_told,
        next=then,
        told=told,
        chosen=chosen,
        locked=visit.signed_in_as if who is not None and who.is_locked else "",
        at_counter=bool(visit.shown),
    )
