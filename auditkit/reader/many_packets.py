"""Verifying many packet files: one process for a few, all cores for many.

Every file gets the answer that it would get alone; a file that cannot be used stops
none of the others. A packet is read where it is verified, and not kept: what
remains of it is one small ``FileOutcome``.
"""

from __future__ import annotations

import gc
import os
import signal
import stat
from collections.abc import Callable, Generator, Iterable, Iterator, Sequence
from concurrent.futures import BrokenExecutor, ProcessPoolExecutor
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path

from auditkit.errors import AuditkitError, InputError
from auditkit.proof.check_packet import MAX_PACKET, verify_packet
from auditkit.proof.check_report import NOTHING_HELD, CheckReport
from auditkit.reader.file_kind import GivenFile, packet_in
from auditkit.reader.outcomes import KEPT_PROBLEMS, FileOutcome

Progress = Callable[[int, int], None]
MoreChecks = Callable[[CheckReport], CheckReport]
"""What else is held against a packet: its report to the report that then
holds. It must be picklable (a module's function, or ``functools.partial`` of one)."""

# Below so many packets, starting processes costs more than it saves.
SMALL = 32
# Packets that a process takes at once: progress is told after each.
CHUNK = 50
# A pipe without a writer opens at once, to be refused; Windows changes no line end.
_TO_READ = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)


@dataclass(frozen=True, slots=True)
class _RunSettings:
    """What is asked of every packet in one run."""

    expect_key: str | None = None
    trust: str | None = None
    more_checks: MoreChecks | None = None

    def outcome(self, path: str) -> FileOutcome:
        try:
            data = _read(path)
            report = verify_packet(
                data, where=path, expect_key=self.expect_key, trust=self.trust
            )
            if self.more_checks is not None:
                report = self.more_checks(report)
        except AuditkitError as error:
            return FileOutcome(path, verified=False, unusable=str(error))
        return FileOutcome(
            path,
            verified=report.verified,
            entries=report.entries,
            log_key=report.log_key,
            origin=report.checkpoint.origin if report.checkpoint else "",
            repair_order=report.repair_order if report.verified else None,
            verdict=report.said_verdict,
            signed_verdict=report.verdict if report.verified else None,
            agrees=report.judged is None or report.judged.agrees,
            held=NOTHING_HELD if report.judged is None else report.judged.held,
            problems=report.problems[:KEPT_PROBLEMS],
            found=len(report.problems),
        )


def _read(path: str) -> bytes:
    """Return a file's bytes; InputError where it cannot be read or is no packet."""
    try:
        # Few calls to the system: there may be ten thousand files.
        file = os.open(path, _TO_READ)
        try:
            found = os.fstat(file)
            if not stat.S_ISREG(found.st_mode):
                raise InputError(
                    "this is not a file",
                    where=path,
                    what_to_do="name the packets in it",
                )
            if found.st_size > MAX_PACKET:
                raise InputError(
                    f"the file is longer than {MAX_PACKET} bytes",
                    where=path,
                    what_to_do="name another file",
                )
            data = os.read(file, found.st_size + 1)
        finally:
            os.close(file)
    except (OSError, ValueError) as error:
        said = getattr(error, "strerror", None) or str(error)
        raise InputError(
            f"it cannot be read ({said})", where=path, what_to_do="check the path"
        ) from error
    if len(data) != found.st_size:
        raise InputError(
            "the file changed while it was read",
            where=path,
            what_to_do="verify it again",
        )
    return packet_in(GivenFile(path, data)).packet.data


def verify_packets(  # noqa: PLR0913  what is asked, and how it is run
    paths: Iterable[str | Path],
    *,
    expect_key: str | None = None,
    trust: str | None = None,
    more_checks: MoreChecks | None = None,
    progress: Progress | None = None,
    processes: int | None = None,
) -> Iterator[FileOutcome]:
    """Yield what each file came to, in the order of ``paths``.

    ``expect_key`` and ``trust`` are as for ``verify_packet``. ``progress`` gets the
    numbers of files done and of all files. ``processes`` is by default the number of
    cores for ``SMALL`` packets and more, one for fewer. Raises AuditkitError where a
    process was killed from outside, and whatever ``more_checks`` raises that is no
    AuditkitError.
    """
    names = [str(path) for path in paths]
    settings = _RunSettings(expect_key, trust, more_checks)
    cores = processes or (1 if len(names) < SMALL else os.cpu_count() or 1)
    done = 0
    found = _alone(names, settings) if cores == 1 else _pooled(names, settings, cores)
    with closing(found):
        for chunk in found:
            yield from chunk
            done += len(chunk)
            if progress is not None:
                progress(done, len(names))


def _alone(
    names: Sequence[str], settings: _RunSettings
) -> Generator[list[FileOutcome]]:
    for name in names:
        yield [settings.outcome(name)]


def _pooled(
    names: Sequence[str], settings: _RunSettings, cores: int
) -> Generator[list[FileOutcome]]:
    # At least four turns for each process: the last ones end at about the same time.
    width = max(1, min(CHUNK, -(-len(names) // (4 * cores))))
    chunks = [names[at : at + width] for at in range(0, len(names), width)]
    with ProcessPoolExecutor(cores, initializer=_start, initargs=(settings,)) as pool:
        try:
            yield from pool.map(_chunk, chunks)
        except BrokenExecutor as error:
            raise AuditkitError(
                "a process that verified packets was killed from outside",
                what_to_do="free memory, or verify fewer packets at once",
            ) from error


@dataclass(slots=True)
class _Worker:
    """What a process of the pool was started for."""

    settings: _RunSettings = field(default_factory=_RunSettings)


_worker = _Worker()


def _start(settings: _RunSettings) -> None:
    """Make a process of the pool ready."""
    _worker.settings = settings
    # A keyboard interrupt reaches every process; the first one decides and ends all.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    # Only tracebacks of errors make reference cycles: collected after each chunk.
    gc.freeze()
    gc.disable()


def _chunk(names: Sequence[str]) -> list[FileOutcome]:
    made = [_worker.settings.outcome(name) for name in names]
    gc.collect()
    return made
