"""Files that lie beside a log: read whole, and written so that they stay written."""

from __future__ import annotations

import os
import stat
import tempfile
import warnings
from pathlib import Path

from auditkit.errors import LogError

MAX_BESIDE = 64 * 1024 * 1024  # bytes; no file beside a log is longer
_TO_READ = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
_OF_OTHERS = stat.S_IRWXG | stat.S_IRWXO


class OpenToOthers(UserWarning):
    """A private file has rights wider than its owner's."""


def read_beside(path: Path, *, private: bool = False) -> bytes:
    """Return what a file holds; FileNotFoundError where there is none.

    A pipe or a device in its place is refused and never waited for (LogError), and so
    is a file of over ``MAX_BESIDE`` bytes. Where the file is ``private``, OpenToOthers
    is warned of where others than its owner have a right to it.
    """
    with os.fdopen(os.open(path, _TO_READ), "rb") as file:
        found = os.fstat(file.fileno())
        if not stat.S_ISREG(found.st_mode):
            raise LogError(
                "this is no file but a pipe or a device",
                where=str(path),
                what_to_do="put the file back that belongs here",
            )
        if found.st_size > MAX_BESIDE:
            raise LogError(
                f"this is longer than {MAX_BESIDE} bytes",
                where=str(path),
                what_to_do="put the file back that belongs here",
            )
        if private and os.name == "posix" and found.st_mode & _OF_OTHERS:
            warnings.warn(
                f"{path}: others than its owner have a right to this private key "
                f"(mode {stat.S_IMODE(found.st_mode):04o}); run 'chmod 600' on it",
                OpenToOthers,
                stacklevel=2,
            )
        return file.read()


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
