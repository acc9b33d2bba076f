"""ML-DSA-44 signatures of checkpoints, against a computer that breaks Ed25519.

FIPS 204 (ML-DSA-44, pure, empty context, hedged) in the form of C2SP tlog-cosignature
v1.1.0-rc.1, signature type 06: one more line below a checkpoint, 3.3 kB long, from the
log itself or from a witness. It names its signer and states a time, and is over
origin, size and root of the checkpoint. Readers that do not know its key pass it over.

At rest a key is an encrypted PKCS#8 text (RFC 5958, RFC 9881: its 32-byte seed). The
cryptography library writes no ML-DSA key as PKCS#12, and PKCS#8 only with 2,048
rounds; so the frame (RFC 8018 PBES2: PBKDF2 with HMAC-SHA-256, AES-256-CBC) is written
here, with the rounds of the other key files. It has no checksum: compare ``public`` of
a loaded key with the key that is known.
"""

from __future__ import annotations

import base64
import hashlib
import os
import struct
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from auditkit import der
from auditkit.errors import InputError, KeyProblem, VerificationError
from auditkit.keys import KDF_ROUNDS
from auditkit.note import (
    check_name,
    key_id,
    parse_checkpoint,
    to_base64,
    vkey,
    vkey_parts,
)

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.mldsa import (
        MLDSA44PrivateKey,
        MLDSA44PublicKey,
    )

PUBLIC_BYTES = 1312  # FIPS 204, table 2
SIGNATURE_BYTES = 2420
SEED_BYTES = 32
COSIGNATURE = b"\x06"
MAX_TIME = 2**63 - 1
_LABEL = b"subtree/v1\n\x00"
_MOST_NAME = 255
_ID_BYTES = 4
_TIME_BYTES = 8
_BLOB_BYTES = _ID_BYTES + _TIME_BYTES + SIGNATURE_BYTES

_PBES2 = bytes.fromhex("06092a864886f70d01050d")
_PBKDF2 = bytes.fromhex("06092a864886f70d01050c")
_HMAC_SHA256 = bytes.fromhex("300c06082a864886f70d02090500")
_AES_256_CBC = bytes.fromhex("060960864801650304012a")
_SALT_BYTES = _BLOCK = 16
_PEM = "-----{} ENCRYPTED PRIVATE KEY-----"  # RFC 7468 section 11
_PEM_LINE = 64


@dataclass(frozen=True, slots=True)
class PublicKey:
    """An ML-DSA-44 public key. Make it with ``from_raw``."""

    raw: bytes

    @classmethod
    def from_raw(cls, raw: bytes) -> PublicKey:
        """Return the key of 1,312 bytes; raise KeyProblem for any other length."""
        if len(raw) != PUBLIC_BYTES:
            message = f"an ML-DSA-44 key has {PUBLIC_BYTES} bytes, this has {len(raw)}"
            raise KeyProblem(message, mend="copy the whole key")
        return cls(raw)

    def verify(self, signature: bytes, message: bytes) -> None:
        """Return where the signature fits (FIPS 204 algorithm 3); raise if it does not.

        InputError where the installed library has no ML-DSA.
        """
        from cryptography.exceptions import InvalidSignature

        key = _public(self.raw)
        try:
            key.verify(signature, message)
        except (InvalidSignature, ValueError) as error:
            text = "the ML-DSA-44 signature does not fit the text and the key"
            raise VerificationError(text) from error


@lru_cache(maxsize=64)
def _public(raw: bytes) -> MLDSA44PublicKey:
    from cryptography.exceptions import UnsupportedAlgorithm

    try:
        from cryptography.hazmat.primitives.asymmetric.mldsa import MLDSA44PublicKey

        return MLDSA44PublicKey.from_public_bytes(raw)
    except (ImportError, UnsupportedAlgorithm) as error:
        raise _no_library() from error


def _private(seed: bytes) -> MLDSA44PrivateKey:
    from cryptography.exceptions import UnsupportedAlgorithm

    try:
        from cryptography.hazmat.primitives.asymmetric.mldsa import MLDSA44PrivateKey

        return MLDSA44PrivateKey.from_seed_bytes(seed)
    except (ImportError, UnsupportedAlgorithm) as error:
        raise _no_library() from error


