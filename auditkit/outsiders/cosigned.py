"""A shop's side: a witness's cosignature for a checkpoint of the shop's own log."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from auditkit.errors import InputError, VerificationError
from auditkit.log.store import Store
from auditkit.outsiders.ask_witness import TIMEOUT, ask_for_cosignature
from auditkit.proof import cosignature, merkle, note
from auditkit.proof.check_log import read_keys
from auditkit.proof.cosignature import Cosignature, Cosigner
from auditkit.proof.keys import PublicKey


@dataclass(frozen=True, slots=True)
class CosignedCheckpoint:
    """A checkpoint with a witness's cosignature: ``note`` is the whole text."""

    checkpoint: note.Checkpoint
    note: str
    cosignature: Cosignature


def cosigned_checkpoint(
    log: Path,
    url: str,
    cosigner: Cosigner,
    *,
    checkpoint_note: str | None = None,
    timeout: float = TIMEOUT,
) -> CosignedCheckpoint:
    """Return a log's checkpoint with the cosignature of the witness at ``url``.

    ``checkpoint_note`` is an earlier one, perhaps cosigned by others; otherwise the
    log's newest is taken. Raises InputError where it does not fit the log's entries,
    or where the witness gives no cosignature.
    """
    store = Store.open(log)
    try:
        key = read_keys(store.log_rows()).ring.log_key
        kept = store.checkpoints()
        leaves = store.leaves()
    finally:
        store.close()
    text = checkpoint_note or (kept[-1][1] if kept else "")
    if key is None or not text:
        raise InputError(
            "the log names no key or holds no checkpoint",
            where=str(log),
            what_to_do=f"run 'auditkit verify {log}', and restore it from a backup",
        )
    checkpoint = _ours(log, text, key, leaves)
    line = ask_for_cosignature(
        url,
        cosigner,
        text,
        key,
        lambda old: merkle.prove_consistency(leaves[: checkpoint.size], old),
        timeout=timeout,
    )
    whole = cosignature.add_line(text, line)
    (found,) = cosignature.cosignatures(whole, [cosigner])
    return CosignedCheckpoint(checkpoint, whole, found)


def _ours(log: Path, text: str, key: PublicKey, leaves: list[bytes]) -> note.Checkpoint:
    """Return the checkpoint; raise InputError where it is not of these leaves."""
    try:
        checkpoint = note.open_checkpoint(text, key)
    except VerificationError as error:
        raise InputError(
            f"this is no checkpoint of this log: {error.message}",
            where=str(log),
            what_to_do="name a file that 'auditkit checkpoint' wrote for it",
        ) from error
    root = merkle.root(leaves[: checkpoint.size])
    if checkpoint.size > len(leaves) or root != checkpoint.root:
        raise InputError(
            "the checkpoint is not of the entries that this log holds",
            where=str(log),
            what_to_do=f"run 'auditkit verify {log}': entries were altered or removed",
        )
    return checkpoint
