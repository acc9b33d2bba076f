"""Points of Ed25519 that no honest key is: of small order, or spelled a second way."""

from __future__ import annotations

# Under these keys one constant signature fits any text, or many: OpenSSL accepts
# them. Points of small order on the curve, all their encodings.
LOW_ORDER = frozenset(
    bytes.fromhex(text)
    for text in (
        "0100000000000000000000000000000000000000000000000000000000000000",
        "ecffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7f",
        "0000000000000000000000000000000000000000000000000000000000000000",
        "0000000000000000000000000000000000000000000000000000000000000080",
        "26e8958fc2b227b045c3f489f2ef98f0d5dfac05d3c63339b13802886d53fc05",
        "26e8958fc2b227b045c3f489f2ef98f0d5dfac05d3c63339b13802886d53fc85",
        "c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac037a",
        "c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac03fa",
    )
)
_FIELD = 2**255 - 19


def is_misspelled(point: bytes) -> bool:
    """Return whether 32 bytes are a second spelling of a point (RFC 8032 5.1.3).

    Its y coordinate is not reduced, or a sign bit stands where x is zero.
    """
    number = int.from_bytes(point, "little")
    y = number & ((1 << 255) - 1)
    return y >= _FIELD or bool(number >> 255 and y in (1, _FIELD - 1))
