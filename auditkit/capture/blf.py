"""What a BLF file claims of itself, and what lies in it.

Sizes and counts only, to hold a reader's work against; frames are read by python-can,
whose published source is where this layout comes from (no specification is public).
"""

from __future__ import annotations

import struct
import zlib
from collections import Counter
from dataclasses import dataclass
from typing import Final

_HEADER: Final = struct.Struct("<4sL8xQQL")
_OBJECT: Final = struct.Struct("<4sHHLL")
_PACKED: Final = struct.Struct("<H6xL4x")
_CONTAINER = 10
_ZLIB = 2
_PADDING = 8  # bytes at most between the end of an object and the next
MOST = 256 * 1024 * 1024
"""Most unpacked bytes that are walked."""

FRAMES = frozenset({1, 73, 86, 100, 101})
"""The kinds of object that are frames of CAN, CAN FD, or error frames."""


@dataclass(frozen=True, slots=True)
class Claims:
    """What the header says: bytes in the file, bytes unpacked, objects."""

    size: int
    unpacked: int
    objects: int


def claims(data: bytes) -> Claims | None:
    """Return what the header says; None where there is none."""
    if len(data) < _HEADER.size:
        return None
    signature, _, size, unpacked, objects = _HEADER.unpack_from(data)
    return Claims(size, unpacked, objects) if signature == b"LOGG" else None


def contents(data: bytes) -> Counter[int] | None:
    """Return how many objects of each kind lie in the file; None for over 256 MiB.

    In a container that is cut short, what can be unpacked is counted.
    """
    found: Counter[int] = Counter()
    inner = bytearray()
    at = int.from_bytes(data[4:8], "little")
    for start, end, kind in _objects(data, at):
        if kind == _CONTAINER:
            inner += _unpacked(data[start:end], MOST + 1 - len(inner))
        if len(inner) > MOST:
            return None
        if end <= len(data):
            found[kind] += 1
    whole = bytes(inner)
    for _, end, kind in _objects(whole, 0):
        if end <= len(whole):
            found[kind] += 1
    return found


def differences(claimed: Claims, held: Counter[int], size: int, read: int) -> list[str]:
    """Return where the file, ``size`` bytes long, differs from what its header says."""
    found = []
    if claimed.size != size:
        found.append(f"the header states {claimed.size} bytes, the file has {size}")
    objects = held.total()
    # Some writers count the containers, others do not.
    if claimed.objects not in {objects, objects - held[_CONTAINER]}:
        inside = objects - held[_CONTAINER]
        found.append(f"the header states {claimed.objects} objects, {inside} are there")
    frames = sum(held[kind] for kind in FRAMES)
    if frames != read:
        found.append(f"{frames} frames are there, {read} could be read")
    return found


def _objects(data: bytes, at: int) -> list[tuple[int, int, int]]:
    """Return (start of what follows the base header, end, kind) of each object.

    The end of the last one lies past the data where it is cut.
    """
    found: list[tuple[int, int, int]] = []
    while True:
        at = data.find(b"LOBJ", at, at + _PADDING + 4)
        if at < 0 or at + _OBJECT.size > len(data):
            return found
        _, _, _, size, kind = _OBJECT.unpack_from(data, at)
        if size < _OBJECT.size:
            return found
        found.append((at + _OBJECT.size, at + size, kind))
        at += size


def _unpacked(container: bytes, most: int) -> bytes:
    if len(container) < _PACKED.size:
        return b""
    method, _ = _PACKED.unpack_from(container)
    packed = container[_PACKED.size :]
    if method != _ZLIB:
        return packed
    try:
        return zlib.decompressobj().decompress(packed, most)
    except zlib.error:
        return b""  # the reader stumbles over it too, and the counts differ
