"""A process that appends to a log and tells each number that was acknowledged.

Each is forked from a process that has imported auditkit already (``forkserver``), so
that hundreds can be killed within seconds.
"""

from __future__ import annotations

import multiprocessing
import resource
import signal
from dataclasses import dataclass
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from pathlib import Path

from auditkit.errors import AuditkitError
from auditkit.log.ledger import Ledger

_FORKING = multiprocessing.get_context("forkserver")
_FORKING.set_forkserver_preload(
    ["auditkit.log.ledger", "cryptography.hazmat.primitives.serialization.pkcs12"]
)
EVENT = {
    "kind": "code_clear",
    "at": "2026-03-02T09:00:00+01:00",
    "by": "mechanic-1",
    "tool": "x" * 400,
}


def _append(
    path: Path, passphrase: bytes, count: int, file_size: int | None, told: Connection
) -> None:
    """Append ``count`` events one after the other; send each number, or the error."""
    if file_size is not None:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (file_size, file_size))
    with Ledger.open(path) as ledger:
        signer = ledger.signer("mechanic-1", passphrase)
        told.send("ready")
        for _ in range(count):
            try:
                (seq,) = ledger.append(
                    "RO-1", [EVENT], person="mechanic-1", signer=signer
                )
            except AuditkitError as error:
                told.send(str(error))
                raise SystemExit(2) from error
            told.send(seq)


@dataclass(frozen=True)
class Appending:
    """The process, and what it tells."""

    process: BaseProcess
    told: Connection

    def ready(self) -> None:
        """Wait until it holds its key and begins to append."""
        assert self.told.recv() == "ready"

    def first(self, number: int) -> list[int | str]:
        """Return the first it tells, as soon as there are so many."""
        return [self.told.recv() for _ in range(number)]

    def end(self) -> list[int | str]:
        """Return what it told until it ended; what a kill cut short is not told."""
        heard = []
        try:
            while True:
                heard.append(self.told.recv())
        except EOFError:
            self.process.join()
            self.told.close()
            return heard


def appending(
    path: Path, passphrase: bytes, count: int, *, file_size: int | None = None
) -> Appending:
    """Start a process that appends; no file of it grows over ``file_size`` bytes."""
    told, tell = _FORKING.Pipe(duplex=False)
    how = (path, passphrase, count, file_size, tell)
    process = _FORKING.Process(target=_append, args=how)
    process.start()
    tell.close()
    return Appending(process, told)
