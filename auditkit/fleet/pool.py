"""Judging files on all cores, their outcomes in the order in which the files came.

Few chunks are under way at once, so that memory does not grow with the number of
files. Processes are started anew and not forked, since the one that starts them holds
a database.
"""

from __future__ import annotations

import gc
import multiprocessing
import os
import signal
from collections import deque
from collections.abc import Iterable, Iterator
from concurrent.futures import BrokenExecutor, Future, ProcessPoolExecutor
from contextlib import contextmanager

from auditkit.errors import AuditkitError
from auditkit.fleet.judging import FoundFile, Outcome, Refused, judged_files
from auditkit.order.policy import DEFAULT, Policy

CHUNK_FILES, CHUNK_BYTES = 50, 4 * 1024 * 1024
SMALL = 32
"""Below so many files, starting processes costs more than it saves."""
_AHEAD = 3  # chunks under way for each process
KILLED = "the process that read it was killed from outside"


def chunks(files: Iterable[FoundFile]) -> Iterator[list[FoundFile]]:
    """Yield files in lists of about the same work."""
    made: list[FoundFile] = []
    size = 0
    for file in files:
        made.append(file)
        size += len(file.data)
        if len(made) == CHUNK_FILES or size >= CHUNK_BYTES:
            yield made
            made, size = [], 0
    if made:
        yield made


def judged_in_processes(
    files: Iterable[FoundFile], policy: Policy = DEFAULT, processes: int | None = None
) -> Iterator[Outcome]:
    """Yield what each file gives; one that kills its process is refused by name."""
    cores = processes or os.cpu_count() or 1
    waiting = chunks(files)
    while True:
        pool = _Pool(cores, policy)
        yield from pool.run(waiting)
        if not pool.broken:
            return
        yield from judged_one_by_one(pool.left, policy)


class _Pool:
    """A pool of processes until it ends or one of them is killed."""

    def __init__(self, cores: int, policy: Policy) -> None:
        self.cores, self.policy = cores, policy
        self.broken = False
        self.left: list[FoundFile] = []

    def run(self, waiting: Iterator[list[FoundFile]]) -> Iterator[Outcome]:
        """Yield outcomes; where it breaks, ``left`` are the files under way."""
        under_way: deque[tuple[list[FoundFile], Future[list[Outcome]]]] = deque()
        with _executor(self.cores) as pool:
            while not self.broken:
                try:
                    while len(under_way) < self.cores * _AHEAD:
                        chunk = next(waiting, None)
                        if chunk is None:
                            break
                        self.left = chunk
                        done = pool.submit(judged_files, chunk, self.policy)
                        under_way.append((chunk, done))
                        self.left = []
                    if not under_way:
                        return
                    outcomes = under_way[0][1].result()
                except BrokenExecutor:
                    self.broken = True
                    break
                under_way.popleft()
                yield from outcomes
        self.left = [file for chunk, _ in under_way for file in chunk] + self.left


def judged_one_by_one(files: Iterable[FoundFile], policy: Policy) -> Iterator[Outcome]:
    """Yield what each file gives, so that it is known which one kills its process."""
    waiting = iter(files)
    file = next(waiting, None)
    while file is not None:
        with _executor(1) as pool:
            while file is not None:
                try:
                    yield from pool.submit(judged_files, [file], policy).result()
                except BrokenExecutor:
                    yield Refused(file.path, KILLED, "", file.sha256, len(file.data))
                    file = next(waiting, None)
                    break
                file = next(waiting, None)


@contextmanager
def _executor(cores: int) -> Iterator[ProcessPoolExecutor]:
    """Yield a pool whose processes do start: whatever ends one later was not that."""
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(cores, mp_context=context, initializer=_ready) as pool:
        try:
            pool.submit(os.getpid).result()
        except BrokenExecutor as error:
            raise AuditkitError(
                "the processes that judge packets do not start",
                what_to_do="in a script, put this call below 'if __name__ == "
                "\"__main__\":', since each of them runs the script's lines first",
            ) from error
        yield pool


def end_while_starting() -> None:
    """End this process where it is one of a pool that still runs the script's lines.

    The script is about to do again what started it. Who started it is told.
    """
    if getattr(multiprocessing.current_process(), "_inheriting", False):
        raise SystemExit(1)


def _ready() -> None:
    """Make a process of the pool ready."""
    # A keyboard interrupt reaches every process; the first one decides and ends all.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    gc.freeze()


def judged_here(
    files: Iterable[FoundFile], policy: Policy = DEFAULT
) -> Iterator[Outcome]:
    """Yield what each file gives, judged in this process."""
    for file in files:
        yield from judged_files([file], policy)
