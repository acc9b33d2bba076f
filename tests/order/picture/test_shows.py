"""A picture whose pixels are nearly all alike shows nothing, however it is packed.

Pillow (MIT-CMU licence) writes the pictures: the outside reference for both formats.
"""

import hashlib
import io
import struct
import time
import zlib

import pytest
from photo import shown
from PIL import Image

from auditkit.order.photographs import looked_at
from auditkit.order.picture import stripped

WIDE, HIGH = 640, 480
PACKED = [
    ("JPEG", {}),
    ("JPEG", {"quality": 30}),
    ("JPEG", {"quality": 95, "subsampling": 0}),
    ("JPEG", {"optimize": True}),
    ("JPEG", {"progressive": True}),
    ("JPEG", {"restart_marker_rows": 1}),
    ("PNG", {}),
    ("PNG", {"compress_level": 0}),
]


def saved(image, form, **options):
    out = io.BytesIO()
    image.save(out, form, **options)
    return out.getvalue()


@pytest.mark.parametrize("mode", ["L", "RGB"])
@pytest.mark.parametrize("colour", [0, 80, 255])
@pytest.mark.parametrize(("form", "options"), PACKED)
def test_one_colour_shows_nothing_and_bars_on_it_do(form, options, colour, mode):
    flat = Image.new("L", (WIDE, HIGH), colour).convert(mode)
    bars = shown(colour).convert(mode)
    assert not stripped(saved(flat, form, **options)).shows
    assert stripped(saved(bars, form, **options)).shows


def test_restarts_at_each_block_make_no_picture_of_one_colour():
    flat = Image.new("L", (WIDE, HIGH), 80)
    made = saved(flat, "JPEG", restart_marker_blocks=1)
    assert len(made) > 4 * len(saved(flat, "JPEG")), "they cost more than the picture"
    assert not stripped(made).shows


def test_a_large_jpeg_of_one_colour_shows_nothing():
    flat = Image.new("RGB", (4000, 3000), (3, 200, 90))
    for more in ({}, {"progressive": True}):
        assert not stripped(saved(flat, "JPEG", **more)).shows


def chunk(kind, body):
    check = zlib.crc32(kind + body)
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", check)


def png(rows, depth=8, colour=0, interlace=0):
    header = struct.pack(">IIBBBBB", WIDE, HIGH, depth, colour, 0, 0, interlace)
    return b"".join(
        (
            b"\x89PNG\r\n\x1a\n",
            chunk(b"IHDR", header),
            chunk(b"IDAT", zlib.compress(rows)),
            chunk(b"IEND", b""),
        )
    )


def filtered(kind, value=80):
    """Return rows of one grey in each filter (W3C PNG 9.2), worked out by hand.

    Sub: the first pixel, then no difference. Up, and Paeth below the first row: none at
    all. Average: the first pixel is half above it, the rest none, below the first row.
    """
    if kind == 0:
        return (b"\0" + bytes([value]) * WIDE) * HIGH
    if kind == 1:
        return (b"\1" + bytes([value]) + bytes(WIDE - 1)) * HIGH
    first = b"\1" + bytes([value]) + bytes(WIDE - 1)
    start = value - value // 2 if kind == 3 else 0
    return first + (bytes([kind, start]) + bytes(WIDE - 1)) * (HIGH - 1)


@pytest.mark.parametrize("kind", range(5))
def test_rows_of_one_colour_are_known_in_each_filter(kind):
    made = png(filtered(kind))
    pixels = Image.open(io.BytesIO(made)).convert("L").tobytes()
    assert pixels == bytes([80]) * (WIDE * HIGH)
    assert not stripped(made).shows


@pytest.mark.parametrize(("varied", "shows"), [(7, False), (8, True)])
def test_eight_rows_that_vary_are_enough(varied, shows):
    alike = b"\0" + bytes([80]) * WIDE
    other = b"\0" + bytes([80]) * (WIDE - 9) + bytes(9)
    rows = alike * (HIGH - varied) + other * varied
    assert stripped(png(rows)).shows is shows


@pytest.mark.parametrize(("until", "shows"), [(1 << 16, True), ((1 << 16) + 8, False)])
def test_of_a_picture_without_end_the_first_rows_are_looked_at(until, shows):
    """A file of 65 kB unpacks to 17 million rows of two dots, and is read soon."""
    header = struct.pack(">IIBBBBB", 2, 1 << 24, 8, 0, 0, 0, 0)
    pack = zlib.compressobj()
    rows = pack.compress(bytes(3) * (until - 8) + b"\0\1\2" * 8)
    rows += b"".join(pack.compress(bytes(1 << 20)) for _ in range(47)) + pack.flush()
    made = b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", rows)
    started = time.process_time()
    assert stripped(made + chunk(b"IEND", b"")).shows is shows
    assert time.process_time() - started < 2


def test_a_scan_of_more_components_than_there_can_be_shows_nothing():
    """At most four (T.81 B.2.3); thousands of scans of 255 take no time either."""

    def segment(marker, body):
        return struct.pack(">BBH", 0xFF, marker, len(body) + 2) + body

    size = struct.pack(">BHHB", 8, HIGH, WIDE, 255)
    frame = size + b"".join(bytes((n, 0x11, 0)) for n in range(255))
    tables = segment(0xDB, bytes(65)) + segment(0xC4, bytes(17))
    scan = b"\xff" + b"".join(bytes((n, 0)) for n in range(255)) + b"\0\x3f\0"
    whole = b"\xff\xd8" + tables + segment(0xC0, frame)
    whole += (segment(0xDA, scan) + b"\x55" * 200) * 9000 + b"\xff\xd9"
    started = time.process_time()
    assert not stripped(whole).shows
    assert time.process_time() - started < 2


def test_bits_that_fill_the_last_byte_of_a_row_are_none_of_it():
    """641 x 480 dots of black and white: one bit of the last byte is a dot."""
    image = Image.new("1", (WIDE + 1, HIGH), 1)
    assert not stripped(saved(image, "PNG")).shows
    image.paste(0, (90, 90, 300, 200))
    assert stripped(saved(image, "PNG")).shows


def test_what_shows_nothing_is_no_picture_to_go_by():
    data = stripped(saved(Image.new("L", (WIDE, HIGH), 80), "JPEG")).data
    digest = hashlib.sha256(data).hexdigest()
    (why,) = looked_at({digest: data}).values()
    assert why == "it shows nothing: its pixels are nearly all alike"
