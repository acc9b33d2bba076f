"""DER (ITU-T X.690), as much of it as is written here: three kinds of element."""

from __future__ import annotations

_SEQUENCE, _OCTETS, _INTEGER = 0x30, 0x04, 0x02
_SHORT = 0x80  # lengths below it are one byte


def sequence(*elements: bytes) -> bytes:
    """Return a sequence of elements that are DER already (X.690 section 8.9)."""
    return _element(_SEQUENCE, b"".join(elements))


def octets(data: bytes) -> bytes:
    """Return bytes as an octet string (X.690 section 8.7)."""
    return _element(_OCTETS, data)


def integer(number: int) -> bytes:
    """Return a number of 0 and more in the fewest bytes (X.690 section 8.3)."""
    return _element(_INTEGER, number.to_bytes(number.bit_length() // 8 + 1, "big"))


def _element(tag: int, body: bytes) -> bytes:
    size = len(body)
    if size < _SHORT:
        return bytes((tag, size)) + body
    # X.690 section 10.1: the fewest bytes, and before them how many there are.
    length = size.to_bytes((size.bit_length() + 7) // 8, "big")
    return bytes((tag, _SHORT | len(length))) + length + body
