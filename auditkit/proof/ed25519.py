"""Whether an Ed25519 signature fits: the one thing that each host does in its own way.

Here OpenSSL decides, through ``cryptography``. In the one-file verifier
``auditkit.reader.one_file.ed25519`` stands under this name. All give one answer, that
of RFC 8032 5.1.7 without the cofactor: S below the group order, R compared byte for
byte. Only this module may remember that a signature fits.
"""

from __future__ import annotations

from functools import lru_cache
from hashlib import sha256

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

_SIGNATURE = 64  # bytes
_MOST = 16_384  # signatures that are remembered to fit, by 32 bytes each
_fitted: dict[bytes, None] = {}


def fits(key: bytes, signature: bytes, message: bytes, *, again: bool = False) -> bool:
    """Return whether a signature of a message fits a key of 32 bytes.

    ``again`` remembers that it fits: many packets of a shop come with the same
    checkpoint and the same entries that enrol its people's keys, and a program that
    stays reads the entries of an order again and again.
    """
    if not again:
        return _fits(key, signature, message)
    if len(signature) != _SIGNATURE:  # so that what is hashed comes apart in one way
        return False
    mark = sha256(key + signature + message).digest()
    if mark in _fitted:
        return True
    if not _fits(key, signature, message):
        return False  # a refusal is never kept
    _fitted[mark] = None
    while len(_fitted) > _MOST:
        _fitted.pop(next(iter(_fitted)), None)
    return True


def _fits(key: bytes, signature: bytes, message: bytes) -> bool:
    try:
        _public(key).verify(signature, message)
    except (InvalidSignature, ValueError):
        return False
    return True


@lru_cache(maxsize=1024)
def _public(key: bytes) -> Ed25519PublicKey:
    return Ed25519PublicKey.from_public_bytes(key)
