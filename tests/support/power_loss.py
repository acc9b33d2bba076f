"""A disk that loses what was not synced: SQLite's virtual file system, in Python.

apsw (zlib licence) lets a program stand between SQLite and its files. What SQLite
writes goes to the true files, and is noted; ``image`` says what a disk could hold if
the power went now. A disk keeps what was synced. Of the rest it may have kept any
part, in any order, and half of a write.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import apsw

from auditkit.log import file_form
from auditkit.log.store import Store


class PowerLost(BaseException):
    """The power went: no code of the program runs on."""


@dataclass
class NotedFile:
    """What was synced of a file, and what was written to it since."""

    synced: bytearray
    is_named: bool
    waiting: list[tuple[int, bytes | None]] = field(default_factory=list)

    def sync(self) -> None:
        """Take in all that waits: from now on it is there for good."""
        for offset, data in self.waiting:
            _put(self.synced, offset, data)
        self.waiting.clear()
        self.is_named = True

    def image(self, chance: random.Random) -> bytes | None:
        """Return what a disk may hold of it; None where it may not have the name."""
        if not self.is_named and chance.random() < 0.5:
            return None
        image, kept = bytearray(self.synced), chance.choice([0.0, 0.5, 0.9, 1.0])
        for offset, data in self.waiting:
            if chance.random() < kept:
                torn = data is not None and chance.random() < 0.2
                _put(image, offset, data[: len(data) // 2] if torn and data else data)
        return bytes(image)


def _put(image: bytearray, offset: int, data: bytes | None) -> None:
    """Write at a place, or cut off there."""
    if data is None:
        del image[offset:]
        return
    if len(image) < offset:
        image.extend(bytes(offset - len(image)))
    image[offset : offset + len(data)] = data


class Disk:
    """The files that SQLite opens by way of it, and when the power goes."""

    def __init__(self, name: str) -> None:
        self.files: dict[str, NotedFile] = {}
        self.left = -1  # operations until the power goes; below zero: never
        self.name = name
        self._vfs = _Vfs(self)

    def step(self) -> None:
        """Count an operation; raise PowerLost where it was the last."""
        if self.left == 0:
            raise PowerLost
        self.left -= 1

    def image(self, folder: Path, chance: random.Random) -> None:
        """Write into a folder what a disk could hold now."""
        for name, noted in self.files.items():
            data = noted.image(chance)
            if data is not None:
                (folder / Path(name).name).write_bytes(data)


class _Vfs(apsw.VFS):
    def __init__(self, disk: Disk) -> None:
        self._disk = disk
        super().__init__(disk.name, "")

    def xOpen(self, name: Any, flags: list[int]) -> _File:  # noqa: N802
        return _File(self._disk, name, flags)

    def xDelete(self, name: str, sync: bool) -> None:  # noqa: N802, FBT001
        self._disk.step()
        self._disk.files.pop(name, None)
        super().xDelete(name, sync)


class _File(apsw.VFSFile):
    def __init__(self, disk: Disk, name: Any, flags: list[int]) -> None:
        path = name.filename() if isinstance(name, apsw.URIFilename) else str(name)
        was = Path(path).read_bytes() if Path(path).exists() else None
        self._disk = disk
        self._noted = disk.files.setdefault(
            path, NotedFile(bytearray(was or b""), was is not None)
        )
        super().__init__("", name, flags)

    def xWrite(self, data: bytes, offset: int) -> None:  # noqa: N802
        self._disk.step()
        self._noted.waiting.append((offset, bytes(data)))
        super().xWrite(data, offset)

    def xTruncate(self, size: int) -> None:  # noqa: N802
        self._disk.step()
        self._noted.waiting.append((size, None))
        super().xTruncate(size)

    def xSync(self, flags: int) -> None:  # noqa: N802
        self._disk.step()
        self._noted.sync()
        super().xSync(flags)


class _Connection:
    """An apsw connection that is called as the standard library's is."""

    def __init__(self, path: Path, disk: Disk) -> None:
        self._db = apsw.Connection(
            str(path), vfs=disk.name, flags=apsw.SQLITE_OPEN_READWRITE
        )
        self.text_factory: object = None

    def __getattr__(self, name: str) -> Any:
        return getattr(self._db, name)


def store_on(path: Path, disk: Disk, *, synchronous: str = "full") -> Store:
    """Return the store of a log file that lies on such a disk.

    apsw passes no shared memory on, so this program holds the file alone.
    """
    connection: Any = _Connection(path, disk)
    connection.execute("pragma locking_mode = exclusive")
    connection.execute(f"pragma synchronous = {synchronous}")
    connection.execute("pragma wal_autocheckpoint = 6")
    return Store(connection, path, file_form.schema_version(connection))
