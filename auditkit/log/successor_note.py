"""Which log continues this one, kept beside its keys where the log cannot say it.

An older copy that is continued under a new name cannot be closed: its key has signed
more than it holds. Where the newest copy is found again and put back, nothing in it
says that the shop went on elsewhere. To write to it would make two logs of one past. So
whoever is about to sign looks here first. It guards against an accident, not against a
shop that deletes this file.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

from auditkit.errors import LogError
from auditkit.log.disk import put_text, read_beside
from auditkit.text.display_text import quoted

if TYPE_CHECKING:
    from auditkit.log.open_log import OpenLog

_NAME = "continued-by"


def remember(folder: Path, origin: str) -> None:
    """Keep the name of the log that goes on, unless nothing can be written there.

    Who may not write to the keys' folder signs nothing either.
    """
    if folder.is_dir() and os.access(folder, os.W_OK):
        put_text(folder / _NAME, f"{origin}\n")


def refuse_continued(log: OpenLog) -> None:
    """Raise LogError where another log continues this one."""
    kept = log.keys / _NAME
    try:
        origin = read_beside(kept).decode("utf-8", "replace").strip()
    except (FileNotFoundError, PermissionError):
        return
    raise LogError(
        f"the log {quoted(origin)} continues this one, as it was said when an older "
        "copy lay here",
        where=str(log.store.path),
        what_to_do="write to that log; packets of what this one holds can still be "
        f"made. If that log is lost, remove {kept} and continue this one with "
        "'auditkit succeed'",
    )
