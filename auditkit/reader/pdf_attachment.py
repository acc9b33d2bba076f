"""Files attached to a PDF (ISO 32000-2, 7.11.4), read without a library.

A small reader of what exhibits hold: streams of the type EmbeddedFile, plain or packed
by FlateDecode. It looks at every such stream wherever it lies, whether or not anything
in the file leads to it, so that nothing can be attached twice unseen.
"""

from __future__ import annotations

import re
import zlib
from collections.abc import Iterator

PDF_HEAD = b"%PDF-"
_TYPE = re.compile(rb"/EmbeddedFile(?![A-Za-z0-9#])")
_STREAM = re.compile(rb"stream\r?\n")
_LENGTH = re.compile(rb"/Length\s+(\d{1,12})(?!\s+\d+\s+R)")
_FILTER = re.compile(rb"/Filter\s*\[?\s*/(\w+)\s*[\]/>]")
_LONGEST_HEAD = 4096  # bytes of the dictionary before a stream
_MOST = 16  # attachments looked at


def attachments(data: bytes, limit: int) -> Iterator[bytes]:
    """Yield the files attached to a PDF, as far as they can be read.

    One that is longer than ``limit`` bytes, damaged, encrypted or packed in another way
    is passed over; so are all after the sixteenth.
    """
    for number, found in enumerate(_TYPE.finditer(data)):
        if number == _MOST:
            return
        content = _content(data, found.start(), limit)
        if content is not None:
            yield content


def _content(data: bytes, place: int, limit: int) -> bytes | None:
    """Return the content of the stream whose dictionary holds ``place``, or None."""
    begins = data.rfind(b"obj", max(0, place - _LONGEST_HEAD), place)
    opening = _STREAM.search(data, place, place + _LONGEST_HEAD)
    if begins < 0 or opening is None:
        return None
    head, start = data[begins : opening.start()], opening.end()
    if b"endobj" in head:
        return None
    packing = _FILTER.search(head)
    if packing is None:
        length = _LENGTH.search(head)
        size = int(length[1]) if length else data.find(b"endstream", start) - start
        return data[start : start + size] if 0 <= size <= limit else None
    return _inflated(data, start, limit) if packing[1] == b"FlateDecode" else None


def _inflated(data: bytes, start: int, limit: int) -> bytes | None:
    """Return what a zlib stream (RFC 1950) at ``start`` holds, None where unsound."""
    stream = zlib.decompressobj()
    try:
        content = stream.decompress(memoryview(data)[start:], limit + 1)
    except zlib.error:
        return None
    return content if stream.eof and len(content) <= limit else None
