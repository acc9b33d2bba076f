"""What an attachment says of the file that is attached. Pure."""

from __future__ import annotations

import hashlib
import mimetypes

from auditkit.order.attachments import named
from auditkit.order.picture import stripped
from auditkit.text.values import Json

_PICTURES = (b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n")


def file_members(data: bytes, name: str) -> tuple[dict[str, Json], dict[str, bytes]]:
    """Return the members that say which file it is, and the picture that is kept.

    A JPEG or PNG is kept without place and camera data, by its SHA-256 in hex; another
    file is named by its digest and not kept. Raises InputError for a damaged picture.
    """
    if data.startswith(_PICTURES):
        picture = stripped(data, where=name)
        known = named(picture)
        return known, {str(known["sha256"]): picture.data}
    return {
        "sha256": hashlib.sha256(data).hexdigest(),
        "media_type": mimetypes.guess_type(name)[0] or "application/octet-stream",
        "size": len(data),
    }, {}
