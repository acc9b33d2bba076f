"""Ed25519 verification in pure Python (RFC 8032 section 5.1), for public values only.

In the one-file verifier this module stands where the package has
``auditkit.proof.ed25519``, and gives its answers: S below L, R compared byte for byte,
no cofactor. It is not constant-time and so holds no private key. Points are extended
homogeneous coordinates (X, Y, Z, T), 5.1.4.
"""

from __future__ import annotations

import hashlib
from functools import lru_cache

P = 2**255 - 19
L = 2**252 + 27742317777372353535851937790883648493
D = -121665 * pow(121666, -1, P) % P
_ROOT = pow(2, (P - 1) // 4, P)  # a square root of -1
_BYTES = 32

Point = tuple[int, int, int, int]
_NEUTRAL: Point = (0, 1, 1, 0)


def add(one: Point, two: Point) -> Point:
    """Return the sum of two points (5.1.4)."""
    a = (one[1] - one[0]) * (two[1] - two[0]) % P
    b = (one[1] + one[0]) * (two[1] + two[0]) % P
    c = 2 * one[3] * two[3] * D % P
    d = 2 * one[2] * two[2] % P
    e, f, g, h = b - a, d - c, d + c, b + a
    return (e * f % P, g * h % P, f * g % P, e * h % P)


def double(one: Point) -> Point:
    """Return twice a point (5.1.4)."""
    a, b = one[0] * one[0] % P, one[1] * one[1] % P
    c = 2 * one[2] * one[2] % P
    h = a + b
    e = h - (one[0] + one[1]) * (one[0] + one[1]) % P
    g = a - b
    f = c + g
    return (e * f % P, g * h % P, f * g % P, e * h % P)


def negate(one: Point) -> Point:
    """Return the point whose sum with this one is the neutral point."""
    return (P - one[0], one[1], one[2], P - one[3])


def decode(raw: bytes) -> Point | None:
    """Return the point of 32 bytes; None where they are no encoding (5.1.3)."""
    number = int.from_bytes(raw, "little")
    sign, y = number >> 255, number & ((1 << 255) - 1)
    if y >= P:
        return None
    u, v = (y * y - 1) % P, (D * y * y + 1) % P
    x = u * pow(v, 3, P) * pow(u * pow(v, 7, P), (P - 5) // 8, P) % P
    if v * x * x % P == P - u and u:
        x = x * _ROOT % P
    if v * x * x % P != u or (x == 0 and sign):
        return None
    if x & 1 != sign:
        x = P - x
    return (x, y, 1, x * y % P)


def encode(one: Point) -> bytes:
    """Return the 32 bytes of a point (5.1.2)."""
    inverse = pow(one[2], -1, P)
    x, y = one[0] * inverse % P, one[1] * inverse % P
    return (y | (x & 1) << 255).to_bytes(_BYTES, "little")


_BASE_Y = 4 * pow(5, -1, P) % P
BASE = decode(_BASE_Y.to_bytes(_BYTES, "little")) or _NEUTRAL


def both(one: Point, times: int, two: Point, times_two: int) -> Point:
    """Return ``times`` one + ``times_two`` two; the two share their doublings."""
    pick = (_NEUTRAL, one, two, add(one, two))
    total = _NEUTRAL
    for bit in range(max(times, times_two).bit_length() - 1, -1, -1):
        total = double(total)
        which = (times >> bit & 1) | (times_two >> bit & 1) << 1
        if which:
            total = add(total, pick[which])
    return total


def fits(key: bytes, signature: bytes, message: bytes, *, again: bool = False) -> bool:
    """Return whether a signature fits (5.1.7, the equation without cofactor).

    ``again`` keeps in mind that it fits, as ``auditkit.proof.ed25519.fits`` does.
    """
    if not again:
        return _fits(key, signature, message)
    try:
        _accept(key, signature, message)
    except ValueError:
        return False
    return True


@lru_cache(maxsize=1024)  # a refusal is never kept
def _accept(key: bytes, signature: bytes, message: bytes) -> None:
    if not _fits(key, signature, message):
        raise ValueError


def _fits(key: bytes, signature: bytes, message: bytes) -> bool:
    if len(key) != _BYTES or len(signature) != 2 * _BYTES:
        return False
    point = decode(key)
    s = int.from_bytes(signature[_BYTES:], "little")
    if point is None or s >= L:
        return False
    digest = hashlib.sha512(signature[:_BYTES] + key + message).digest()
    k = int.from_bytes(digest, "little") % L
    return encode(both(BASE, s, negate(point), k)) == signature[:_BYTES]
