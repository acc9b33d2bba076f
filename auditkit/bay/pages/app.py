"""The bay as an ASGI application: each request becomes a visit, each visit an answer.

A form counts only with the token of who sent it: a page elsewhere cannot write in that
person's name. What a view raises as an error of the project is told as one.
"""

from __future__ import annotations

import asyncio
import hmac
import logging
import re
import traceback
from collections.abc import Awaitable, Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from importlib.resources import files
from typing import TYPE_CHECKING
from urllib.parse import quote

from starlette.applications import Starlette
from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Route

from auditkit.bay.pages.guard import MOST, Guard
from auditkit.bay.pages.routes import WAYS, Way
from auditkit.bay.pages.sign_in_view import COOKIE, TABLET
from auditkit.bay.pages.visit import InTheLog, Visit, Who, form_token, see_other
from auditkit.errors import AuditkitError

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.types import ASGIApp

    from auditkit.bay.pages.desk import Desk

_LOG = logging.getLogger("auditkit.bay")
FIELD = "form_token"
"""A form's hidden field that holds its token."""
_HEADER = "X-Form-Token"
_OF_ANYBODY = 16 * 1024
"""Bytes that somebody may send who is not signed in: a name and a passphrase."""
_HALF = re.compile("[\ud800-\udfff]")
"""Half characters: a form may name an encoding that spells them, as UTF-7 does."""
_AT_ONCE = 2
"""Requests that are worked on at once, in the order in which they came.

More would take turns at one interpreter, and each would be answered later for it. While
one waits for the disk the other goes on.
"""
_LONG_AT_ONCE = 8  # of those that may take long, and of strangers' requests
_STATIC = {
    "look.css": ("look.css", "text/css"),
    "bay.js": ("bay.js", "text/javascript"),
    "htmx.js": ("vendor/htmx.js", "text/javascript"),
}


def make_app(desk: Desk, hosts: Iterable[str]) -> ASGIApp:
    """Return the application; ``hosts`` are the names by which it may be asked."""
    short = ThreadPoolExecutor(_AT_ONCE, "page")
    long = ThreadPoolExecutor(_LONG_AT_ONCE, "long page")
    routes = [
        Route(
            way.path,
            _endpoint(desk, way, long if _is_apart(way) else short),
            methods=[way.method],
        )
        for way in WAYS
    ]
    static = Route("/static/{name}", _static, methods=["GET"])
    return Guard(Starlette(routes=[static, *routes]), hosts)


def _is_apart(way: Way) -> bool:
    """Return whether requests of a way shall not keep those at work waiting."""
    return way.is_long or way.who is Who.ANYBODY


def _endpoint(
    desk: Desk, way: Way, threads: ThreadPoolExecutor
) -> Callable[[Request], Awaitable[Response]]:
    async def answer(request: Request) -> Response:
        token = request.cookies.get(COOKIE, "")
        visit = Visit(
            desk,
            desk.sign_ins.find(token, is_touch=way.is_touch) if token else None,
            token,
            request.cookies.get(TABLET, ""),
            request.client.host if request.client else "",
            request.url.path,
            dict(request.path_params),
            dict(request.query_params),
        )
        # Before anything is read: whoever may not send it need not send it whole.
        if refused := _kept_out(visit, way, request.url.query):
            return refused
        answers, given = await _brought(request, way)
        sent = request.headers.get(_HEADER) or answers.get(FIELD, "")
        visit = replace(
            visit,
            answers={k: v for k, v in answers.items() if k != FIELD},
            files=given,
            is_own=bool(token)
            and hmac.compare_digest(sent.encode(), form_token(token).encode()),
        )
        if refused := _refused(visit, way):
            return refused
        loop = asyncio.get_running_loop()
        return await loop.run_in_executor(threads, _told, way, visit)

    return answer


async def _brought(
    request: Request, way: Way
) -> tuple[dict[str, str], dict[str, tuple[str, bytes]]]:
    """Return the texts that a form brought, and its files with their names."""
    texts: dict[str, str] = {}
    given: dict[str, tuple[str, bytes]] = {}
    if request.method == "POST":
        if way.who is Who.ANYBODY:
            _refuse_long(request)
        async with request.form(max_part_size=MOST) as form:
            for name, value in form.multi_items():
                if _HALF.search(name) or (
                    isinstance(value, str) and _HALF.search(value)
                ):
                    raise HTTPException(400, "Send whole characters, in UTF-8.")
                if not isinstance(value, UploadFile):
                    texts[name] = value.replace("\r\n", "\n")
                elif value.size:
                    given[name] = (value.filename or name, await value.read())
    return texts, given


def _refuse_long(request: Request) -> None:
    """Refuse what nobody needs to send who is not signed in: it would be kept."""
    length = request.headers.get("content-length", "")
    if not length.isdecimal():
        raise HTTPException(411, "Say how long it is.")
    if int(length) > _OF_ANYBODY:
        raise HTTPException(413, "This is too long.")


def _kept_out(visit: Visit, way: Way, query: str) -> Response | None:
    """Return the answer to who is signed in nowhere, or at the counter; or None."""
    leads = way.method == "GET" and way.is_touch
    if visit.shown and not way.is_at_counter:
        if leads:
            return see_other("/counter")
        return PlainTextResponse("This page shows one order.", 401)
    if way.who is not Who.ANYBODY and visit.may is Who.ANYBODY:
        if leads:
            there = f"{visit.path}?{query}" if query else visit.path
            return see_other(f"/sign-in?next={quote(there)}")
        # What was typed stays on the page: nothing is put in its place.
        return PlainTextResponse("Locked: sign in.", 401)
    return None


def _refused(visit: Visit, way: Way) -> Response | None:
    """Return the answer to who may not make a request; None for who may."""
    if way.who is Who.ANYBODY:
        return None
    if way.method == "POST" and not visit.is_own:
        return PlainTextResponse("This form is not of this sign-in. Load it anew.", 403)
    if visit.may < way.who:
        is_manager = way.who is Who.MANAGES
        return visit.page(
            "refused.html",
            403,
            heading="A manager does this" if is_manager else "You can look, not write",
            message="The one who is signed in was enrolled for other work.",
            what_to_do="ask a manager",
        )
    return None


def _told(way: Way, visit: Visit) -> Response:
    try:
        return way.view(visit)
    except InTheLog as found:
        return see_other(found.path)
    except AuditkitError as error:
        return visit.page(
            "refused.html",
            422,
            heading="Not done",
            message=error.message,
            what_to_do=error.what_to_do,
        )
    except Exception as error:  # noqa: BLE001  told here, without what it holds
        # A message may hold what somebody typed; where it happened does not.
        place = "".join(traceback.format_tb(error.__traceback__))
        _LOG.error("%s at %s:\n%s", type(error).__name__, way.path, place)
        return visit.page(
            "refused.html",
            500,
            heading="An error of the program",
            message="Whether this was recorded is not known here.",
            what_to_do="look at the order: what is in the log stands there; send the "
            "form again, it is recorded once",
        )


async def _static(request: Request) -> Response:
    found = _STATIC.get(request.path_params["name"])
    if found is None:
        return PlainTextResponse("There is no such file.", 404)
    data = (files("auditkit.bay.pages") / found[0]).read_bytes()
    return Response(data, media_type=found[1], headers={"Cache-Control": "max-age=600"})
