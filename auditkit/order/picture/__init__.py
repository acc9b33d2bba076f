"""A photograph as it may leave the shop: its picture, and nothing else of the file.

``stripped`` is pure. It decodes no picture: it looks whether the image data begin as
such data do, copies the parts of the file that the picture needs, and leaves out every
other (camera, owner, place, time, thumbnail, colour profile, further pictures, whatever
follows the end), known or not. What can be seen in the picture stays: nothing is
blurred.
"""

from __future__ import annotations

from auditkit.errors import InputError
from auditkit.order.picture.jpeg import JPEG_START, stripped_jpeg
from auditkit.order.picture.png import PNG_START, stripped_png
from auditkit.order.picture.value import Picture

__all__ = ["MAX_PICTURE", "MAX_PIXELS", "Picture", "stripped"]

MAX_PICTURE = 8 * 1024 * 1024
"""Most bytes of a picture without the rest of its file. Our choice."""
MAX_PIXELS = 1 << 26
"""Most pixels, so that showing it stays possible (268 MB at 4 bytes each). Ours."""


def stripped(data: bytes, *, where: str = "") -> Picture:
    """Return the picture in a JPEG or PNG file, without anything else of it.

    The same bytes give the same picture, and a picture gives itself. Raises InputError
    for another kind of file, a damaged one, or one over a limit.
    """
    try:
        picture = _of(data)
        _refuse_large(picture)
    except InputError as error:
        error.where = where
        raise
    return picture


def _of(data: bytes) -> Picture:
    if data.startswith(JPEG_START):
        return stripped_jpeg(data)
    if data.startswith(PNG_START):
        return stripped_png(data)
    raise InputError(
        "this is neither a JPEG nor a PNG picture",
        what_to_do="export it as one of them; of another file (a PDF may "
        "hold anything) give "
        "sha256, media_type and size instead, and keep it yourself",
    )


def _refuse_large(picture: Picture) -> None:
    size = len(picture.data)
    if size > MAX_PICTURE:
        raise InputError(
            f"the picture has {size} bytes, more than {MAX_PICTURE} (8 MiB)",
            what_to_do="export it smaller, or in lower quality",
        )
    if picture.width * picture.height > MAX_PIXELS:
        raise InputError(
            f"the picture has {picture.width} x {picture.height} pixels, more than "
            f"{MAX_PIXELS} in all",
            what_to_do="export it smaller",
        )
