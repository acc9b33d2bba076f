"""A CAN log of another tool -> text that ``auditkit.obd`` decodes, and its problems.

Reads candump logs (.log), ASC, BLF, TRC, CSV and MF4 through python-can, each also as
.gz. python-can's readers pass over much damage in silence, so what was read is held
against what the file claims: every line of a text log either gave a frame or is told,
a BLF is held against the sizes and counts of its header. Nothing is repaired.
"""

from __future__ import annotations

import gc
import hashlib
import io
import logging
import math
import sys
import zlib
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import PurePath
from typing import TYPE_CHECKING

from auditkit.capture import blf, ids, text_log
from auditkit.capture.tally import BAD, Tally
from auditkit.errors import InputError

if TYPE_CHECKING:
    from can import Message

MOST = 256 * 1024 * 1024
"""Most bytes that a compressed log may hold."""

# The library would print lines of a stranger's file; what gave no frame is told here.
logging.getLogger("can").addHandler(logging.NullHandler())

_FRAME = 8
_UNFINISHED = b"UnFinMF "


@dataclass(frozen=True, slots=True)
class CanLog:
    """What a log holds for OBD.

    ``text`` has a line ``(seconds) can0 ID#BYTES`` for each classic data frame with an
    OBD id; ``frames_read`` counts all frames. ``problems`` say that the file is not
    what it claims to be. ``sha256`` is the digest of the file as it was given.
    """

    text: str
    frames_read: int
    notes: tuple[str, ...]
    problems: tuple[str, ...]
    sha256: str


_SUFFIXES = (*text_log.FORMS, ".blf", ".mf4")


def read_log(data: bytes, name: str) -> CanLog:
    """Return what a log file holds; ``name`` tells the format by its ending.

    Raises ``InputError`` where python-can is missing, the format is not known, or not
    one frame can be read.
    """
    try:
        import can  # noqa: F401
    except ImportError as error:
        raise InputError(
            "reading a CAN log needs python-can",
            where=name,
            what_to_do="in the project's folder: pip install '.[can]'",
        ) from error
    digest = hashlib.sha256(data).hexdigest()
    found = _Found(name=name)
    path = PurePath(name.lower())
    if path.suffix == ".gz":
        data, path = _unpacked(data, name, found), path.with_suffix("")
    if path.suffix in text_log.FORMS:
        frames = text_log.frames(data, path.suffix, found)
    elif path.suffix == ".blf":
        frames = _blf(data, found)
    elif path.suffix == ".mf4":
        frames = _mf4(data, found)
    else:
        known = ", ".join(_SUFFIXES)
        raise InputError(
            f"{path.suffix or 'a name without ending'} is no known log format",
            where=name,
            what_to_do=f"use {known}, also with .gz",
        )
    for frame in frames:
        found.take(frame)
    if not found.frames:
        why = f": {found.problems[0]}" if found.problems else ""
        raise InputError(
            f"no frame could be read{why}",
            where=name,
            what_to_do="check that the file is whole and that its ending "
            "names its format",
        )
    return found.log(digest)


@dataclass(slots=True)
class _Found(Tally):
    name: str = ""
    lines: list[str] = field(default_factory=list)
    frames: int = 0
    channels: dict[str, None] = field(default_factory=dict)
    last: float = -math.inf

    def take(self, frame: Message) -> None:
        """Keep a frame with an OBD id, count every other."""
        self.frames += 1
        name = ids.id_text(frame.arbitration_id, extended=frame.is_extended_id)
        if frame.is_error_frame:
            self.counts["error frames"] += 1
        elif frame.is_remote_frame:
            self.counts["remote frames"] += 1
        elif not (ids.is_tester(name) or ids.is_responder(name)):
            self.counts["frames with ids that are not OBD's"] += 1
        elif frame.is_fd:
            self.counts["CAN FD frames with OBD ids"] += 1
        elif len(frame.data) != frame.dlc or len(frame.data) > _FRAME:
            self.problem(
                f"frame {self.frames} ({name}) states {frame.dlc} bytes and has "
                f"{len(frame.data)}"
            )
        else:
            self._keep(frame, name)

    def _keep(self, frame: Message, name: str) -> None:
        at = frame.timestamp
        if not (math.isfinite(at) and at >= 0):
            self.counts["frames without a usable time"] += 1
            stamp = ""
        else:
            self.counts["frames with a time before the last one's"] += at < self.last
            self.last = at
            stamp = f"({at:.6f}) "
        self.channels[str(frame.channel)] = None
        self.lines.append(f"{stamp}can0 {name}#{frame.data.hex().upper()}")

    def log(self, digest: str) -> CanLog:
        """Return everything."""
        if len(self.channels) > 1:
            names = ", ".join(self.channels)
            self.problem(f"OBD frames of several channels are mixed: {names}")
        text = "".join(f"{line}\n" for line in self.lines)
        return CanLog(text, self.frames, self.all_notes(), self.all_problems(), digest)


