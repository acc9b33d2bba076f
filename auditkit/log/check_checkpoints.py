"""Checkpoints that a log must hold: what was signed once is not taken back."""

from __future__ import annotations

from typing import TYPE_CHECKING

from auditkit.errors import AuditkitError
from auditkit.log import key_files, newest_checkpoint
from auditkit.proof import note
from auditkit.proof.check_report import LogProblem

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from pathlib import Path

    from auditkit.log.pointers import OrderRow
    from auditkit.proof.keys import PublicKey


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
    path: Path, key: PublicKey | None, checkpoints: Sequence[tuple[int, str]], size: int
) -> tuple[LogProblem, ...]:
    """Return whether a log lacks the newest checkpoint that is kept beside its keys.

    ``checkpoints`` are its last ones. An older copy that was put back, of a smaller
    ``size``, is sound in itself: it signs nothing, though.
    """
    kept = newest_checkpoint.recall_text(key_files.folder_of(path))
    if kept is None or key is None:
        return ()
    try:
        newest = note.open_checkpoint(kept, key)
    except AuditkitError as error:
        text = f"the newest checkpoint kept beside the keys: {error.message}"
        return (LogProblem(None, text),)
    first = checkpoints[0][0] if checkpoints else 0
    if first <= newest.size <= size and dict(checkpoints).get(newest.size) != kept:
        text = f"the log's key signed a checkpoint over {newest.size} entries (it is "
        text += "kept beside the keys), and this log does not hold it"
        return (LogProblem(None, text),)
    return ()
