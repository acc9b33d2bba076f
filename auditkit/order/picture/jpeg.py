"""A JPEG file (ITU-T T.81, ISO/IEC 10918-1) -> the segments that its picture needs.

Kept: tables, frame, scans, and what tells the colours (JFIF, ISO/IEC 10918-5, without
its thumbnail; the Adobe segment, ISO/IEC 10918-6). Every other application segment and
comment is left out, and what follows the end of the image.
"""

from __future__ import annotations

import re
import struct

from auditkit.order.picture.jpeg_detail import Detail
from auditkit.order.picture.orientation import orientation
from auditkit.order.picture.value import Picture, counted, damaged, unusual

JPEG_START = b"\xff\xd8\xff"
LEAST_DETAIL = 1024
"""Bits beyond a picture of one colour, below which nothing can be read: our choice."""
_SOI, _EOI, _SOS = 0xD8, 0xD9, 0xDA
_HUFFMAN, _QUANTIZATION = 0xC4, 0xDB
_TABLES = {_HUFFMAN, _QUANTIZATION, 0xDD}  # DHT, DQT, DRI
_FRAMES = {0xC0, 0xC1, 0xC2}  # baseline, extended, progressive; Huffman
_LEFT_OUT = {*range(0xE0, 0xF0), *range(0xF0, 0xFE), 0xFE}  # APPn, JPGn, COM
_JFIF, _JFIF_BYTES = b"JFIF\0", 12
_ADOBE, _ADOBE_BYTES = b"Adobe", 12
_EXIF = b"Exif\0\0"
_FILL = re.compile(rb"\xff*")
_BLOCK = 8
# In a scan, FF is followed by 00 where it is data, by D0 to D7 at a restart.
_SCAN_END = re.compile(rb"\xff[\x01-\xcf\xd8-\xfe]")


class _Reader:
    def __init__(self, data: bytes) -> None:
        self.data = data
        self.at = 2
        self.kept: list[bytes] = [b"\xff\xd8"]
        self.size: tuple[int, int] | None = None
        self.orientation = 1
        self.segments = 0
        self.tables: set[int] = set()
        self.scanned = 0  # bytes of coded picture, of all scans
        self.detail = Detail()

    def marker(self) -> int:
        """Return the next marker; bytes of FF may fill the place before it."""
        start = self.at
        self.segments += 1
        counted(self.segments, "segments")
        if fill := _FILL.match(self.data, start):
            self.at = fill.end()
        if self.at == start or self.at >= len(self.data):
            damaged(f"no marker at byte {start}")
        self.at += 1
        return self.data[self.at - 1]

    def body(self) -> bytes:
        """Return the body of the segment here, without its length."""
        length = int.from_bytes(self.data[self.at : self.at + 2])
        body = self.data[self.at + 2 : self.at + length]
        if self.at + length > len(self.data) or length < 2:  # its own bytes
            damaged(f"the segment at byte {self.at} breaks off")
        self.at += length
        return body

    def keep(self, marker: int, body: bytes) -> None:
        self.kept.append(struct.pack(">BBH", 0xFF, marker, len(body) + 2) + body)

    def frame(self, marker: int, body: bytes) -> None:
        if self.size is not None:
            damaged("it has two frames")
        if len(body) < 6 or len(body) != 6 + 3 * body[5]:  # T.81 B.2.2
            damaged("its frame header has another length than it says")
        height, width = struct.unpack(">HH", body[1:5])
        if not height or not width:
            unusual("it does not say how large it is")
        self.size = width, height
        self.detail.frame(marker, body)
        self.keep(marker, body)

    def scan(self, body: bytes) -> None:
        if self.size is None:
            damaged("a scan comes before the frame")
        self.keep(_SOS, body)
        end = _SCAN_END.search(self.data, self.at)
        if end is None:
            damaged("its last scan breaks off")
        coded = self.data[self.at : end.start()]
        self.kept.append(coded)
        self.scanned += len(coded)
        self.detail.scan(body, coded)
        self.at = end.start()

    def refuse_without_image(self) -> tuple[int, int]:
        """Return the size, where the coded picture is as long as one of it must be.

        A block of 8 x 8 samples costs a Huffman code of a bit at least, for its first
        coefficient (T.81 F.1.2.1, G.1.2.1); together the components have at least a
        block for each 8 x 8 pixels.
        """
        if self.size is None or not self.scanned:
            damaged("it ends before its picture")
        if not {_HUFFMAN, _QUANTIZATION} <= self.tables:
            damaged("the tables that its picture is coded with are missing")
        across, down = (-(-side // _BLOCK) for side in self.size)
        if self.scanned * 8 < across * down:
            damaged(
                f"its coded picture has {self.scanned} bytes, too few for "
                f"{self.size[0]} x {self.size[1]} pixels"
            )
        return self.size

    def application(self, marker: int, body: bytes) -> None:
        """Keep what tells the colours; read how the picture is turned."""
        if marker == 0xE0 and body.startswith(_JFIF) and len(body) >= _JFIF_BYTES:
            self.keep(marker, body[:_JFIF_BYTES] + b"\0\0")  # a thumbnail of 0 x 0
        elif marker == 0xEE and body.startswith(_ADOBE) and len(body) >= _ADOBE_BYTES:
            self.keep(marker, body[:_ADOBE_BYTES])
        elif marker == 0xE1 and body.startswith(_EXIF):
            self.orientation = orientation(body[len(_EXIF) :])


def stripped_jpeg(data: bytes) -> Picture:
    """Return the picture in a JPEG file; InputError where it is damaged or unusual."""
    read = _Reader(data)
    while (marker := read.marker()) != _EOI:
        if marker in _LEFT_OUT:
            read.application(marker, read.body())
        elif marker in _TABLES:
            body = read.body()
            read.keep(marker, body)
            read.tables.add(marker)
            if marker == _HUFFMAN:
                read.detail.tables(body)
        elif marker in _FRAMES:
            read.frame(marker, read.body())
        elif marker == _SOS:
            read.scan(read.body())
        else:
            unusual(f"it holds marker FF{marker:02X}")
    size = read.refuse_without_image()
    read.kept.append(b"\xff\xd9")
    shows = read.detail.bits >= LEAST_DETAIL
    return Picture(b"".join(read.kept), "image/jpeg", *size, read.orientation, shows)
