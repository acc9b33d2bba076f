"""The newest checkpoint that was signed, kept beside the keys and not in the log.

A log put back from a backup is shorter than what its shop has signed already, and
others hold that. To sign on from there would make two histories under one name. So
whoever is about to sign looks here first. It guards against an accident, not against a
shop that deletes this file: whoever holds the later checkpoint finds that out.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

from auditkit.errors import AuditkitError, LogError
from auditkit.log.disk import put_text, read_beside
from auditkit.proof import note
from auditkit.proof.keys import PublicKey
from auditkit.proof.note import Checkpoint

if TYPE_CHECKING:
    from auditkit.log.open_log import OpenLog

_NAME = "newest.checkpoint"


def remember(folder: Path, text: str, log_key: PublicKey) -> None:
    """Keep a signed checkpoint, unless a larger one is kept or nothing can be written.

    Who may not write to the keys' folder signs nothing either. To be called by one
    program at a time.
    """
    if not folder.is_dir() or not os.access(folder, os.W_OK):
        return
    given = note.open_checkpoint(text, log_key)
    known = recall(folder, given.origin, log_key)
    if known is not None and known.size >= given.size:
        return
    put_text(folder / _NAME, text)


def recall(folder: Path, origin: str, log_key: PublicKey) -> Checkpoint | None:
    """Return the newest checkpoint that was signed, None where none is kept."""
    text = recall_text(folder)
    if text is None:
        return None
    path = str(folder / _NAME)
    try:
        known = note.open_checkpoint(text, log_key)
    except AuditkitError as error:
        raise LogError(
            "this is not a checkpoint that this log's key signed",
            where=path,
            what_to_do="restore it, or put there the newest one that 'auditkit "
            "checkpoint' gave",
        ) from error
    if known.origin != origin:
        raise LogError(
            f"this is of another log, {known.origin!r}: its keys lie here",
            where=path,
            what_to_do="put back this log's keys folder",
        )
    return known


def recall_text(folder: Path) -> str | None:
    """Return the text of the checkpoint kept, unchecked; None where there is none.

    Who may not read the keys' folder has none, and signs nothing.
    """
    try:
        return read_beside(folder / _NAME).decode("utf-8", "replace")
    except (FileNotFoundError, PermissionError):
        return None


def is_behind(log: OpenLog, known: Checkpoint | None) -> str:
    """Return how a log lies behind a signed checkpoint; empty where it does not.

    The entry that follows a checkpoint states its root, signed: one row is read.
    """
    if known is None:
        return ""
    size, _ = log.store.head()
    if size < known.size:
        return f"it holds {size} entries, and its key has signed {known.size} already"
    if log.tree.root(known.size) != known.root:
        return f"its first {known.size} entries are not those that its key has signed"
    return ""


def refuse_behind(log: OpenLog) -> None:
    """Raise LogError where a log is behind what was signed; see ``is_behind``."""
    path = log.store.path
    told = is_behind(log, recall(log.keys, log.origin, log.log_key))
    if told:
        raise LogError(
            f"an older copy of the log lies here: {told}",
            where=str(path),
            what_to_do="put the newest copy back; if it is lost, go on under "
            "a new name with "
            f"'auditkit succeed {path} NEW --reason TEXT'",
        )
