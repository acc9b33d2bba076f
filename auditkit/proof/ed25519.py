"""Whether an Ed25519 signature fits: the one thing that each host does in its own way.

Here OpenSSL decides, through ``cryptography``. In the one-file verifier
``auditkit.reader.one_file.ed25519`` stands under this name. All give one answer, that
of RFC 8032 5.1.7 without the cofactor: S below the group order, R compared byte for
byte. Only this module may remember that a signature fits.
"""

from __future__ import annotations

from functools import lru_cache

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey


def fits(key: bytes, signature: bytes, message: bytes, *, again: bool = False) -> bool:
    """Return whether a signature of a message fits a key of 32 bytes.

    ``again`` remembers that it fits: many packets of a shop come with the same
    checkpoint and the same entries that enrol its people's keys.
    """
    try:
        if again:
            _accept(key, signature, message)
        else:
            _public(key).verify(signature, message)
    except (InvalidSignature, ValueError):
        return False
    return True


@lru_cache(maxsize=1024)
def _public(key: bytes) -> Ed25519PublicKey:
    return Ed25519PublicKey.from_public_bytes(key)


@lru_cache(maxsize=1024)  # a refusal is never kept
def _accept(key: bytes, signature: bytes, message: bytes) -> None:
    _public(key).verify(signature, message)
