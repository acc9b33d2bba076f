"""A text of answers, told apart from others by what was said in it, not how."""

from __future__ import annotations

import hashlib
import re
from functools import lru_cache

from auditkit.obd import isotp, transcript

_COMMENT = re.compile(r"(?:^|\s)[#;].*$", re.MULTILINE)
_WITH_VIN = (b"\x49\x02", b"\x62\xf8\x02", b"\x62\xf1\x90")


@lru_cache(maxsize=1024)
def said_sha256(text: str) -> str:
    """Return the SHA-256, as hex, of the answers in a text, sorted by responder.

    Comments, spacing, time stamps, requests and order do not count. A text without a
    VIN may honestly be that of two vehicles: there the text itself counts, without
    comments and spacing.
    """
    items = transcript.read(text).items
    answers, _ = isotp.reassemble(items)
    lines = sorted({f"{m.responder} {m.data.hex()}" for m in answers})
    if not any(m.data.startswith(_WITH_VIN) for m in answers):
        lines = _COMMENT.sub("", text).upper().split()
    return hashlib.sha256("\n".join(lines).encode(errors="surrogatepass")).hexdigest()
