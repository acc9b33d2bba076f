"""Collecting: folders are walked, new packets judged, and written by batches."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime
from itertools import chain, islice
from pathlib import Path
from typing import TYPE_CHECKING

from auditkit.errors import AuditkitError, InputError
from auditkit.fleet.collected import Collected
from auditkit.fleet.collection_file import check_form, opened
from auditkit.fleet.found_files import (
    container,
    files_at,
    paths_below,
    read_again,
    refuse_missing,
)
from auditkit.fleet.judging import FoundFile, Outcome, Refused
from auditkit.fleet.pool import (
    SMALL,
    end_while_starting,
    judged_here,
    judged_in_processes,
)
from auditkit.fleet.tables_held import TablesHeld
from auditkit.fleet.telling import told
from auditkit.fleet.terms import Terms, begin, check_terms, program
from auditkit.fleet.writing import BATCH, PacketAgain, Writer
from auditkit.order.policy import Policy
from auditkit.reader.file_kind import GivenFile, packet_in

if TYPE_CHECKING:
    from auditkit.fleet.rows.values import Row

Progress = Callable[[int, int], None]
"""Gets how many files are done, and how many there are."""
Judging = Callable[[Iterator[FoundFile], Policy], Iterator[Outcome]]
"""Files and a policy -> what each gives, in their order."""
_BATCH_BYTES = 32 * 1024 * 1024  # of packets in one transaction
_ENDS = ("", ".wal")
_LOOKED_UP, _LOOKED_UP_BYTES = 500, 32 * 1024 * 1024


def on_all_cores(files: Iterator[FoundFile], policy: Policy) -> Iterator[Outcome]:
    """Yield what files give: judged in this process where there are few."""
    first = list(islice(files, SMALL))
    if len(first) < SMALL:
        return judged_here(first, policy)
    return judged_in_processes(chain(first, files), policy)


@dataclass(frozen=True, slots=True)
class HowCollected:
    """By which terms, who judges, and who is told how far it is."""

    terms: Terms = field(default_factory=Terms)
    judging: Judging = on_all_cores
    progress: Progress | None = None


def packet_again(path: str, digest: bytes) -> bytes | None:
    """Return a packet that lay at a path before; None where it is gone."""
    for file in read_again(path):
        try:
            content = packet_in(GivenFile(path, file.data)).packet.data
        except AuditkitError:
            continue
        if hashlib.sha256(content).digest() == digest:
            return content
    return None


@dataclass(frozen=True, slots=True)
class Also:
    """What a run has beside folders.

    ``own`` are files of ours that may lie in a folder, ``files`` packets that lie in
    none, ``again`` reads a packet once more.
    """

    own: tuple[Path, ...] = ()
    files: tuple[FoundFile, ...] = ()
    again: PacketAgain = packet_again


def collect(
    folders: Sequence[Path],
    into: Path,
    how: HowCollected | None = None,
    also: Also | None = None,
) -> Collected:
    """Take the packets in and below folders into a collection's file.

    Raises InputError where the file cannot be used. Whatever ends it early, what was
    committed stays, and the same call goes on where it ended; a file without anything
    in it is not left behind.
    """
    end_while_starting()
    how, also = how or HowCollected(), also or Also()
    refuse_missing(folders)
    folders = [folder.absolute() for folder in folders]  # they are looked for again
    is_new = not into.exists()
    if is_new:
        _begun(into, how.terms)
    try:
        return _collected(folders, into, how, also)
    except BaseException:
        with suppress(AuditkitError):  # what ended it is told, not this
            if is_new and not _holds_any(into):
                into.unlink()
        raise


def _holds_any(into: Path) -> bool:
    with opened(into, writes=False) as connection:
        return TablesHeld(connection).ask("SELECT count(*) FROM packet") != [(0,)]


def _collected(
    folders: Sequence[Path], into: Path, how: HowCollected, also: Also
) -> Collected:
    with opened(into, writes=True) as connection:
        tables = TablesHeld(connection)
        check_form(connection, into)
        check_terms(tables, into, how.terms)
        run_id = tables.most("run", "run_id") + 1
        tables.add("run", [{"run_id": run_id, "started": _now(), "program": program()}])
        run = _Run(tables, (into, *also.own), how.progress)
        writer = Writer(tables, run_id, how.terms, also.again)
        outcomes = how.judging(run.new_files(folders, also.files), how.terms.policy)
        for batch in _batches(outcomes):
            loaded = writer.load(batch)
            run.done.left_out += [one for one in batch if isinstance(one, Refused)]
            run.done.added += loaded.added
            run.done.held_before += loaded.held_before
            run.done.not_merged += loaded.not_merged
        done = told(tables, run.done)
        tables.run(
            "UPDATE run SET finished = ?, seen = ?, added = ?, held_before = ?, "
            "refused = ? WHERE run_id = ?",
            [
                *(_now(), done.seen, done.added, done.held_before),
                *(len(done.left_out), run_id),
            ],
        )
        return done


def _begun(into: Path, terms: Terms) -> None:
    """Make an empty collection: it is there whole, or not at all."""
    part = into.with_name(f"{into.name}.{os.getpid()}.part")
    try:
        with opened(part, writes=True) as connection:
            begin(TablesHeld(connection), terms)
            connection.execute("CHECKPOINT")  # closing tells nobody where it fails
        part.replace(into)
    except InputError as error:
        raise InputError(
            error.message, where=str(into), what_to_do=error.what_to_do
        ) from error
    finally:
        for name in (part.name, f"{part.name}.wal"):
            part.with_name(name).unlink(missing_ok=True)


def _batches(outcomes: Iterator[Outcome]) -> Iterator[list[Outcome]]:
    """Yield outcomes in lists of bounded number, and of packets of bounded size."""
    made: list[Outcome] = []
    size = 0
    for outcome in outcomes:
        made.append(outcome)
        size += outcome.size
        if len(made) >= BATCH or size >= _BATCH_BYTES:
            yield made
            made, size = [], 0
    if made:
        yield made


class _Run:
    """One run: what is new is found; what is held, or left out, is noted."""

    def __init__(
        self, tables: TablesHeld, own: Sequence[Path], progress: Progress | None
    ) -> None:
        self.done = Collected()
        self._tables, self._progress = tables, progress
        self._own = {f"{path.absolute()}{end}" for path in own for end in _ENDS}
        self._total = 0

    def new_files(
        self, folders: Iterable[Path], more: Iterable[FoundFile]
    ) -> Iterator[FoundFile]:
        """Yield the files that are not held yet; ``more`` come last."""
        if self._progress is not None:
            self._total = sum(1 for _ in paths_below(folders))
        found: list[FoundFile] = []
        size = 0
        for file in chain(self._files(folders), more):
            if isinstance(file, Refused):
                self.done.left_out.append(file)
                continue
            found.append(file)
            size += len(file.data)
            if len(found) == _LOOKED_UP or size >= _LOOKED_UP_BYTES:
                yield from self._not_held(found)
                found, size = [], 0
        yield from self._not_held(found)

    def _files(self, folders: Iterable[Path]) -> Iterator[FoundFile | Refused]:
        """Yield all files below folders and in archives; this collection's own not."""
        for done, path in enumerate(paths_below(folders), 1):
            if self._progress is not None:
                self._progress(done, self._total)
            if isinstance(path, Refused):
                self.done.seen += 1
                yield path
            elif str(path.absolute()) not in self._own:
                for file in files_at(path):
                    self.done.seen += 1
                    yield file

    def _not_held(self, files: Sequence[FoundFile]) -> Iterator[FoundFile]:
        met: list[Row] = [{"sha256": file.sha256} for file in files]
        with self._tables.beside("met", "packet", met):
            found = self._tables.ask(
                "SELECT sha256, refused_because, path, sha256 FROM packet "
                "SEMI JOIN met USING (sha256) UNION ALL "
                "SELECT w.sha256, NULL, p.path, p.sha256 FROM wrapping w "
                "SEMI JOIN met USING (sha256) "
                "JOIN packet p ON p.sha256 = w.packet_sha256"
            )
        held = {bytes(row[0]): row for row in found}
        for file in files:
            if file.sha256 not in held:
                yield file
                continue
            _, why, path, digest = held[file.sha256]
            if why is not None:
                self.done.left_out.append(Refused.again(file.path, why))
            else:
                self.done.held_before += 1
            if path != file.path and container(path) is None:
                self._tables.run(
                    "UPDATE packet SET path = ? WHERE sha256 = ?", [file.path, digest]
                )


def _now() -> datetime:
    return datetime.now(UTC).replace(tzinfo=None)
