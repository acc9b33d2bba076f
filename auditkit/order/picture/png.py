"""A PNG file (W3C PNG, third edition; ISO/IEC 15948) -> the chunks of its picture.

Kept: header, palette, transparency, image data, and what tells the colours in numbers
(gAMA, cHRM, sRGB, cICP). Left out: Exif, texts, time, colour profile, animation and
every other ancillary chunk, and what follows the end.
"""

from __future__ import annotations

import struct
import zlib

from auditkit.order.picture.orientation import orientation
from auditkit.order.picture.png_rows import has_varied_rows, refuse_without_rows
from auditkit.order.picture.value import Picture, counted, damaged, unusual

PNG_START = b"\x89PNG\r\n\x1a\n"
_KEPT = {
    b"IHDR",
    b"PLTE",
    b"tRNS",
    b"gAMA",
    b"cHRM",
    b"sRGB",
    b"cICP",
    b"IDAT",
    b"IEND",
}
_HEADER_BYTES = 13
_FRAME_BYTES = 12  # length, type and CRC around a chunk's data
_ANCILLARY = 0x20  # this bit of the type's first byte: not needed for the picture


def stripped_png(data: bytes) -> Picture:
    """Return the picture in a PNG file; InputError where it is damaged or unusual."""
    kept = [PNG_START]
    size: tuple[int, int] | None = None
    turned, header, at, kind = 1, b"", len(PNG_START), b""
    image: list[bytes] = []
    chunks = 0
    while kind != b"IEND":
        kind, body = _chunk(data, at)
        chunks += 1
        counted(chunks, "chunks")
        if (size is None) != (kind == b"IHDR"):
            damaged("its header is not its first chunk, once")
        if kind == b"IHDR":
            size, header = _size(body), body
        elif kind == b"eXIf":
            turned = orientation(body)
        if kind in _KEPT:
            kept.append(data[at : at + _FRAME_BYTES + len(body)])
        elif not kind[0] & _ANCILLARY:
            unusual(f"it needs a chunk {kind.decode('ascii', 'replace')}")
        if kind == b"IDAT":
            image.append(body)
        at += _FRAME_BYTES + len(body)
    if size is None or not image:
        damaged("it ends before its picture")
    refuse_without_rows(header, image)
    shows = has_varied_rows(header, image)
    return Picture(b"".join(kept), "image/png", *size, turned, shows)


def _chunk(data: bytes, at: int) -> tuple[bytes, bytes]:
    """Return type and data of the chunk at a byte, its CRC checked."""
    head = data[at : at + 8]
    if len(head) < 8:  # length and type
        damaged(f"it breaks off at byte {len(data)}")
    length, kind = struct.unpack(">I4s", head)
    body = data[at + 8 : at + 8 + length]
    check = data[at + 8 + length : at + _FRAME_BYTES + length]
    if len(check) < 4:  # a CRC
        damaged(f"the chunk at byte {at} breaks off")
    if zlib.crc32(body, zlib.crc32(kind)) != int.from_bytes(check):
        damaged(f"the chunk at byte {at} does not fit its CRC")
    return kind, body


def _size(body: bytes) -> tuple[int, int]:
    if len(body) != _HEADER_BYTES:
        damaged("its header has another length")
    width, height = struct.unpack(">II", body[:8])
    if not width or not height:
        damaged("it is of no size")
    return width, height
