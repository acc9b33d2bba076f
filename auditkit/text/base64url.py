"""Base64url without padding (RFC 4648 section 5), in its one canonical form."""

from __future__ import annotations

import binascii

from auditkit.errors import InputError

_TO_URL = bytes.maketrans(b"+/", b"-_")
_FROM_URL = bytes.maketrans(b"-_", b"+/")


def url_safe(data: bytes) -> bytes:
    """Return ``data`` as the bytes of base64url text without padding."""
    text = binascii.b2a_base64(data, newline=False)
    if b"+" in text or b"/" in text:  # rarely in that of plain text: no copy then
        text = text.translate(_TO_URL)
    return text.rstrip(b"=")


def encode64(data: bytes) -> str:
    """Return ``data`` as base64url without padding."""
    return url_safe(data).decode()


def decode64(text: str) -> bytes:
    """Return the bytes that ``text`` stands for; refuse every other spelling."""
    raw = text.encode("ascii", "replace")
    padding = b"=" * (-len(raw) % 4)
    try:
        data = binascii.a2b_base64(raw.translate(_FROM_URL) + padding)
    except ValueError:  # for which texts differs between versions of Python
        data = None
    if data is None or url_safe(data) != raw:
        raise InputError(
            "this base64url text is not in its one canonical form",
            what_to_do="copy it anew",
        )
    return data
