"""Photographs made for tests, with what a phone writes beside the picture."""

import io

from PIL import Image


def photo(turned=6, colour=80):
    """Return a JPEG of 640 x 480 pixels with Exif, as Pillow writes it."""
    exif = Image.Exif()
    exif[0x0112], exif[0x0110] = turned, "Camera of a test"
    out = io.BytesIO()
    Image.new("L", (640, 480), colour).save(out, "JPEG", exif=exif.tobytes())
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
