"""Photographs made for tests, with what a phone writes beside the picture."""

import hashlib
import io
from dataclasses import replace

from conftest import small_record
from PIL import Image

from auditkit.order.picture import stripped


def shown(colour=80, size=(640, 480), mode="L"):
    """Return a picture in which bars stand on one colour, as digits on a display."""
    image = Image.new(mode, size, colour)
    for n in range(12):
        place = 20 + 40 * n, 40 + (colour * (n + 3)) % 200
        image.paste(255 - colour // 2, (*place, place[0] + 9, place[1] + 90))
    return image


def photo(turned=6, colour=80):
    """Return a JPEG of 640 x 480 pixels with Exif, as Pillow writes it."""
    exif = Image.Exif()
    exif[0x0112], exif[0x0110] = turned, "Camera of a test"
    out = io.BytesIO()
    shown(colour).save(out, "JPEG", exif=exif.tobytes())
    return out.getvalue()


def attachment(**more):
    """Return an attachment event with these members more."""
    return {
        "kind": "attachment",
        "at": "2026-03-02T10:00:00+01:00",
        "by": "mechanic-1",
        "shows": "the gauge",
        **more,
    }


PICTURE, OTHER = stripped(photo()).data, stripped(photo(1, 90)).data
DIGEST, OTHER_DIGEST = (hashlib.sha256(data).hexdigest() for data in (PICTURE, OTHER))


def kept(picture=PICTURE):
    return attachment(
        sha256=hashlib.sha256(picture).hexdigest(),
        media_type="image/jpeg",
        size=len(picture),
        kept=True,
    )


def record_of(order_id, *events, pictures=()):
    made = small_record(order_id)
    named = {hashlib.sha256(data).hexdigest(): data for data in pictures}
    return replace(made, events=(*made.events, *events), pictures=named)
