"""What every answer of the bay passes through: whose host, which headers, what size.

Written as plain ASGI, so that an answer is never held back whole. The strict policy
lets a page load its own style, script and pictures and nothing else (W3C Content
Security Policy Level 3).
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import TYPE_CHECKING

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.responses import PlainTextResponse

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; "
    "img-src 'self' blob: data:; connect-src 'self'; form-action 'self'; "
    "frame-ancestors 'none'; base-uri 'none'"
)
HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    # With none at all a browser says of our own forms too that they are of no origin.
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cache-Control": "no-store",
}
_HOST = re.compile(r"(?:\[([^][]+)\]|([^][:]+))(?::[0-9]*)?")
MOST = 24 * 1024 * 1024
"""Bytes of one request; a photograph of 20 MB fits with what stands around it."""


class Guard:
    """Wraps the bay's application.

    ``hosts`` are the names and addresses, without a port, by which it may be asked:
    another name is refused, so that a page elsewhere whose name was pointed here
    reaches nothing.
    """

    def __init__(self, app: ASGIApp, hosts: Iterable[str]) -> None:
        self._app = app
        self._hosts = frozenset(host.lower() for host in hosts)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request, or refuse it."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        seen = 0

        async def bounded() -> Message:
            nonlocal seen
            message = await receive()
            seen += len(message.get("body", b""))
            if seen > MOST:
                raise HTTPException(413, "This is larger than 24 MB.")
            return message

        async def guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers.setdefault(name, value)
            await send(message)

        app = self._refused(scope) or self._app
        await app(scope, bounded, guarded)

    def _refused(self, scope: Scope) -> ASGIApp | None:
        """Return the answer to what another name, or another site, asks; or None."""
        headers = Headers(scope=scope)
        if host_name(headers.get("host", "")) not in self._hosts:
            return PlainTextResponse("This is not the bay's address.", 400)
        # Fetch Metadata (W3C): a browser that says so spares us to trust its cookies.
        # One that does not names the page's origin (RFC 6454): signing in has no token.
        site = headers.get("sec-fetch-site") or self._site(headers.get("origin"))
        if scope["method"] != "GET" and site not in {"same-origin", "none"}:
            return PlainTextResponse("Another site sent this.", 403)
        return None

    def _site(self, origin: str | None) -> str:
        """Return how an origin stands to the bay, in the words of Fetch Metadata.

        No browser of today leaves it out of a form that is sent.
        """
        if origin is None:
            return "none"
        scheme, _, host = origin.partition("://")
        is_own = scheme in {"http", "https"} and host_name(host) in self._hosts
        return "same-origin" if is_own else "cross-site"


def host_name(header: str) -> str:
    """Return the name or address of a Host header (RFC 9110 section 7.2), no port.

    Empty for a header that is not one.
    """
    found = _HOST.fullmatch(header.strip().lower())
    return found[1] or found[2] if found else ""
