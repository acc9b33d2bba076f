"""Bytes of attachments beside the log: one file each, named by its SHA-256 in hex.

The folder (``shop.auditlog.attachments``) has mode 0700, its files 0600. A file never
changes once it is there, so a backup copies those that it lacks, and drops those that
an entry says were erased. What lies here is checked against the log, never trusted.
"""

from __future__ import annotations

import hashlib
import os
from contextlib import contextmanager
from typing import TYPE_CHECKING

from auditkit.errors import LogError, disk_advice
from auditkit.log.disk import read_beside, sync_folder

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

_DIGITS = 64
_BLOCK = 1 << 16
_MOST_SAID = 1024


def folder_of(log: Path) -> Path:
    """Return the folder that holds the attachments of a log."""
    return log.with_name(log.name + ".attachments")


class Attachments:
    """The attachments of one log. The folder is made when the first one is put."""

    def __init__(self, log: Path) -> None:
        self.folder = folder_of(log)
        self._said: dict[str, tuple[tuple[int, ...], str]] = {}

    def put(self, data: bytes) -> str:
        """Keep bytes, on the disk when this returns; return their SHA-256 in hex."""
        digest = hashlib.sha256(data).hexdigest()
        if self.get(digest) == data:
            return digest
        with _clear_errors(self.folder):
            self.folder.mkdir(mode=0o700, exist_ok=True)
            made = self.folder / f"{digest}.new"
            made.unlink(missing_ok=True)
            handle = os.open(made, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
            with os.fdopen(handle, "wb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
            made.replace(self.folder / digest)
            sync_folder(self.folder)
            sync_folder(self.folder.parent)
        return digest

    def __contains__(self, digest: object) -> bool:
        return isinstance(digest, str) and (self.folder / digest).is_file()

    def get(self, digest: str) -> bytes | None:
        """Return what lies here under a digest, unchecked; None for nothing."""
        with _clear_errors(self.folder):
            try:
                return read_beside(self.folder / digest)
            except FileNotFoundError:
                return None

    def said_of(self, digest: str, say: Callable[[str, bytes], str]) -> str | None:
        """Return what ``say`` says of a digest and the bytes under it; None for none.

        Each digest has one ``say``, which is asked again only where the file changed.
        """
        with _clear_errors(self.folder):
            try:
                found = (self.folder / digest).stat()
            except FileNotFoundError:
                return None
        stamp = (found.st_ino, found.st_size, found.st_mtime_ns, found.st_ctime_ns)
        known = self._said.get(digest)
        if known is not None and known[0] == stamp:
            return known[1]
        data = self.get(digest)
        if data is None:
            return None
        self._said[digest] = stamp, (said := say(digest, data))
        while len(self._said) > _MOST_SAID:
            del self._said[next(iter(self._said))]
        return said

    def names(self) -> frozenset[str]:
        """Return the digests of all that lies here; other files are not looked at."""
        with _clear_errors(self.folder):
            try:
                found = [path.name for path in self.folder.iterdir()]
            except FileNotFoundError:
                return frozenset()
        return frozenset(n for n in found if len(n) == _DIGITS and n.isalnum())

    def erase(self, digest: str) -> None:
        """Overwrite and delete a file; nothing happens where it is gone already.

        The bytes survive this on a drive that moves what it writes, on a file system
        that copies on write, and in snapshots.
        """
        path = self.folder / digest
        with _clear_errors(self.folder):
            try:
                # Not to wait at a pipe for who would read it.
                handle = os.open(path, os.O_WRONLY | getattr(os, "O_NONBLOCK", 0))
            except FileNotFoundError:
                return
            with os.fdopen(handle, "wb") as file:
                left = os.fstat(file.fileno()).st_size
                while left > 0:
                    left -= file.write(bytes(min(left, _BLOCK)))
                file.flush()
                os.fsync(file.fileno())
            path.unlink()
            sync_folder(self.folder)


@contextmanager
def _clear_errors(folder: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise LogError(
            f"an attachment could not be read or written: {error.strerror}",
            where=str(error.filename or folder),
            what_to_do=disk_advice(error),
        ) from error
