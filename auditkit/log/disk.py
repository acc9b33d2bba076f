"""What is written stays written: a folder's names reach the disk too."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path


def put_text(path: Path, text: str) -> None:
    """Put a text in a file's place, whole or not at all, for its owner's eyes."""
    # A name of its own: another program may be writing another one there.
    handle, name = tempfile.mkstemp(".part", f"{path.name}.", path.parent)
    part = Path(name)
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)


def sync_folder(folder: Path) -> None:
    """Write a folder's names to the disk, before a log names what lies in it."""
    if os.name == "posix":
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
