"""Collecting: folders are walked, new packets judged, and written by batches."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import UTC, datetime
from importlib.metadata import version
from itertools import chain, islice
from pathlib import Path
from typing import TYPE_CHECKING

from auditkit.errors import InputError
from auditkit.fleet.collected import Collected, FoundConflict
from auditkit.fleet.collection_file import check_form, is_empty, opened
from auditkit.fleet.found_files import paths_below, read_file
from auditkit.fleet.judging import (
    FoundFile,
    Outcome,
    Refused,
    judged_together,
    rules_sha256,
)
from auditkit.fleet.pool import SMALL, judged_here, judged_in_processes
from auditkit.fleet.tables import FORMAT, statements
from auditkit.fleet.tables_held import TablesHeld
from auditkit.fleet.writing import BATCH, Loaded, Writer
from auditkit.order.policy import DEFAULT, Policy
from auditkit.reader.file_kind import GivenFile, packet_in

if TYPE_CHECKING:
    from auditkit.fleet.rows.packet_rows import PacketRows
    from auditkit.fleet.rows.values import Row

Progress = Callable[[int, int], None]
"""Gets how many files are done, and how many there are."""
_LOOKED_UP, _LOOKED_UP_BYTES = 500, 32 * 1024 * 1024


def collect(
    folders: Sequence[Path],
    into: Path,
    *,
    policy: Policy = DEFAULT,
    processes: int | None = None,
    progress: Progress | None = None,
) -> Collected:
    """Take the packets in and below folders into a collection's file.

    Raises InputError where the file cannot be used. Whatever ends it early, what was
    committed stays, and the same call goes on where it ended.
    """
    with opened(into, writes=True) as connection:
        tables = TablesHeld(connection)
        _begin(tables, into, policy, is_new=is_empty(connection))
        check_form(connection, into)
        _check_judged_by(tables, into, policy)
        run_id = tables.most("run", "run_id") + 1
        started = _now()
        tables.add(
            "run", [{"run_id": run_id, "started": started, "program": _program()}]
        )
        run = _Run(tables, into, policy, progress)
        writer = Writer(tables, run_id, run.together)
        outcomes = run.judged(run.new_files(folders), processes)
        while batch := list(islice(outcomes, BATCH)):
            run.note(batch, writer.load(batch))
        done = run.finished()
        tables.run(
            "UPDATE run SET finished = ?, seen = ?, added = ?, held_before = ?, "
            "refused = ? WHERE run_id = ?",
            [
                _now(),
                done.seen,
                done.added,
                done.held_before,
                len(done.left_out),
                run_id,
            ],
        )
        return done


class _Run:
    """One run: what is new is found, judged, and counted."""

    def __init__(
        self,
        tables: TablesHeld,
        into: Path,
        policy: Policy,
        progress: Progress | None,
    ) -> None:
        self.done = Collected()
        self._tables, self._policy, self._progress = tables, policy, progress
        self._own = {into, *(Path(f"{into}{end}") for end in (".wal", ".tmp"))}
        self._own = {path.absolute() for path in self._own}
        self._total = 0

    def new_files(self, folders: Iterable[Path]) -> Iterator[FoundFile]:
        """Yield the files that are not held yet; what is left out is noted."""
        if self._progress is not None:
            self._total = sum(1 for _ in paths_below(folders))
        found: list[FoundFile] = []
        size = 0
        for path in paths_below(folders):
            if isinstance(path, Path) and path.absolute() in self._own:
                continue
            self.done.seen += 1
            if self._progress is not None:
                self._progress(self.done.seen, self._total)
            file = path if isinstance(path, Refused) else read_file(path)
            if isinstance(file, Refused):
                self.done.left_out.append(file)
                continue
            found.append(file)
            size += len(file.data)
            if len(found) == _LOOKED_UP or size >= _LOOKED_UP_BYTES:
                yield from self._not_held(found)
                found, size = [], 0
        yield from self._not_held(found)

    def _not_held(self, files: Sequence[FoundFile]) -> Iterator[FoundFile]:
        met: list[Row] = [{"sha256": file.sha256} for file in files]
        with self._tables.beside("met", "packet", met):
            held: dict[bytes, str | None] = dict(
                self._tables.ask(
                    "SELECT sha256, refused_because FROM packet "
                    "SEMI JOIN met USING (sha256) UNION ALL "
                    "SELECT sha256, NULL FROM wrapping SEMI JOIN met USING (sha256)"
                )
            )
        for file in files:
            if file.sha256 in held:
                why = held[file.sha256]
                if why is None:
                    self.done.held_before += 1
                else:
                    self.done.left_out.append(Refused(file.path, why))
            else:
                yield file

    def judged(
        self, files: Iterator[FoundFile], processes: int | None
    ) -> Iterator[Outcome]:
        """Yield what files give: one process for a few, all cores for many."""
        first = list(islice(files, SMALL))
        every = chain(first, files)
        if len(first) < SMALL or processes == 1:
            yield from judged_here(every, self._policy)
        else:
            yield from judged_in_processes(every, self._policy, processes)

    def note(self, outcomes: Sequence[Outcome], loaded: Loaded) -> None:
        """Count what a batch came to, once it is written."""
        self.done.left_out += [one for one in outcomes if isinstance(one, Refused)]
        self.done.added += loaded.added
        self.done.held_before += loaded.held_before

    def finished(self) -> Collected:
        """Return what came of the run, with what the collection holds now."""
        conflicts = self._tables.ask(
            "SELECT c.kind, c.sentence, a.path, b.path FROM conflict c "
            "JOIN packet a ON a.packet_id = c.first_packet_id "
            "JOIN packet b ON b.packet_id = c.second_packet_id "
            "ORDER BY c.kind, c.log_id, c.second_packet_id"
        )
        self.done.conflicts = [FoundConflict(*map(str, row)) for row in conflicts]
        ((packets, orders, logs, entries),) = self._tables.ask(
            "SELECT (SELECT count(*) FROM packet WHERE is_verified), "
            "(SELECT count(*) FROM repair_order), (SELECT count(*) FROM log), "
            "(SELECT count(*) FROM event)"
        )
        self.done.holds = {
            "packets": packets,
            "repair_orders": orders,
            "logs": logs,
            "entries": entries,
        }
        return self.done

    def together(self, places: Sequence[tuple[str, bytes]]) -> PacketRows | None:
        """Return the rows of packets that lie at paths, None where one is gone."""
        contents: list[bytes] = []
        for path, digest in places:
            file = read_file(Path(path))
            if isinstance(file, Refused):
                return None
            try:
                content = packet_in(GivenFile(path, file.data)).packet.data
            except InputError:
                return None
            if hashlib.sha256(content).digest() != digest:
                return None
            contents.append(content)
        return judged_together(contents, self._policy)


def _begin(tables: TablesHeld, into: Path, policy: Policy, *, is_new: bool) -> None:
    """Make the tables of a file that is empty, whole or not at all."""
    del into
    if not is_new:
        return
    tables.run("BEGIN")
    for statement in statements():
        tables.run(statement)
    tables.add(
        "collection",
        [
            {
                "format": FORMAT,
                "program": _program(),
                "is_pseudonymous": False,
                "rules_sha256": rules_sha256(),
                "policy_sha256": bytes.fromhex(policy.sha256),
            }
        ],
    )
    tables.run("COMMIT")


def _check_judged_by(tables: TablesHeld, into: Path, policy: Policy) -> None:
    """Raise InputError where a collection was judged by other rules or policy."""
    ((rules, by_policy),) = tables.ask(
        "SELECT rules_sha256, policy_sha256 FROM collection"
    )
    what = [
        name
        for name, held, now in (
            ("rules", rules, rules_sha256()),
            ("policy", by_policy, bytes.fromhex(policy.sha256)),
        )
        if held != now
    ]
    if what:
        raise InputError(
            f"its packets were judged by another {' and another '.join(what)}",
            where=str(into),
            what_to_do="give --rebuild, which judges them again, or name a new file",
        )


def _now() -> datetime:
    return datetime.now(UTC).replace(tzinfo=None)


def _program() -> str:
    return f"auditkit {version('auditkit')}"