def _no_library() -> InputError:
    message = "the installed cryptography library has no ML-DSA"
    mend = "run: pip install --upgrade 'cryptography>=50'"
    return InputError(message, mend=mend)


class PrivateKey:
    """An ML-DSA-44 private key. It never leaves memory but encrypted."""

    __slots__ = ("_key", "public")

    def __init__(self, key: MLDSA44PrivateKey) -> None:
        self._key = key
        self.public = PublicKey.from_raw(key.public_key().public_bytes_raw())

    @classmethod
    def generate(cls) -> PrivateKey:
        """Return a new key from the system's random source."""
        return cls(_private(os.urandom(SEED_BYTES)))

    @classmethod
    def from_seed(cls, seed: bytes) -> PrivateKey:
        """Return the key of a 32-byte seed (FIPS 204 algorithm 6)."""
        if len(seed) != SEED_BYTES:
            message = f"a seed has {SEED_BYTES} bytes, this has {len(seed)}"
            raise KeyProblem(message)
        return cls(_private(seed))

    def sign(self, message: bytes) -> bytes:
        """Return the signature of 2,420 bytes (FIPS 204 algorithm 2, hedged)."""
        return self._key.sign(message)

    def to_pkcs8(self, passphrase: bytes, *, kdf_rounds: int = KDF_ROUNDS) -> bytes:
        """Return the key as PEM text, encrypted under a passphrase."""
        from cryptography.hazmat.primitives.ciphers import Cipher, algorithms, modes
        from cryptography.hazmat.primitives.padding import PKCS7
        from cryptography.hazmat.primitives.serialization import (
            Encoding,
            NoEncryption,
            PrivateFormat,
        )

        if not passphrase:
            message = "the passphrase is empty"
            raise KeyProblem(message, mend="give one of some length")
        salt, start = os.urandom(_SALT_BYTES), os.urandom(_BLOCK)
        secret = hashlib.pbkdf2_hmac("sha256", passphrase, salt, kdf_rounds, 32)
        plain = self._key.private_bytes(
            Encoding.DER, PrivateFormat.PKCS8, NoEncryption()
        )
        padder = PKCS7(8 * _BLOCK).padder()
        padded = padder.update(plain) + padder.finalize()
        encryptor = Cipher(algorithms.AES256(secret), modes.CBC(start)).encryptor()
        closed = encryptor.update(padded) + encryptor.finalize()
        return _pem(_frame(salt, kdf_rounds, start, closed))

    @classmethod
    def from_pkcs8(cls, data: bytes, passphrase: bytes) -> PrivateKey:
        """Return the key in an encrypted PEM text; KeyProblem where it stays shut."""
        from cryptography.exceptions import UnsupportedAlgorithm
        from cryptography.hazmat.primitives.serialization import load_pem_private_key

        try:
            from cryptography.hazmat.primitives.asymmetric.mldsa import (
                MLDSA44PrivateKey,
            )

            key = load_pem_private_key(data, passphrase or b"\x00")
        except (ImportError, UnsupportedAlgorithm) as error:
            raise _no_library() from error
        except TypeError as error:
            message = "the key file is not encrypted"
            mend = "use a key file that auditkit made"
            raise KeyProblem(message, mend=mend) from error
        except ValueError as error:
            message = "the key file does not open with this passphrase"
            mend = "check the passphrase; a damaged file must come from a backup"
            raise KeyProblem(message, mend=mend) from error
        if not isinstance(key, MLDSA44PrivateKey):
            message = "the key file holds no ML-DSA-44 key"
            raise KeyProblem(message, mend="use a key file that auditkit made")
        return cls(key)


def _frame(salt: bytes, rounds: int, start: bytes, closed: bytes) -> bytes:
    """Return an EncryptedPrivateKeyInfo (RFC 5958 section 3) in DER."""
    cost = der.sequence(der.octets(salt), der.integer(rounds), _HMAC_SHA256)
    derive = der.sequence(_PBKDF2, cost)
    cipher = der.sequence(_AES_256_CBC, der.octets(start))
    scheme = der.sequence(_PBES2, der.sequence(derive, cipher))
    return der.sequence(scheme, der.octets(closed))


