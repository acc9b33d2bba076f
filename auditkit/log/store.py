"""The log's SQLite file: append, read, checkpoints, disclosures. Bytes in, bytes out.

The triggers that refuse a change are a guard rail against accidents. What proves
the log is its verification, which trusts nothing in this file.
"""

from __future__ import annotations

import sqlite3
from contextlib import contextmanager
from typing import TYPE_CHECKING

from auditkit.errors import LogError
from auditkit.log import file_form
from auditkit.log.pointers import Pointers
from auditkit.log.sqlite_file import (
    HIGHEST,
    LOWEST,
    as_bytes,
    as_int,
    as_text,
    clear_errors,
    connect,
    connect_new,
    decoded,
    mode_of,
)
from auditkit.proof.entry import Entry
from auditkit.proof.row import Row

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence
    from pathlib import Path

_ROW = "seq, header, payload, signature, leaf, repair_order, kind"


class Store:
    """One open log file. Use as a context manager, or call ``close``."""

    def __init__(self, connection: sqlite3.Connection, path: Path, form: int) -> None:
        self._db = connection
        self.path = path
        self.pointers = Pointers(connection, path)
        self._form = form

    @classmethod
    def create(cls, path: Path) -> Store:
        """Make a new log file; raise LogError where the path is taken."""
        if path.exists():
            raise LogError(
                "this file exists already",
                where=str(path),
                what_to_do="choose another path",
            )
        with clear_errors(path):
            connection = connect_new(path)
            connection.execute("pragma journal_mode = wal")
            connection.execute("pragma synchronous = full")
            connection.execute("begin immediate")
            file_form.make(connection)
            connection.execute("commit")
        return cls(connection, path, file_form.schema_version(connection))

    @classmethod
    def open(cls, path: Path, *, to_read: bool = False) -> Store:
        """Open an existing log file; raise LogError where it is not one.

        One that is opened ``to_read`` may go from thread to thread.
        """
        if not path.is_file():
            raise LogError(
                "there is no log here",
                where=str(path),
                what_to_do="make one with 'auditkit init', or name it with --log",
            )
        with clear_errors(path):
            mode = "ro" if to_read else mode_of(path)
            connection = connect(path, mode, wanders=to_read)
            try:
                form = file_form.schema_version(connection)
                file_form.refuse_other(connection, path)
            except BaseException:
                connection.close()
                raise
            connection.execute("pragma synchronous = full")
        return cls(connection, path, form)

    def close(self) -> None:
        """Close the file."""
        self._db.close()

    def is_whole(self) -> bool:
        """Return whether each index leads to all rows of its table, and to no others.

        It reads the whole file (https://www.sqlite.org/pragma.html#pragma_integrity_check).
        """
        with clear_errors(self.path):
            found = self._db.execute("pragma integrity_check(1)").fetchone()
        return tuple(found) == ("ok",)

    def index_anew(self) -> None:
        """Make the indices anew of their tables; call within a transaction."""
        self._db.execute("reindex")

    def copy_to(self, path: Path) -> None:
        """Write all that is committed to a new file, while others may write on."""
        with clear_errors(path):
            copy = connect_new(path)
            try:
                self._db.backup(copy)
            finally:
                copy.close()

    @contextmanager
    def transaction(self) -> Iterator[None]:
        """Hold the only writer's place; commit durably, or leave nothing behind.

        ``BEGIN IMMEDIATE``: a deferred transaction that reads the head and then
        writes would lose the race against a second writer.
        """
        with clear_errors(self.path):
            self._db.execute("begin immediate")
            try:
                self._refuse_changed_form()
                yield
                self._db.execute("commit")
            except BaseException:
                if self._db.in_transaction:
                    self._db.execute("rollback")
                raise

    @contextmanager
    def snapshot(self) -> Iterator[None]:
        """Read one state of the file, whatever others write meanwhile."""
        if self._db.in_transaction:
            yield
            return
        with clear_errors(self.path):
            self._db.execute("begin")
            try:
                yield
            finally:
                self._db.execute("commit")

    def _refuse_changed_form(self) -> None:
        """Raise LogError where the file got other tables or triggers meanwhile."""
        found = file_form.schema_version(self._db)
        if found != self._form:
            file_form.refuse_other(self._db, self.path)
            self._form = found

    def head(self) -> tuple[int, bytes | None]:
        """Return the number of entries, and the leaf hash of the last one."""
        query = "select seq, leaf from entry order by seq desc limit 1"
        with clear_errors(self.path):
            row = self._db.execute(query).fetchone()
            return (0, None) if row is None else (as_int(row[0]) + 1, as_bytes(row[1]))

    def append(self, rows: Iterable[Row]) -> None:
        """Insert rows, and read them back; call within a transaction."""
        cells = [
            (
                row.entry.seq,
                row.entry.header,
                row.entry.payload,
                row.entry.signature,
                row.leaf,
                row.repair_order,
                row.kind,
            )
            for row in rows
        ]
        self._db.executemany("insert into entry values (?, ?, ?, ?, ?, ?, ?)", cells)
        if cells:
            query = f"select {_ROW} from entry where seq >= ? order by seq"  # noqa: S608  constant text
            self._must_be(self._db.execute(query, (cells[0][0],)), cells, "an entry")

    def _must_be(
        self, found: Iterable[object], written: Sequence[object], what: str
    ) -> None:
        """Raise LogError unless the file gives what was written: nothing is, then."""
        if list(found) != list(written):
            raise LogError(
                f"{what} does not read back as it was written, so nothing was",
                where=str(self.path),
                what_to_do="run 'auditkit verify' on it, and restore it from a backup",
            )

    def rows(self, start: int | None = None, stop: int | None = None) -> Iterator[Row]:
        """Yield the rows with start <= seq < stop, in order of seq."""
        low = LOWEST if start is None else start
        high = HIGHEST if stop is None else stop - 1
        yield from self._rows("where seq between ? and ?", (low, high))

    def cells(
        self, start: int | None = None, stop: int | None = None
    ) -> Iterator[tuple[object, object, object, object, object]]:
        """Yield (seq, header, payload, signature, leaf) as bytes, unchecked."""
        low = LOWEST if start is None else start
        high = HIGHEST if stop is None else stop - 1
        query = (
            "select seq, header, payload, signature, leaf from entry"
            " where seq between ? and ? order by seq"
        )
        with clear_errors(self.path):
            self._db.text_factory = bytes
            try:
                yield from self._db.execute(query, (low, high))
            finally:
                self._db.text_factory = decoded

    def leaf(self, seq: int) -> bytes:
        """Return the leaf hash kept for a row, no bytes where it is missing."""
        with clear_errors(self.path):
            row = self._db.execute(
                "select leaf from entry where seq = ?", (seq,)
            ).fetchone()
        return b"" if row is None else as_bytes(row[0])

    def leaf_before(self, seq: int) -> bytes | None:
        """Return the leaf hash kept for the last row before ``seq``."""
        query = "select leaf from entry where seq < ? order by seq desc limit 1"
        with clear_errors(self.path):
            row = self._db.execute(query, (seq,)).fetchone()
        return None if row is None else as_bytes(row[0])

    def order_rows(self, order_id: str) -> tuple[Row, ...]:
        """Return the rows of one repair order."""
        return tuple(self._rows("where repair_order = ?", (order_id,)))

    def order_seqs(self, order: str, *kinds: str) -> tuple[int, ...]:
        """Return the numbers of an order's entries, or of those of some kinds."""
        some = f"and kind in ({', '.join('?' * len(kinds))})" if kinds else ""
        query = f"select seq from entry where repair_order = ? {some} order by seq"  # noqa: S608  constant text
        with clear_errors(self.path):
            return tuple(as_int(s) for (s,) in self._db.execute(query, [order, *kinds]))

    def row(self, seq: int) -> Row | None:
        """Return one row, None where it is missing."""
        return next(iter(self._rows("where seq = ?", (seq,))), None)

    def rows_of(self, kind: str, start: int = LOWEST) -> Iterator[Row]:
        """Yield the rows of events of one kind, from ``start`` on."""
        return self._rows("where kind = ? and seq >= ?", (kind, start))

    def newest_with(
        self, kind: str, texts: Sequence[str], start: int, most: int
    ) -> tuple[str, ...]:
        """Return the repair orders of the newest events of a kind that hold texts.

        Those from entry ``start`` on, each once, the newest first, of at most so many
        events. Whoever uses one opens it: the rows are not checked here.
        """
        held = " and instr(payload, ?)" * len(texts)
        query = f"""select repair_order from entry where seq >= ? and kind = ? {held}
            and repair_order is not null order by seq desc limit ?"""  # noqa: S608  constant text
        with clear_errors(self.path):
            rows = self._db.execute(query, (start, kind, *texts, most)).fetchall()
        return tuple(dict.fromkeys(as_text(row[0]) for row in rows))

    def last_log_seq(self) -> int:
        """Return the sequence number of the log's last event of its own, -1 if none."""
        query = "select max(seq) from entry where repair_order is null"
        with clear_errors(self.path):
            return as_int(self._db.execute(query).fetchone()[0])

    def log_rows(self, start: int = LOWEST) -> tuple[Row, ...]:
        """Return the rows of the log's own events, from ``start`` on."""
        return tuple(self._rows("where repair_order is null and seq >= ?", (start,)))

    def _rows(self, where: str, values: tuple[object, ...]) -> Iterator[Row]:
        query = f"select {_ROW} from entry {where} order by seq"  # noqa: S608  constant text
        with clear_errors(self.path):
            for row in self._db.execute(query, values):
                yield _row(*row)

    def leaves(self, start: int | None = None) -> list[bytes]:
        """Return every leaf hash, or those from ``start`` on, in order of seq."""
        low = LOWEST if start is None else start
        query = "select leaf from entry where seq >= ? order by seq"
        with clear_errors(self.path):
            return [as_bytes(row[0]) for row in self._db.execute(query, (low,))]

    def add_checkpoint(self, size: int, note: str) -> None:
        """Keep a signed checkpoint, and read it back; call within a transaction."""
        self._db.execute("insert or ignore into checkpoint values (?, ?)", (size, note))
        query = "select note from checkpoint where size = ?"
        self._must_be(self._db.execute(query, (size,)), [(note,)], "a checkpoint")

    def checkpoints(
        self, above: int | None = None, to: int | None = None
    ) -> tuple[tuple[int, str], ...]:
        """Return the checkpoints with above < size <= to as (size, note), in order."""
        query = (
            "select size, note from checkpoint where size between ? and ? order by size"
        )
        low = LOWEST if above is None else above + 1
        high = HIGHEST if to is None else to
        with clear_errors(self.path):
            found = self._db.execute(query, (low, high))
            return tuple((as_int(r[0]), as_text(r[1])) for r in found)

    def newest_checkpoint(self) -> str | None:
        """Return the text of the largest checkpoint, None where there is none."""
        query = "select note from checkpoint order by size desc limit 1"
        with clear_errors(self.path):
            row = self._db.execute(query).fetchone()
        return None if row is None else as_text(row[0])

    def checkpoint_after(self, seq: int) -> int | None:
        """Return the size of the first checkpoint over an entry, None without one."""
        query = "select size from checkpoint where size > ? order by size limit 1"
        with clear_errors(self.path):
            row = self._db.execute(query, (seq,)).fetchone()
        return None if row is None else as_int(row[0])

    def add_disclosures(self, rows: Iterable[tuple[int, str, str]]) -> None:
        """Keep disclosures as (seq, digest, disclosure), and read them back.

        Call within a transaction.
        """
        query = "select disclosure from disclosure where seq = ? and digest = ?"
        for seq, digest, text in rows:
            values = seq, digest, text
            self._db.execute("insert into disclosure values (?, ?, ?)", values)
            found = self._db.execute(query, (seq, digest))
            self._must_be(found, [(text,)], "a disclosure")

    def disclosures(self, seq: int | None = None) -> tuple[tuple[int, str, str], ...]:
        """Return the disclosures of one entry, or of all."""
        if seq is None:
            return self._disclosures("", ())
        return self._disclosures("where seq = ?", (seq,))

    def disclosures_of(self, order_id: str) -> tuple[tuple[int, str, str], ...]:
        """Return the disclosures of all entries of one repair order."""
        where = "where seq in (select seq from entry where repair_order = ?)"
        return self._disclosures(where, (order_id,))

    def disclosures_from(self, seq: int) -> tuple[tuple[int, str, str], ...]:
        """Return the disclosures of an entry and of all after it."""
        return self._disclosures("where seq >= ?", (seq,))

    def _disclosures(
        self, where: str, values: tuple[object, ...]
    ) -> tuple[tuple[int, str, str], ...]:
        query = (
            f"select seq, digest, disclosure from disclosure {where}"  # noqa: S608  constant text
            " order by seq, digest"
        )
        with clear_errors(self.path):
            return tuple(
                (as_int(r[0]), as_text(r[1]), as_text(r[2]))
                for r in self._db.execute(query, values)
            )

    def erase_disclosures(self, rows: Iterable[tuple[int, str]]) -> None:
        """Delete disclosures by (seq, digest), overwritten; within a transaction.

        What lay in the file before is gone only after ``scrub``.
        """
        self._db.execute("pragma secure_delete = on")
        self._db.executemany(
            "delete from disclosure where seq = ? and digest = ?", rows
        )

    def scrub(self) -> None:
        """Leave in the file and its write-ahead log only what is kept.

        Raises LogError where another program holds an older view of the file.
        """
        with clear_errors(self.path):
            self._db.execute("pragma secure_delete = on")
            self._empty_wal()  # so that the old pages are overwritten in place
            self._db.execute("vacuum")
            self._empty_wal()  # VACUUM writes the whole file through it

    def _empty_wal(self) -> None:
        busy = self._db.execute("pragma wal_checkpoint(truncate)").fetchone()[0]
        if busy:
            raise LogError(
                "another program reads the log, so it cannot be scrubbed",
                where=str(self.path),
                what_to_do="wait until it ends",
            )


def _row(  # noqa: PLR0913, PLR0917  the columns, in their order
    seq: object,
    header: object,
    payload: object,
    signature: object,
    leaf: object,
    repair_order: object,
    kind: object,
) -> Row:
    entry = Entry(as_int(seq), as_text(header), as_text(payload), as_bytes(signature))
    order = None if repair_order is None else as_text(repair_order)
    return Row(entry, as_bytes(leaf), order, as_text(kind))
