"""How a picture is to be turned, from the first directory of its Exif data.

TIFF 6.0 section 2 (header, directory) and tag 274; Exif 2.32 (CIPA DC-008) 4.6.5.
"""

from __future__ import annotations

import struct

_TAG, _SHORT = 274, 3
_ENTRY = 12


def orientation(tiff: bytes) -> int:
    """Return 1 to 8; 1 where nothing readable says otherwise."""
    order = {b"II*\0": "<", b"MM\0*": ">"}.get(tiff[:4])
    try:
        if order is None:
            return 1
        (start,) = struct.unpack_from(f"{order}I", tiff, 4)
        (count,) = struct.unpack_from(f"{order}H", tiff, start)
        for at in range(start + 2, start + 2 + count * _ENTRY, _ENTRY):
            tag, kind, many, value = struct.unpack_from(f"{order}HHIH", tiff, at)
            if (tag, kind, many) == (_TAG, _SHORT, 1):
                return value if 1 <= value <= 8 else 1
    except struct.error:
        return 1
    return 1
