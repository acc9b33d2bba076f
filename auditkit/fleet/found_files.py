"""The files below folders that may carry a packet, and what is left out of them.

Nothing is followed or waited for: a link, a pipe, a device is told and left alone.
"""

from __future__ import annotations

import os
import stat
from collections.abc import Iterable, Iterator
from hashlib import sha256
from pathlib import Path

from auditkit.fleet.judging import FoundFile, Refused
from auditkit.proof.packet import MAX_PACKET

# A pipe without a writer opens at once, to be refused; Windows changes no line end.
_TO_READ = (
    os.O_RDONLY
    | getattr(os, "O_NONBLOCK", 0)
    | getattr(os, "O_NOFOLLOW", 0)
    | getattr(os, "O_BINARY", 0)
)


def paths_below(folders: Iterable[Path]) -> Iterator[Path | Refused]:
    """Yield the path of each file in and below folders, sorted, and what is no file."""
    for folder in folders:
        if folder.is_dir():
            yield from _below(os.fspath(folder))
        else:
            yield folder


def _below(folder: str) -> Iterator[Path | Refused]:
    try:
        with os.scandir(folder) as found:
            entries = sorted(found, key=lambda entry: entry.name)
    except OSError as error:
        yield Refused(folder, f"it cannot be read ({error.strerror or error})")
        return
    for entry in entries:
        if entry.is_symlink():
            yield Refused(entry.path, "a symbolic link is not followed")
        elif entry.is_dir(follow_symlinks=False):
            yield from _below(entry.path)
        elif entry.is_file(follow_symlinks=False):
            yield Path(entry.path)
        else:
            yield Refused(entry.path, "this is neither a file nor a folder")


def read_file(path: Path) -> FoundFile | Refused:
    """Return a file's bytes with their digest, or why it is not read."""
    name = os.fspath(path)
    try:
        file = os.open(path, _TO_READ)
        try:
            found = os.fstat(file)
            if not stat.S_ISREG(found.st_mode):
                return Refused(name, "this is neither a file nor a folder")
            if found.st_size > MAX_PACKET:
                return Refused(name, f"the file is longer than {MAX_PACKET} bytes")
            data = os.read(file, found.st_size + 1)
        finally:
            os.close(file)
    except (OSError, ValueError) as error:
        said = getattr(error, "strerror", None) or str(error)
        return Refused(name, f"it cannot be read ({said})")
    if len(data) != found.st_size:
        return Refused(name, "the file changed while it was read")
    return FoundFile(name, sha256(data).digest(), data)
