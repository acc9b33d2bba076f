"""Whether the image data of a PNG begin as rows of pixels do.

They inflate, and each row has a filter: W3C PNG, third edition, 11.2.1 (header), 9.2
(filters), 10 (deflate). Only the first rows are looked at, within a bound, so that a
small file which unpacks to a large one costs little. That the picture shows anything,
no program can tell.
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Iterable

from auditkit.order.picture.value import damaged

_CHANNELS = {0: 1, 2: 3, 3: 1, 4: 2, 6: 4}  # by colour type
_DEPTHS = {0: (1, 2, 4, 8, 16), 2: (8, 16), 3: (1, 2, 4, 8), 4: (8, 16), 6: (8, 16)}
_FILTERS = 5
_INTERLACED, _PASS_STEP = 1, 8  # the first pass: each eighth pixel of each eighth row
_ROWS = 16
_MOST = 1 << 20  # bytes, so that a few of the widest rows are reached


def refuse_without_rows(header: bytes, image: Iterable[bytes]) -> None:
    """Raise InputError where the IDAT bodies hold no rows that fit the IHDR body."""
    width, height, depth, colour, packing, filtering, interlace = struct.unpack(
        ">IIBBBBB", header
    )
    if depth not in _DEPTHS.get(colour, ()):
        damaged(f"no PNG has {depth} bits of colour type {colour}")
    if packing or filtering or interlace > _INTERLACED:
        damaged("its header names a way of packing that no PNG has")
    if interlace:
        width, height = -(-width // _PASS_STEP), -(-height // _PASS_STEP)
    row = 1 + (width * depth * _CHANNELS[colour] + 7) // 8
    wanted = min(row * min(height, _ROWS), _MOST)
    rows = _inflated(image, wanted)
    if len(rows) < wanted:
        damaged("its image data ends within its first rows")
    if any(one >= _FILTERS for one in rows[::row]):
        damaged("its image data are no rows of pixels")


def _inflated(image: Iterable[bytes], wanted: int) -> bytes:
    """Return the first bytes that the image data unpack to, no more than wanted."""
    unpack, found = zlib.decompressobj(), bytearray()
    try:
        for body in image:
            if len(found) == wanted or unpack.eof:
                break
            found += unpack.decompress(body, wanted - len(found))
    except zlib.error:
        damaged("its image data cannot be unpacked")
    return bytes(found)
