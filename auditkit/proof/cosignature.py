"""Cosignatures: what a witness says of a checkpoint (C2SP tlog-cosignature v1.0.1).

A witness's Ed25519 cosignature says that at a time the checkpoint was the largest that
it had seen of this log, and that it extended every earlier one. It stands as one more
signature line below the checkpoint. The message does not name the witness, so a witness
has a key of its own that signs nothing else. Lines of other signature types belong to
unknown keys and are ignored.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from auditkit.errors import InputError, VerificationError
from auditkit.proof.keys import SIGNATURE_BYTES, PublicKey, SigningKey
from auditkit.proof.note import (
    check_name,
    from_base64,
    key_id,
    parse_checkpoint,
    split_note,
    to_base64,
    vkey,
    vkey_parts,
)

COSIGNATURE = b"\x04"  # the signature type of signed-note v1.0.0
_ID_BYTES = 4
_TIME_BYTES = 8
_BLOB_BYTES = _ID_BYTES + _TIME_BYTES + SIGNATURE_BYTES
MAX_TIME = 2**63 - 1


@dataclass(frozen=True, slots=True)
class Cosigner:
    """A witness as others know it: its name and its public key."""

    name: str
    key: PublicKey

    @property
    def key_id(self) -> bytes:
        """The four bytes that hint at this key in a signature line."""
        return key_id(self.name, self.key, COSIGNATURE)

    @property
    def vkey(self) -> str:
        """The verifier key: name, id and key in one line of text."""
        return vkey(self.name, self.key, COSIGNATURE)

    def verified(self, blob: bytes, text: str) -> int:
        """Return the time of a cosignature; raise where it does not fit."""
        at = int.from_bytes(blob[_ID_BYTES : _ID_BYTES + _TIME_BYTES], "big")
        if len(blob) != _BLOB_BYTES or at > MAX_TIME:
            raise VerificationError(f"the cosignature of {self.name} is malformed")
        try:
            self.key.verify(blob[-SIGNATURE_BYTES:], signed_message(text, at))
        except VerificationError as error:
            raise VerificationError(
                f"the cosignature of {self.name} does not fit the checkpoint"
            ) from error
        return at


@dataclass(frozen=True, slots=True)
class Cosignature:
    """A verified cosignature: who made it, and when by the witness's own clock.

    ``at`` is in seconds since 1970-01-01T00:00:00Z (POSIX).
    """

    cosigner: Cosigner
    at: int


def make_cosigner(name: str, key: PublicKey) -> Cosigner:
    """Return the witness of this name and key; refuse an unfit name."""
    check_name(name)
    return Cosigner(name, key)


def parse_vkey(text: str) -> Cosigner:
    """Return the witness that a verifier key names; refuse any other text."""
    unlike = "this is not the verifier key of an Ed25519 witness (signature type 04)"
    what_to_do = "copy the whole line NAME+ID+KEY that the witness gave you"
    name, raw = vkey_parts(text, COSIGNATURE, unlike, what_to_do)
    found = make_cosigner(name, PublicKey.from_raw(raw))
    if found.vkey != text:
        raise InputError(
            "the verifier key's id does not fit its name and key", what_to_do=what_to_do
        )
    return found


def signed_message(text: str, at: int) -> bytes:
    """Return the message that a cosignature signs: a checkpoint's text and a time."""
    if not 0 <= at <= MAX_TIME:
        raise InputError(
            f"{at} is no time that a cosignature can state",
            what_to_do="check the clock",
        )
    return f"cosignature/v1\ntime {at}\n{text}".encode()


def cosign(text: str, name: str, key: SigningKey, at: int) -> str:
    """Return the cosignature line of a checkpoint's text, with its line end.

    The caller has checked that the checkpoint extends every one cosigned before.
    """
    parse_checkpoint(text)
    cosigner = make_cosigner(name, key.public)
    signature = key.sign(signed_message(text, at))
    blob = cosigner.key_id + at.to_bytes(_TIME_BYTES, "big") + signature
    return f"\u2014 {name} {to_base64(blob)}\n"


def cosignatures(note: str, known: Iterable[Cosigner]) -> tuple[Cosignature, ...]:
    """Return the cosignatures of known witnesses below a checkpoint.

    At most one for each witness: its newest. Lines of unknown keys are passed over; one
    that claims to be of a known key and does not fit refuses the whole note
    (signed-note v1.0.0, Signatures).
    """
    text, lines = split_note(note)
    parse_checkpoint(text)
    by_id = {(c.name, c.key_id): c for c in known}
    found: dict[Cosigner, int] = {}
    for line in lines:
        name, blob = _parts(line)
        cosigner = by_id.get((name, blob[:_ID_BYTES]))
        if cosigner is not None:
            at = cosigner.verified(blob, text)
            found[cosigner] = max(at, found.get(cosigner, 0))
    return tuple(Cosignature(cosigner, at) for cosigner, at in found.items())


def add_line(note: str, line: str) -> str:
    """Return the checkpoint's note with one more signature line below."""
    split_note(note)
    if not line.endswith("\n") or line.count("\n") != 1:
        raise VerificationError("a signature is one line")
    _parts(line.removesuffix("\n"))
    return note + line


def _parts(line: str) -> tuple[str, bytes]:
    """Return the name in a signature line, and its key id and signature as bytes."""
    dash, _, rest = line.partition(" ")
    name, _, blob = rest.partition(" ")
    if dash != "\u2014" or not name:
        raise VerificationError("a line below the checkpoint is no signature")
    return name, from_base64(blob)
