"""Checkpoints that a log must hold: what was signed once is not taken back."""

from __future__ import annotations

from typing import TYPE_CHECKING

from auditkit.errors import AuditkitError, LogError
from auditkit.log import key_files, newest_checkpoint
from auditkit.log.kept_tree import KeptTree
from auditkit.proof import note
from auditkit.proof.check_report import LogProblem

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from auditkit.log.pointers import OrderRow
    from auditkit.log.store import Store
    from auditkit.proof.keyring import KeyRing
    from auditkit.proof.note import Checkpoint


def unsigned_closings(
    checkpoints: Sequence[tuple[int, str]], orders: Iterable[OrderRow]
) -> tuple[LogProblem, ...]:
    """Return which closed repair orders lack the checkpoint over their verdict.

    Whoever closes one signs it in the same transaction.
    """
    held = {size for size, _ in checkpoints}
    return tuple(
        LogProblem(
            verdict, f"the checkpoint that closed repair order {order_id} is missing"
        )
        for order_id, _, verdict in orders
        if verdict is not None and verdict + 1 not in held
    )


def newest_missing(
    store: Store, ring: KeyRing, checkpoints: Sequence[tuple[int, str]]
) -> tuple[tuple[LogProblem, ...], tuple[str, ...]]:
    """Return whether a log lacks the newest checkpoint that is kept beside its keys.

    Problems, and notes: a copy that was put back, older or of another history, is sound
    in itself, but it signs nothing. ``checkpoints`` are its last ones.
    """
    kept = newest_checkpoint.recall_text(key_files.folder_of(store.path))
    key = ring.log_key
    if kept is None or key is None:
        return (), ()
    try:
        newest = note.open_checkpoint(kept, key)
    except AuditkitError as error:
        text = f"the newest checkpoint kept beside the keys: {error.message}"
        return (LogProblem(None, text),), ()
    first = checkpoints[0][0] if checkpoints else 0
    signed = (
        f"the log's key signed a checkpoint over {newest.size} entries (it is kept "
        "beside the keys), and this log does not hold "
    )
    if not _is_over(newest, store, ring):
        older = "an older copy of the log lies here, or another history of it"
        what_to_do = "put the newest copy back, or see 'auditkit succeed'"
        return (), (f"{older}: {signed}those; {what_to_do}",)
    if newest.size < first or dict(checkpoints).get(newest.size) == kept:
        return (), ()
    return (LogProblem(None, f"{signed}it"),), ()


def _is_over(checkpoint: Checkpoint, store: Store, ring: KeyRing) -> bool:
    """Return whether a checkpoint is over the entries that a log begins with."""
    try:
        return checkpoint.size > 0 and KeptTree(store, ring.signer).holds(checkpoint)
    except LogError:  # what is kept of the tree is false: that is told by itself
        return False
