"""Sending one request to an address that a person named, and reading the answer.

Nothing that the other side says is believed here: no redirect is followed, every status
is handed over, and no more is read than was asked for.
"""

from __future__ import annotations

import http.client
import urllib.request
from dataclasses import dataclass
from urllib.parse import urlsplit

from auditkit.errors import InputError


@dataclass(frozen=True, slots=True)
class HttpReply:
    """An answer: status, body cut at one byte past the most allowed, media type."""

    status: int
    body: bytes
    media: str


def is_address(url: str, *, with_query: bool) -> bool:
    """Return whether a text is a web address, with a query or fragment or without."""
    try:
        parts = urlsplit(url)
        good = parts.scheme in ("http", "https") and bool(parts.hostname)
        good = good and parts.port != 0
    except ValueError:
        return False
    plain = url.isascii() and not any(c.isspace() for c in url)
    return good and plain and (with_query or not (parts.query or parts.fragment))


def _opener() -> urllib.request.OpenerDirector:
    """Return an opener that follows no redirect and hands over every status."""
    opener = urllib.request.OpenerDirector()
    for handler in (
        urllib.request.ProxyHandler,
        urllib.request.HTTPHandler,
        urllib.request.HTTPSHandler,
    ):
        opener.add_handler(handler())
    return opener


def post(  # noqa: PLR0913  what is sent, to whom, and how much is taken
    url: str, body: bytes, media: str, *, who: str, most: int, timeout: float
) -> HttpReply:
    """Return what ``who`` answers; raise InputError where it cannot be reached.

    ``most`` is in bytes, ``timeout`` in seconds. The address must have been checked
    before.
    """
    request = urllib.request.Request(  # noqa: S310  the scheme was looked at
        url, data=body, method="POST", headers={"Content-Type": media}
    )
    try:
        with _opener().open(request, timeout=timeout) as reply:
            said: bytes = reply.read(most + 1)
            return HttpReply(reply.status, said, reply.headers.get("Content-Type", ""))
    except (OSError, http.client.HTTPException, ValueError) as error:
        reason = str(getattr(error, "reason", error)) or type(error).__name__
        raise InputError(
            f"{who} cannot be reached ({reason})",
            where=url,
            what_to_do="check the address and the network, then ask again",
        ) from error
