"""One bay for each log: a second one is refused while the first runs.

What is signed in and what waits to be written lie in one process's memory. The lock is
the system's own and ends with the process, however that ends; the file stays.
"""

from __future__ import annotations

import os
import sys
from typing import IO, TYPE_CHECKING

from auditkit.errors import LogError, disk_advice

if TYPE_CHECKING:
    from pathlib import Path

_FAR = 1 << 30  # a byte beyond what is written: where locks forbid reading too


def lock_bay(log: Path) -> IO[str]:
    """Return the open lock file of a log's bay; LogError where another bay runs.

    The lock holds until the file is closed. Its one line names the process.
    """
    path = log.with_name(f"{log.name}.bay")
    try:
        file = path.open("a+", encoding="ascii", errors="replace")
    except OSError as error:
        raise LogError(
            f"it cannot be opened: {error.strerror}",
            where=str(path),
            what_to_do=disk_advice(error),
        ) from error
    try:
        _take(file.fileno())
    except OSError as error:
        file.seek(0)
        holder = file.read(40).strip() or "of unknown number"
        file.close()
        raise LogError(
            f"a bay of this log runs already, as process {holder}",
            where=str(log),
            what_to_do="use that one, or stop it first",
        ) from error
    file.seek(0)
    file.truncate()
    file.write(f"{os.getpid()}\n")
    file.flush()
    return file


def _take(handle: int) -> None:
    """Lock a file for this process alone; OSError where another holds it."""
    if sys.platform == "win32":
        import msvcrt

        os.lseek(handle, _FAR, os.SEEK_SET)
        msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
    else:
        import fcntl

        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
