"""An SQLite file that anyone may have altered: opened, read and its errors told."""

from __future__ import annotations

import os
import sqlite3
from contextlib import contextmanager
from typing import TYPE_CHECKING

from auditkit.errors import LogError

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

_BUSY_SECONDS = 30.0
LOWEST, HIGHEST = -(2**63), 2**63 - 1  # of an SQLite integer


def connect(path: Path, mode: str, *, wanders: bool = False) -> sqlite3.Connection:
    """Return a connection without transactions of its own; ``mode`` is SQLite's.

    It works in the thread that made it; where it ``wanders`` in any, in one at a time.
    """
    uri = f"{path.absolute().as_uri()}?mode={mode}"
    connection = sqlite3.connect(
        uri,
        uri=True,
        timeout=_BUSY_SECONDS,
        isolation_level=None,
        check_same_thread=not wanders,
    )
    # Text that is not UTF-8 any more must reach verification, not stop it.
    connection.text_factory = decoded
    return connection


def mode_of(path: Path) -> str:
    """Return how SQLite shall open a file: one that may only be read stays alone.

    Of a file that cannot be written, and that nobody has open, SQLite would leave its
    shared memory behind: it cannot delete that when it ends.
    """
    who_asks = os.access in os.supports_effective_ids
    if os.access(path, os.W_OK, effective_ids=who_asks):
        return "rw"
    is_open = path.with_name(f"{path.name}-wal").exists()
    return "ro" if is_open else "ro&immutable=1"


def connect_new(path: Path) -> sqlite3.Connection:
    """Return a connection to a file that its owner alone may read, made if need be.

    Customers' texts lie in it. What SQLite keeps beside it gets the same rights.
    """
    try:
        os.close(os.open(path, os.O_CREAT | os.O_WRONLY, 0o600))
    except OSError as error:
        raise sqlite3.OperationalError(f"unable to open: {error.strerror}") from error
    return connect(path, "rw")


def decoded(raw: bytes) -> str:
    """Return text as it lies in the file, with a mark for what is not UTF-8."""
    return raw.decode("utf-8", "replace")


# The file may have been altered by anyone: a cell of another type becomes text
# that no signature fits, so that verification can name the entry.
def as_text(value: object) -> str:
    """Return a cell that has to be text."""
    return value if isinstance(value, str) else f"not text: {value!r}"


def as_bytes(value: object) -> bytes:
    """Return a cell that has to be bytes, none where it is not."""
    return value if isinstance(value, bytes) else b""


def as_int(value: object) -> int:
    """Return a cell that has to be an integer, -1 where it is not."""
    return value if isinstance(value, int) else -1


@contextmanager
def clear_errors(path: Path) -> Iterator[None]:
    """Raise what SQLite refuses as a LogError that says what to do.

    What is wrong with the program, such as a call from another thread, is none.
    """
    try:
        yield
    except sqlite3.ProgrammingError:
        raise
    except (sqlite3.Error, UnicodeDecodeError) as error:
        # SQLite names what it cannot read, and that need not be text any more.
        text = str(error)
        if "full" in text or "disk I/O" in text:
            message = f"the disk is full or cannot be written ({text})"
            what_to_do = (
                "free some space and run it again: what was acknowledged is safe"
            )
        elif "locked" in text:
            message = "another program keeps the log locked"
            what_to_do = "wait until it ends, then run it again"
        elif "readonly" in text or "unable to open" in text:
            message = f"it cannot be opened for writing ({text})"
            what_to_do = "check the rights of the file and of its folder"
        else:
            message = f"it cannot be read as a log ({text})"
            what_to_do = "restore it from a backup and verify that"
        raise LogError(message, where=str(path), what_to_do=what_to_do) from error
