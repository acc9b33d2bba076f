"""The files in an archive (zip, tar, tar.gz, gz), bounded: a stranger packed it.

Nothing is unpacked to disk, and no more is unpacked than the archive may honestly hold.
"""

from __future__ import annotations

import gzip
import stat
import struct
import tarfile
import zipfile
from collections.abc import Iterator
from hashlib import sha256
from pathlib import PurePath
from typing import BinaryIO

from auditkit.fleet.judging import FoundFile, Refused
from auditkit.proof.packet import MAX_PACKET

HEAD = 512
"""Bytes by which an archive is known."""
TIMES, AND_BYTES = 100, 64 * 1024 * 1024
"""An archive is read until it gives so many times its size, and so many bytes more.

Packets of hashes and signatures shrink to about a third; nothing honest to a hundredth.
"""
_MOST_DIRECTORY = 64 * 1024 * 1024  # bytes of a zip's own list, which is read whole
_ZIP, _GZIP, _TAR = b"PK\x03\x04", b"\x1f\x8b", b"ustar"
_TAR_AT = 257
_ZIP_END, _ZIP64_END = b"PK\x05\x06", b"PK\x06\x06"
_TOO_LONG = f"the file is longer than {MAX_PACKET} bytes"
_NESTED = "an archive within an archive is not opened: unpack it first"
_TOO_MUCH = "the archive unpacks to far more than packets do: the rest is not read"
_DAMAGED = "the archive is damaged: what comes after this is not read"


def is_archive(head: bytes) -> bool:
    """Return whether a file that begins so is an archive, or packed."""
    is_tar = head[_TAR_AT : _TAR_AT + len(_TAR)] == _TAR
    return is_tar or head.startswith((_ZIP, _GZIP, _ZIP_END))


def members(name: str, file: BinaryIO, size: int) -> Iterator[FoundFile | Refused]:
    """Yield the files in an archive of ``size`` bytes that lies at ``name``.

    Each is called after both, such as ``week.zip!RO-1.json``.
    """
    head = file.read(HEAD)
    file.seek(0)
    left = _Left(TIMES * size + AND_BYTES)
    try:
        if head.startswith((_ZIP, _ZIP_END)):
            yield from _in_zip(name, file, size, left)
        elif head.startswith(_GZIP):
            yield from _in_gzip(name, file, left)
        else:
            yield from _in_tar(name, _Counted(file, left))
    except _TooMuchError:
        yield Refused(name, _TOO_MUCH)
    except Exception:  # noqa: BLE001  whatever a damaged archive makes its readers raise
        yield Refused(name, _DAMAGED)


class _TooMuchError(Exception):
    """More was unpacked than may be."""


class _Left:
    """How many bytes may still be unpacked."""

    def __init__(self, number: int) -> None:
        self.number = number

    def take(self, number: int) -> None:
        self.number -= number
        if self.number < 0:
            raise _TooMuchError


class _Counted:
    """A stream of which each byte is counted, so that a skipped one is, too."""

    def __init__(self, file: BinaryIO | gzip.GzipFile, left: _Left) -> None:
        self._file, self._left = file, left

    def read(self, number: int) -> bytes:
        data = self._file.read(number)
        self._left.take(len(data))
        return data


def _in_zip(
    name: str, file: BinaryIO, size: int, left: _Left
) -> Iterator[FoundFile | Refused]:
    if _directory_bytes(file, size) > _MOST_DIRECTORY:
        raise _TooMuchError
    with zipfile.ZipFile(file) as opened:
        for info in opened.infolist():
            path = f"{name}!{info.filename}"
            if info.is_dir():
                continue
            if stat.S_ISLNK(info.external_attr >> 16):
                yield Refused(path, "a symbolic link is not followed")
            elif info.flag_bits & 1:
                yield Refused(path, "it is encrypted: unpack it first")
            elif info.file_size > MAX_PACKET:
                yield Refused(path, _TOO_LONG)
            else:
                left.take(info.file_size)
                with opened.open(info) as member:
                    yield _found(path, member.read(MAX_PACKET + 1))


def _directory_bytes(file: BinaryIO, size: int) -> int:
    """Return how long a zip's own list says that it is (APPNOTE 4.3.14, 4.3.16)."""
    file.seek(max(0, size - 65557))
    tail = file.read()
    place = tail.rfind(_ZIP_END)
    if place < 0:
        raise zipfile.BadZipFile
    (told,) = struct.unpack_from("<L", tail, place + 12)
    larger = tail.rfind(_ZIP64_END)
    if told == 0xFFFFFFFF and larger >= 0:
        (told,) = struct.unpack_from("<Q", tail, larger + 40)
    file.seek(0)
    return int(told)


def _in_gzip(name: str, file: BinaryIO, left: _Left) -> Iterator[FoundFile | Refused]:
    """Yield the files of a packed tar, or the one file that is packed by itself."""
    head = _Counted(gzip.GzipFile(fileobj=file), left).read(HEAD)
    file.seek(0)
    unpacked = _Counted(gzip.GzipFile(fileobj=file), left)
    if _begins_tar(head):
        yield from _in_tar(name, unpacked)
        return
    path = f"{name}!{PurePath(name).name.removesuffix('.gz')}"
    data = unpacked.read(MAX_PACKET + 1)
    yield Refused(path, _TOO_LONG) if len(data) > MAX_PACKET else _found(path, data)


def _begins_tar(head: bytes) -> bool:
    try:
        tarfile.TarInfo.frombuf(head, "utf-8", "surrogateescape")
    except tarfile.TarError:
        return head == bytes(HEAD)  # one without any file
    return True


def _in_tar(name: str, stream: _Counted) -> Iterator[FoundFile | Refused]:
    with tarfile.open(fileobj=stream, mode="r|", errorlevel=1) as opened:  # type: ignore[call-overload]
        for info in iter(opened.next, None):
            opened.members.clear()  # else all of them are kept in mind
            path = f"{name}!{info.name}"
            if info.isdir():
                continue
            if info.issym() or info.islnk():
                yield Refused(path, "a symbolic link is not followed")
            elif not info.isreg() or info.issparse():
                yield Refused(path, "this is neither a file nor a folder")
            elif info.size > MAX_PACKET:
                yield Refused(path, _TOO_LONG)
            else:
                member = opened.extractfile(info)
                if member is not None:
                    yield _found(path, member.read(MAX_PACKET + 1))


def _found(path: str, data: bytes) -> FoundFile | Refused:
    if is_archive(data[:HEAD]):
        return Refused(path, _NESTED)
    return FoundFile(path, sha256(data).digest(), data)
