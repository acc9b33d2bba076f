"""What an outsider said of a checkpoint, as the log itself keeps it.

An ``attestation`` event carries a checkpoint's whole text, with the cosignatures of
witnesses below it, and perhaps a time stamp (RFC 3161) over that text. It bounds time
twice: the entries that the checkpoint covers existed before the outsider spoke, and the
entries that follow the event, whose roots cover it, were signed after.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from auditkit.errors import InputError
from auditkit.proof import note
from auditkit.proof.note import Checkpoint
from auditkit.text.values import Json

ATTESTATION = "attestation"


@dataclass(frozen=True, slots=True)
class AttestedCheckpoint:
    """An attested checkpoint: its text, what it says, the stamp if there is one.

    ``seq`` is the entry that keeps it, None for a checkpoint that came another way.
    No outsider's signature is verified yet: that takes the outsider's key.
    """

    seq: int | None
    text: str
    checkpoint: Checkpoint
    token: bytes | None = None


def attestation_event(text: str, token: bytes | None) -> dict[str, Json]:
    """Return the members of an ``attestation`` event but ``at`` and ``by``."""
    event: dict[str, Json] = {"kind": ATTESTATION, "checkpoint": text}
    if token is not None:
        event["token"] = note.to_base64(token)
    return event


def read_attestation(
    event: Mapping[str, Json], origin: str, seq: int
) -> AttestedCheckpoint:
    """Return what an ``attestation`` event at entry ``seq`` says.

    Raises InputError or VerificationError where it holds no checkpoint of this log
    over entries before it.
    """
    text, token = event.get("checkpoint"), event.get("token")
    if not isinstance(text, str) or not isinstance(token, str | None):
        raise InputError("it attests no checkpoint")
    checkpoint = note.parse_checkpoint(note.split_note(text)[0])
    if checkpoint.origin != origin or not 0 < checkpoint.size <= seq:
        raise InputError("it attests a checkpoint of another log or of later entries")
    stamp = None if token is None else note.from_base64(token)
    return AttestedCheckpoint(seq, text, checkpoint, stamp)