def _pem(data: bytes) -> bytes:
    text = base64.b64encode(data).decode()
    lines = [text[at : at + _PEM_LINE] for at in range(0, len(text), _PEM_LINE)]
    frame = [_PEM.format("BEGIN"), *lines, _PEM.format("END"), ""]
    return "\n".join(frame).encode()


@dataclass(frozen=True, slots=True)
class Cosigner:
    """A signer as others know it, a log or a witness: its name and public key."""

    name: str
    key: PublicKey

    @property
    def key_id(self) -> bytes:
        """The four bytes that hint at this key in a signature line."""
        return key_id(self.name, self.key, COSIGNATURE)

    @property
    def vkey(self) -> str:
        """The verifier key: name, id and key in one line of text, about 1.8 kB."""
        return vkey(self.name, self.key, COSIGNATURE)

    def verified(self, blob: bytes, text: str) -> int:
        """Return the time that a signature states, where it fits the checkpoint's text.

        ``blob`` is key id, time and signature in one. VerificationError where it does
        not fit.
        """
        at = int.from_bytes(blob[_ID_BYTES : _ID_BYTES + _TIME_BYTES], "big")
        if len(blob) != _BLOB_BYTES or at > MAX_TIME or blob[:_ID_BYTES] != self.key_id:
            message = f"the ML-DSA-44 signature of {self.name} is malformed"
            raise VerificationError(message)
        try:
            signed = signed_message(text, self.name, at)
        except InputError as error:
            raise VerificationError(error.message) from error
        try:
            self.key.verify(blob[-SIGNATURE_BYTES:], signed)
        except VerificationError as error:
            message = f"the ML-DSA-44 signature of {self.name} does not fit the text"
            raise VerificationError(message) from error
        return at


def make_cosigner(name: str, key: PublicKey) -> Cosigner:
    """Return the signer of this name and key; refuse an unfit name."""
    check_name(name)
    _counted(name, "the signer's name")
    return Cosigner(name, key)


def parse_vkey(text: str) -> Cosigner:
    """Return the signer that a verifier key names; refuse any other text."""
    unlike = "this is not the verifier key of ML-DSA-44 (signature type 06)"
    mend = "copy the whole line NAME+ID+KEY that its owner gave you"
    name, raw = vkey_parts(text, COSIGNATURE, unlike, mend)
    found = make_cosigner(name, PublicKey.from_raw(raw))
    if found.vkey != text:
        message = "the verifier key's id does not fit its name and key"
        raise InputError(message, mend=mend)
    return found


def signed_message(text: str, name: str, at: int) -> bytes:
    """Return what a signature of a checkpoint's text is over, at a time.

    The structure ``cosigned_message`` of tlog-cosignature v1.1.0-rc.1, from leaf 0 to
    the checkpoint's size. ``at`` is in seconds since 1970, or 0: who states 0 says that
    the checkpoint extends all that it saw, not that it was the largest.
    """
    if not 0 <= at <= MAX_TIME:
        message = f"{at} is no time that a signature can state"
        raise InputError(message, mend="check the clock")
    checkpoint = parse_checkpoint(text)
    return b"".join(
        (
            _LABEL,
            _counted(name, "the signer's name"),
            struct.pack(">Q", at),
            _counted(checkpoint.origin, "the log's origin"),
            struct.pack(">QQ", 0, checkpoint.size),
            checkpoint.root,
        )
    )


def _counted(text: str, what: str) -> bytes:
    data = text.encode()
    if not 1 <= len(data) <= _MOST_NAME:
        message = f"{what} is {len(data)} bytes long, not 1 to {_MOST_NAME}"
        raise InputError(message, mend="use a shorter name")
    return bytes([len(data)]) + data


def sign_line(checkpoint_text: str, name: str, key: PrivateKey, at: int) -> str:
    """Return the signature line of a checkpoint's text, with its line end.

    A log signs under its origin, at the time at which this is its largest checkpoint;
    ``at`` is in seconds since 1970.
    """
    signer = make_cosigner(name, key.public)
    signature = key.sign(signed_message(checkpoint_text, name, at))
    blob = signer.key_id + at.to_bytes(_TIME_BYTES, "big") + signature
    return f"\u2014 {name} {to_base64(blob)}\n"
