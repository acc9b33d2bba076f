"""Whether the image data of a PNG begin as rows of pixels do.

They inflate, and each row has a filter: W3C PNG, third edition, 11.2.1 (header), 9.2
(filters), 10 (deflate). Only the first rows are looked at, within a bound, so that a
small file which unpacks to a large one costs little. That the picture shows anything,
no program can tell.
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Iterable, Iterator

from auditkit.order.picture.value import damaged

_CHANNELS = {0: 1, 2: 3, 3: 1, 4: 2, 6: 4}  # by colour type
_DEPTHS = {0: (1, 2, 4, 8, 16), 2: (8, 16), 3: (1, 2, 4, 8), 4: (8, 16), 6: (8, 16)}
_FILTERS = 5
_NONE, _OF_ABOVE = 0, (2, 4)  # Up and Paeth
_INTERLACED, _PASS_STEP = 1, 8  # the first pass: each eighth pixel of each eighth row
_ROWS = 16
_VARIED = 8  # rows that vary, so that anything can be read: our choice
_LOOKED_AT, _PIECE = 1 << 26, 1 << 16  # bytes
_LONGEST, _LOWEST = 1 << 20, 1 << 16  # bytes of a row, rows: beyond any camera's
_MOST = 1 << 20  # bytes, so that a few of the widest rows are reached


def refuse_without_rows(header: bytes, image: Iterable[bytes]) -> None:
    """Raise InputError where the IDAT bodies hold no rows that fit the IHDR body."""
    depth, colour, packing, filtering, interlace = header[8:]
    if depth not in _DEPTHS.get(colour, ()):
        damaged(f"no PNG has {depth} bits of colour type {colour}")
    if packing or filtering or interlace > _INTERLACED:
        damaged("its header names a way of packing that no PNG has")
    row, height = _first_rows(header)
    wanted = min(row * min(height, _ROWS), _MOST)
    rows = _inflated(image, wanted)
    if len(rows) < wanted:
        damaged("its image data ends within its first rows")
    if any(one >= _FILTERS for one in rows[::row]):
        damaged("its image data are no rows of pixels")


def has_varied_rows(header: bytes, image: Iterable[bytes]) -> bool:
    """Return whether enough rows are of more than one colour each to show anything.

    ``header`` is one that ``refuse_without_rows`` let pass. A row of one colour is,
    filtered, the first pixel and noughts, or the first pixel again and again. Noughts
    of the filters Up and Paeth repeat the row above. Looked at are the first 65,536
    rows, of 64 MiB in all, and none of over 1 MiB.
    """
    row, height = _first_rows(header)
    depth, colour = header[8:10]
    pixel = max(1, depth * _CHANNELS[colour] // 8)
    end = None if depth % 8 == 0 else -1  # not all bits of the last byte are dots
    wanted = 1 if header[-1] else _VARIED
    varied, is_varied = 0, False
    if row > _LONGEST:
        return False
    for one in _each_row(image, row, min(height, _LOOKED_AT // row, _LOWEST)):
        first, rest = one[1 : 1 + pixel], one[1 + pixel : end]
        if one[0] == _NONE:
            is_varied = rest != first * (len(rest) // pixel)
        elif one[0] not in _OF_ABOVE or any(rest):
            is_varied = any(rest)
        varied += is_varied
        if varied == wanted:
            return True
    return False


def _first_rows(header: bytes) -> tuple[int, int]:
    """Return the bytes of a row and how many there are, in the first pass."""
    width, height, depth, colour = struct.unpack(">IIBB", header[:10])
    if header[-1]:
        width, height = -(-width // _PASS_STEP), -(-height // _PASS_STEP)
    return 1 + (width * depth * _CHANNELS[colour] + 7) // 8, height


def _each_row(image: Iterable[bytes], row: int, most: int) -> Iterator[bytes]:
    """Yield the rows that image data unpack to, at most so many."""
    unpack, held = zlib.decompressobj(), bytearray()
    try:
        for body in image:
            given = body
            while given and most > 0 and not unpack.eof:
                held += unpack.decompress(given, _PIECE)
                given = unpack.unconsumed_tail
                whole = min(len(held) // row, most)
                for n in range(whole):
                    yield bytes(held[n * row : (n + 1) * row])
                del held[: whole * row]
                most -= whole
    except zlib.error:
        return  # its first rows were read before


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