def _unpacked(data: bytes, name: str, found: _Found) -> bytes:
    """Return what gzip (RFC 1952) members hold; a cut one is a problem."""
    whole = bytearray()
    while data:
        member = zlib.decompressobj(wbits=31)
        try:
            whole += member.decompress(data, MOST + 1 - len(whole))
        except zlib.error as error:
            raise InputError(
                f"the compressed data are damaged: {error}",
                where=name,
                what_to_do="get the file again",
            ) from error
        if len(whole) > MOST:
            raise InputError(
                f"the log holds more than {MOST} bytes",
                where=name,
                what_to_do="give one readout at a time",
            )
        if not member.eof:
            found.problem("the compressed data end early: the file is cut short")
            break
        data = member.unused_data
    return bytes(whole)


def _blf(data: bytes, found: _Found) -> Iterator[Message]:
    from can import BLFReader
    from can.io.blf import BLFParseError

    claims = blf.claims(data)
    if claims is None:
        found.problem("it does not begin as a BLF file")
        return
    held = blf.contents(data)
    if held is None:
        raise InputError(
            f"the log holds more than {MOST} bytes",
            where=found.name,
            what_to_do="give one readout at a time",
        )
    read = 0
    try:
        for frame in BLFReader(io.BytesIO(data)):
            read += 1
            yield frame
    except (*BAD, BLFParseError, zlib.error) as error:
        why = str(error) or "what follows is no object of its format"
        found.problem(f"after {read} frames the file is damaged: {why}")
    for what in blf.differences(claims, held, len(data), read):
        found.problem(what)


def _mf4(data: bytes, found: _Found) -> Iterator[Message]:
    if data.startswith(_UNFINISHED):
        found.problem("the measurement was never finished: its counts may be short")
    read = 0
    with _overheard() as errors:
        reader = _mf4_reader(data, found)
        try:
            for frame in reader:
                read += 1
                yield frame
        except Exception as error:  # noqa: BLE001  its library raises what it likes
            found.problem(f"after {read} frames the file is damaged: {error}")
    if errors:
        found.problem(f"its library passed over damage: {errors[0]}")


def _mf4_reader(data: bytes, found: _Found) -> Iterable[Message]:
    import can

    try:
        return can.MF4Reader(io.BytesIO(data))
    except NotImplementedError as error:
        raise InputError(
            "reading MF4 needs one library more",
            where=found.name,
            what_to_do="in the project's folder: pip install '.[mf4]'",
        ) from error
    except Exception as error:  # noqa: BLE001  its library raises what it likes
        found.problem(f"it cannot be opened as MF4: {error}")
        return ()


class _Ear(logging.Handler):
    """Keeps the last line of what is logged."""

    def __init__(self) -> None:
        super().__init__(logging.ERROR)
        self.heard: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        self.heard.append(record.getMessage().strip().rpartition("\n")[2])


@contextmanager
def _overheard() -> Iterator[list[str]]:
    """Give what the MF4 library would print: it logs errors and reads on.

    A reader that failed while it was made complains again when it is freed.
    """
    ear = _Ear()
    log = logging.getLogger("asammdf")
    handlers, log.handlers = log.handlers, [ear]
    spread, log.propagate = log.propagate, False
    hook, sys.unraisablehook = sys.unraisablehook, lambda _: None
    try:
        yield ear.heard
    finally:
        gc.collect()
        sys.unraisablehook = hook
        log.handlers, log.propagate = handlers, spread
