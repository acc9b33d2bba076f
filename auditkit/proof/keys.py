"""Ed25519 keys: made, named, kept encrypted, and used to sign and verify.

RFC 8032 (Ed25519), RFC 8037 (its JWK), RFC 7638 (the thumbprint that names a key),
RFC 7292 (PKCS#12, the encrypted file).
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Protocol

from auditkit.errors import AuditkitError, KeyProblem, VerificationError
from auditkit.proof import ed25519
from auditkit.proof.odd_points import LOW_ORDER, is_misspelled
from auditkit.text.base64url import decode64, encode64
from auditkit.text.display_text import quoted

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

KEY_BYTES = 32
SIGNATURE_BYTES = 64
KDF_ROUNDS = 600_000


@dataclass(frozen=True, slots=True)
class PublicKey:
    """A public key that is safe to trust a signature to. Make it with ``from_raw``."""

    raw: bytes

    @classmethod
    def from_raw(cls, raw: bytes) -> PublicKey:
        """Return the key of 32 bytes; raise KeyProblem where it is unsafe."""
        if len(raw) != KEY_BYTES:
            raise KeyProblem(
                f"a public key has {KEY_BYTES} bytes, this has {len(raw)}",
                what_to_do="copy the whole key",
            )
        if raw in LOW_ORDER or is_misspelled(raw):
            raise KeyProblem(
                "this is a low-order key: under it a signature fits any text",
                what_to_do="make a new key",
            )
        return cls(raw)

    @classmethod
    @lru_cache(maxsize=1024)  # a refusal is never kept
    def from_x(cls, x: str) -> PublicKey:
        """Return the key whose JWK member ``x`` (RFC 8037) is given."""
        try:
            return cls.from_raw(decode64(x))
        except KeyProblem:
            raise
        except AuditkitError as error:
            raise KeyProblem(
                f"the public key {quoted(x[:60])} is not 43 characters of base64url",
                what_to_do="copy the whole key",
            ) from error

    @property
    def x(self) -> str:
        """The key as JWK member ``x``: base64url, 43 characters (RFC 8037)."""
        return encode64(self.raw)

    @property
    def thumbprint(self) -> str:
        """The key's name: its JWK thumbprint, base64url SHA-256 (RFC 7638)."""
        return _thumbprint(self.raw)

    def verify(self, signature: bytes, message: bytes, *, again: bool = False) -> None:
        """Raise VerificationError unless the signature fits (RFC 8032 5.1.7).

        ``again`` says that another packet of the shop may ask the same soon.
        """
        if not ed25519.fits(self.raw, signature, message, again=again):
            raise VerificationError("the signature does not fit the text and the key")


@lru_cache(maxsize=1024)
def _thumbprint(raw: bytes) -> str:
    jwk = f'{{"crv":"Ed25519","kty":"OKP","x":"{encode64(raw)}"}}'
    return encode64(hashlib.sha256(jwk.encode()).digest())


class SigningKey(Protocol):
    """Whatever signs with an Ed25519 key: a key file's content, or a token."""

    @property
    def public(self) -> PublicKey:
        """The key that its signatures fit."""

    def sign(self, message: bytes) -> bytes:
        """Return the signature of 64 bytes."""


class PrivateKey:
    """A private key. It is written nowhere but in an encrypted file."""

    __slots__ = ("_key", "public")

    def __init__(self, key: Ed25519PrivateKey) -> None:
        self._key = key
        self.public = PublicKey.from_raw(key.public_key().public_bytes_raw())

    @classmethod
    def generate(cls) -> PrivateKey:
        """Return a new key from the system's random source."""
        from cryptography.hazmat.primitives.asymmetric import ed25519 as openssl

        return cls(openssl.Ed25519PrivateKey.generate())

    @classmethod
    def from_seed(cls, seed: bytes) -> PrivateKey:
        """Return the key of a 32-byte seed (RFC 8032 5.1.5)."""
        if len(seed) != KEY_BYTES:
            raise KeyProblem(f"a seed has {KEY_BYTES} bytes, this has {len(seed)}")
        from cryptography.hazmat.primitives.asymmetric import ed25519 as openssl

        return cls(openssl.Ed25519PrivateKey.from_private_bytes(seed))

    def to_seed(self) -> bytes:
        """Return the 32 bytes that are the key, for another process to have it."""
        return self._key.private_bytes_raw()

    def sign(self, message: bytes) -> bytes:
        """Return the signature of 64 bytes."""
        return self._key.sign(message)

    def to_pkcs12(
        self, passphrase: bytes, name: str, *, kdf_rounds: int = KDF_ROUNDS
    ) -> bytes:
        """Return the key encrypted under a passphrase (RFC 7292, PBES2, AES-256)."""
        from cryptography.hazmat.primitives import hashes
        from cryptography.hazmat.primitives.serialization import (
            PrivateFormat,
            pkcs12,
        )

        encryption = (
            PrivateFormat.PKCS12.encryption_builder()
            .kdf_rounds(kdf_rounds)
            .key_cert_algorithm(pkcs12.PBES.PBESv2SHA256AndAES256CBC)
            .hmac_hash(hashes.SHA256())
            .build(passphrase)
        )
        return pkcs12.serialize_key_and_certificates(
            name.encode(), self._key, None, None, encryption
        )

    @classmethod
    def from_pkcs12(cls, data: bytes, passphrase: bytes) -> PrivateKey:
        """Return the key in an encrypted file; raise KeyProblem if it does not open."""
        from cryptography.hazmat.primitives.asymmetric import ed25519 as openssl
        from cryptography.hazmat.primitives.serialization import pkcs12

        try:
            key, _, _ = pkcs12.load_key_and_certificates(data, passphrase)
        except ValueError as error:
            raise KeyProblem(
                "the key file does not open with this passphrase",
                what_to_do="check the passphrase; a damaged file must "
                "come from a backup",
            ) from error
        if not isinstance(key, openssl.Ed25519PrivateKey):
            raise KeyProblem(
                "the key file holds no Ed25519 key",
                what_to_do="use a key file that auditkit made",
            )
        return cls(key)
