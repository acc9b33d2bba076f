"""The files below folders that may carry a packet, and what is left out of them.

Nothing is followed or waited for: a link, a pipe, a device is told and left alone.
"""

from __future__ import annotations

import os
import stat
from collections.abc import Iterable, Iterator
from hashlib import sha256
from pathlib import Path

from auditkit.errors import InputError
from auditkit.fleet.archives import HEAD, is_archive, members
from auditkit.fleet.judging import FoundFile, Refused
from auditkit.proof.packet import MAX_PACKET

# A pipe without a writer opens at once, to be refused; Windows changes no line end.
_TO_READ = (
    os.O_RDONLY
    | getattr(os, "O_NONBLOCK", 0)
    | getattr(os, "O_NOFOLLOW", 0)
    | getattr(os, "O_BINARY", 0)
)
_NO_FILE = "this is neither a file nor a folder"
_LINK = "a symbolic link is not followed"


def paths_below(folders: Iterable[Path]) -> Iterator[Path | Refused]:
    """Yield the path of each file in and below folders, sorted, and what is no file."""
    for folder in folders:
        if folder.is_dir():
            yield from _below(os.fspath(folder))
        else:
            yield folder


def refuse_missing(folders: Iterable[Path]) -> None:
    """Raise InputError for a folder that is not there."""
    for folder in folders:
        if not folder.exists():
            raise InputError(
                "there is no such folder or file",
                where=str(folder),
                what_to_do="check the path",
            )


def _below(folder: str) -> Iterator[Path | Refused]:
    try:
        with os.scandir(folder) as found:
            entries = sorted(found, key=lambda entry: entry.name)
    except OSError as error:
        yield Refused(_name(folder), f"it cannot be read ({error.strerror or error})")
        return
    for entry in entries:
        if entry.is_symlink():
            yield Refused(_name(entry.path), _LINK)
        elif entry.is_dir(follow_symlinks=False):
            yield from _below(entry.path)
        elif entry.is_file(follow_symlinks=False):
            yield Path(entry.path)
        else:
            yield Refused(_name(entry.path), _NO_FILE)


def files_at(path: Path) -> Iterator[FoundFile | Refused]:
    """Yield the file at a path with its digest; of an archive each file in it."""
    name = _name(path)
    try:
        handle = os.open(path, _TO_READ)
        with os.fdopen(handle, "rb") as file:
            found = os.fstat(handle)
            if not stat.S_ISREG(found.st_mode):
                yield Refused(name, _NO_FILE)
                return
            head = file.read(HEAD)
            if is_archive(head):
                file.seek(0)
                yield from members(name, file, found.st_size)
            elif found.st_size > MAX_PACKET:
                yield Refused(name, f"the file is longer than {MAX_PACKET} bytes")
            else:
                yield _whole(name, head + file.read(MAX_PACKET), found.st_size)
    except (OSError, ValueError) as error:
        said = getattr(error, "strerror", None) or str(error)
        why = _LINK if path.is_symlink() else f"it cannot be read ({said})"
        yield Refused(name, why)


def _whole(name: str, data: bytes, size: int) -> FoundFile | Refused:
    if len(data) != size:
        return Refused(name, "the file changed while it was read")
    return FoundFile(name, sha256(data).digest(), data)


def read_again(name: str) -> Iterator[FoundFile]:
    """Yield the files of a name that was given before; none where they are gone."""
    path = container(name)
    for file in () if path is None else files_at(path):
        if isinstance(file, FoundFile) and file.path == name:
            yield file


def container(name: str) -> Path | None:
    """Return the file that a name is, or that holds it (``a!b`` may be b in a)."""
    pieces = name.split("!")
    tried = (Path("!".join(pieces[:n])) for n in range(len(pieces), 0, -1))
    return next((path for path in tried if path.is_file()), None)


def _name(path: str | Path) -> str:
    """Return a path as text: what is no UTF-8 in it is told by its bytes."""
    return os.fsencode(path).decode("utf-8", "backslashreplace")
