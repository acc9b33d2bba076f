"""What a witness answers to a checkpoint (C2SP tlog-witness v1.0.0, add-checkpoint).

Pure: from a request's bytes, the known logs and what was seen last to an answer.
The caller asks ``admitted`` first, then ``refusal`` while it holds what was seen.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from auditkit.errors import AuditkitError, InputError, VerificationError
from auditkit.proof import merkle, note
from auditkit.proof.keys import PublicKey
from auditkit.proof.note import Checkpoint, from_base64
from auditkit.proof.witness_protocol import SIZE, WitnessAnswer

MAX_PROOF = 63
MAX_BODY = note.MAX_NOTE + 4096  # a note, and 63 lines of 45 characters above it
_OLD = re.compile(r"old (0|[1-9][0-9]{0,15})")

Logs = Mapping[str, Sequence[PublicKey]]  # origin -> its keys; more where it changed


@dataclass(frozen=True, slots=True)
class LastCosigned:
    """The checkpoint last cosigned of one log; ``at`` is its time (POSIX seconds)."""

    size: int = 0
    root: bytes = merkle.EMPTY_ROOT
    at: int = 0


@dataclass(frozen=True, slots=True)
class CosignRequest:
    """A checkpoint, and the proof that it extends the tree of size ``old``."""

    old: int
    proof: tuple[bytes, ...]
    text: str
    checkpoint: Checkpoint


def _parsed(body: bytes) -> tuple[int, tuple[bytes, ...], str]:
    """Return old size, proof and checkpoint note of a request."""
    try:
        head, gap, signed = body.decode().partition("\n\n")
    except UnicodeDecodeError as error:
        raise InputError("the request is not UTF-8 text") from error
    lines = head.split("\n")
    old = _OLD.fullmatch(lines[0])
    if not gap or old is None:
        raise InputError(
            "the request does not begin with 'old', a size and an empty line"
        )
    proof = tuple(from_base64(line) for line in lines[1:])
    if len(proof) > MAX_PROOF or any(len(step) != merkle.HASH_BYTES for step in proof):
        raise InputError(f"the proof is not up to {MAX_PROOF} SHA-256 hashes")
    return int(old[1]), proof, signed


def admitted(body: bytes, logs: Logs) -> CosignRequest | WitnessAnswer:
    """Return a request whose log and signature are known; otherwise why not.

    400 for what cannot be read or whose old size is past its checkpoint's, 404 for a
    log that is not known, 403 where none of its keys signed. Checkpoints with extension
    lines are refused (400): auditkit writes none.
    """
    try:
        old, proof, signed = _parsed(body)
        text = signed.rpartition("\n\n")[0] + "\n"
        checkpoint = note.parse_checkpoint(text)
    except AuditkitError as error:
        return WitnessAnswer(400, f"{error.message}\n")
    keys = logs.get(checkpoint.origin, ())
    if not keys:
        return WitnessAnswer(404, "this log is not known here\n")
    if not any(_signed(signed, key) for key in keys):
        return WitnessAnswer(403, "no known key of this log signed the checkpoint\n")
    if old > checkpoint.size:
        return WitnessAnswer(400, "the old size is larger than the checkpoint's\n")
    return CosignRequest(old, proof, text, checkpoint)


def _signed(signed: str, key: PublicKey) -> bool:
    try:
        note.open_checkpoint(signed, key)
    except VerificationError:
        return False
    return True


def refusal(request: CosignRequest, seen: LastCosigned) -> WitnessAnswer | None:
    """Return why a request cannot be cosigned after ``seen``; None where it can.

    409 where the old size is not the size last cosigned, or the same size has another
    root; 422 where the consistency proof does not hold (RFC 9162 2.1.4.2).
    """
    new = request.checkpoint
    if request.old != seen.size or (new.size == seen.size and new.root != seen.root):
        return WitnessAnswer(409, f"{seen.size}\n", SIZE)
    try:
        if seen.size == 0:
            _nothing_to_prove(request.proof)
        else:
            merkle.verify_consistency(
                seen.size, new.size, seen.root, new.root, request.proof
            )
    except VerificationError as error:
        return WitnessAnswer(422, f"{error.message}\n")
    return None


def _nothing_to_prove(proof: Sequence[bytes]) -> None:
    if proof:
        raise VerificationError("nothing was seen before, so there is nothing to prove")
