"""A shop's side: a witness's cosignature for a checkpoint of the shop's own log."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from auditkit.errors import InputError, VerificationError
from auditkit.log.kept_tree import KeptTree
from auditkit.log.store import Store
from auditkit.outsiders.ask_witness import TIMEOUT, ask_for_cosignature
from auditkit.proof import cosignature, note
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
        return _asked(store, url, cosigner, checkpoint_note, timeout)
    finally:
        store.close()


def _asked(
    store: Store, url: str, cosigner: Cosigner, earlier: str | None, timeout: float
) -> CosignedCheckpoint:
    log, ring = store.path, read_keys(store.log_rows()).ring
    key, tree = ring.log_key, KeptTree(store, ring.signer)
    text = earlier or store.newest_checkpoint()
    if key is None or not text:
        raise InputError(
            "the log names no key or holds no checkpoint",
            where=str(log),
            what_to_do=f"run 'auditkit verify {log}', and restore it from a backup",
        )
    checkpoint = _ours(store, text, key, tree)
    size, root = checkpoint.size, checkpoint.root
    line = ask_for_cosignature(
        url,
        cosigner,
        text,
        key,
        lambda old: list(tree.prove_consistency(old, size, root).path),
        timeout=timeout,
    )
    whole = cosignature.add_line(text, line)
    (found,) = cosignature.cosignatures(whole, [cosigner])
    return CosignedCheckpoint(checkpoint, whole, found)


def _ours(store: Store, text: str, key: PublicKey, tree: KeptTree) -> note.Checkpoint:
    """Return the checkpoint; raise InputError where it is not of this log's entries."""
    log = store.path
    try:
        checkpoint = note.open_checkpoint(text, key)
    except VerificationError as error:
        raise InputError(
            f"this is no checkpoint of this log: {error.message}",
            where=str(log),
            what_to_do="name a file that 'auditkit checkpoint' wrote for it",
        ) from error
    if not tree.holds(checkpoint):
        raise InputError(
            "the checkpoint is not of the entries that this log holds",
            where=str(log),
            what_to_do=f"run 'auditkit verify {log}': entries were altered or removed",
        )
    return checkpoint
