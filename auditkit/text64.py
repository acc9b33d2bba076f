"""Base64url without padding (RFC 4648 section 5), in its one canonical form."""

from __future__ import annotations

import base64
import binascii

from auditkit.errors import InputError


def encode64(data: bytes) -> str:
    """Return ``data`` as base64url without padding."""
    return base64.urlsafe_b64encode(data).rstrip(b"=").decode()


def decode64(text: str) -> bytes:
    """Return the bytes that ``text`` stands for; refuse every other spelling."""
    try:
        data = base64.urlsafe_b64decode(text + "=" * (-len(text) % 4))
    except (binascii.Error, ValueError) as error:
        message = "this is not base64url text"
        raise InputError(message, mend="copy it anew") from error
    if encode64(data) != text:
        message = "this base64url text is not in its one canonical form"
        raise InputError(message, mend="copy it anew")
    return data
