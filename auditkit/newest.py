"""The newest checkpoint that was signed, kept beside the keys and not in the log.

A log put back from a backup is shorter than what its shop has signed already, and
others hold that. To sign on from there would make two histories under one name. So
whoever is about to sign looks here first. It guards against an accident, not against a
shop that deletes this file: that one is caught by who holds the later checkpoint.
"""

from __future__ import annotations

from pathlib import Path

from auditkit import note
from auditkit.errors import AuditkitError, LogError
from auditkit.keys import PublicKey
from auditkit.tree import root

_NAME = "newest.checkpoint"


def remember(folder: Path, text: str, log_key: PublicKey) -> None:
    """Keep a signed checkpoint, unless a larger one or no key at all is kept here."""
    if not folder.is_dir():
        return
    size = note.open_checkpoint(text, log_key).size
    known = recall(folder, log_key)
    if known is not None and note.open_checkpoint(known, log_key).size >= size:
        return
    part = folder / f"{_NAME}.part"
    part.write_text(text, encoding="utf-8")
    part.replace(folder / _NAME)


def recall(folder: Path, log_key: PublicKey) -> str | None:
    """Return the text of the newest checkpoint signed, None where none is kept."""
    path = folder / _NAME
    try:
        text = path.read_text(encoding="utf-8")
        note.open_checkpoint(text, log_key)
    except FileNotFoundError:
        return None
    except (UnicodeDecodeError, AuditkitError) as error:
        message = "this is not a checkpoint that this log's key signed"
        mend = "restore it, or put there the newest one that 'auditkit checkpoint' gave"
        raise LogError(message, where=str(path), mend=mend) from error
    return text


def is_behind(leaves: list[bytes], text: str, log_key: PublicKey) -> str:
    """Return how a log's leaves fall short of a signed checkpoint; empty if not."""
    known = note.open_checkpoint(text, log_key)
    if len(leaves) < known.size:
        return (
            f"it holds {len(leaves)} entries, and its key has signed {known.size} "
            "already"
        )
    if root(leaves[: known.size]) != known.root:
        return f"its first {known.size} entries are not those that its key has signed"
    return ""


def refuse_behind(
    path: Path, folder: Path, leaves: list[bytes], log_key: PublicKey
) -> None:
    """Raise LogError where a log is behind what was signed; see ``is_behind``."""
    known = recall(folder, log_key)
    told = "" if known is None else is_behind(leaves, known, log_key)
    if told:
        message = f"an older copy of the log lies here: {told}"
        mend = (
            "put the newest copy back; if it is lost, go on under a new name with "
            f"'auditkit init --log NEW --after {path} --reason TEXT'"
        )
        raise LogError(message, where=str(path), mend=mend)
