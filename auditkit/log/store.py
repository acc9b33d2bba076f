"""The log's SQLite file: append, read, checkpoints, disclosures. Bytes in, bytes out.

The triggers that refuse a change are a guard rail against accidents. What proves
the log is its verification, which trusts nothing in this file.
"""

from __future__ import annotations

import sqlite3
from contextlib import contextmanager
from typing import TYPE_CHECKING

from auditkit.errors import LogError
from auditkit.proof.entry import Entry
from auditkit.proof.row import Row

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from pathlib import Path

APPLICATION_ID = 0x61756469  # "audi", in the header of the SQLite file
SCHEMA_VERSION = 1
_BUSY_SECONDS = 30.0
_LOWEST, _HIGHEST = -(2**63), 2**63 - 1  # of an SQLite integer

_GUARD = """
create trigger {table}_no_{action} before {action} on {table}
begin select raise(abort, '{table} is append-only'); end
"""


class Store:
    """One open log file. Use as a context manager, or call ``close``."""

    def __init__(self, connection: sqlite3.Connection, path: Path) -> None:
        self._db = connection
        self.path = path

    @classmethod
    def create(cls, path: Path) -> Store:
        """Make a new log file; raise LogError where the path is taken."""
        if path.exists():
            raise LogError(
                "this file exists already",
                where=str(path),
                what_to_do="choose another path",
            )
        with _clear_errors(path):
            store = cls(_connect(path, "rwc"), path)
            store._db.execute("pragma journal_mode = wal")
            store._db.execute("pragma synchronous = full")
            store._make_tables()
        return store

    @classmethod
    def open(cls, path: Path) -> Store:
        """Open an existing log file; raise LogError where it is not one."""
        if not path.is_file():
            raise LogError(
                "there is no log here",
                where=str(path),
                what_to_do="make one with 'auditkit init', or name it with --log",
            )
        with _clear_errors(path):
            connection = _connect(path, "rw")
            found = connection.execute("pragma application_id").fetchone()[0]
            version = connection.execute("pragma user_version").fetchone()[0]
            if (found, version) != (APPLICATION_ID, SCHEMA_VERSION):
                connection.close()
                raise LogError(
                    "this is not a log that this version of auditkit writes",
                    where=str(path),
                    what_to_do="name a log file",
                )
            connection.execute("pragma synchronous = full")
        return cls(connection, path)

    def close(self) -> None:
        """Close the file."""
        self._db.close()

    def _make_tables(self) -> None:
        import sqlite_utils

        db = sqlite_utils.Database(self._db)
        with self.transaction():
            db.table("entry").create(
                {
                    "seq": int,
                    "header": str,
                    "payload": str,
                    "signature": bytes,
                    "leaf": bytes,
                    "repair_order": str,
                    "kind": str,
                },
                pk="seq",
                not_null={"header", "payload", "signature", "leaf", "kind"},
                strict=True,
            )
            self._db.execute("create index entry_order on entry (repair_order)")
            db.table("checkpoint").create(
                {"size": int, "note": str}, pk="size", not_null={"note"}, strict=True
            )
            db.table("disclosure").create(
                {"seq": int, "digest": str, "disclosure": str},
                pk=("seq", "digest"),
                not_null={"disclosure"},
                strict=True,
            )
            for table in ("entry", "checkpoint"):
                for action in ("update", "delete"):
                    self._db.execute(_GUARD.format(table=table, action=action))
            self._db.execute(f"pragma application_id = {APPLICATION_ID}")
            self._db.execute(f"pragma user_version = {SCHEMA_VERSION}")

    @contextmanager
    def transaction(self) -> Iterator[None]:
        """Hold the only writer's place; commit durably, or leave nothing behind.

        ``BEGIN IMMEDIATE``: a deferred transaction that reads the head and then
        writes would lose the race against a second writer.
        """
        with _clear_errors(self.path):
            self._db.execute("begin immediate")
            try:
                yield
                self._db.execute("commit")
            except BaseException:
                if self._db.in_transaction:
                    self._db.execute("rollback")
                raise

    def head(self) -> tuple[int, bytes | None]:
        """Return the number of entries, and the leaf hash of the last one."""
        row = self._db.execute(
            "select seq, leaf from entry order by seq desc limit 1"
        ).fetchone()
        return (0, None) if row is None else (int(row[0]) + 1, bytes(row[1]))

    def append(self, rows: Iterable[Row]) -> None:
        """Insert rows; call within a transaction."""
        self._db.executemany(
            "insert into entry values (?, ?, ?, ?, ?, ?, ?)",
            (
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
            ),
        )

    def rows(self, start: int | None = None, stop: int | None = None) -> Iterator[Row]:
        """Yield the rows with start <= seq < stop, in order of seq."""
        low = _LOWEST if start is None else start
        high = _HIGHEST if stop is None else stop - 1
        yield from self._rows("where seq between ? and ?", (low, high))

    def cells(
        self, start: int | None = None, stop: int | None = None
    ) -> Iterator[tuple[object, object, object, object, object]]:
        """Yield (seq, header, payload, signature, leaf) as bytes, unchecked."""
        low = _LOWEST if start is None else start
        high = _HIGHEST if stop is None else stop - 1
        query = (
            "select seq, header, payload, signature, leaf from entry"
            " where seq between ? and ? order by seq"
        )
        with _clear_errors(self.path):
            self._db.text_factory = bytes
            try:
                yield from self._db.execute(query, (low, high))
            finally:
                self._db.text_factory = _decoded

    def leaf_before(self, seq: int) -> bytes | None:
        """Return the leaf hash kept for the last row before ``seq``."""
        query = "select leaf from entry where seq < ? order by seq desc limit 1"
        with _clear_errors(self.path):
            row = self._db.execute(query, (seq,)).fetchone()
        return None if row is None else _bytes(row[0])

    def order_rows(self, order_id: str) -> tuple[Row, ...]:
        """Return the rows of one repair order."""
        return tuple(self._rows("where repair_order = ?", (order_id,)))

    def rows_of(self, kind: str) -> Iterator[Row]:
        """Yield the rows of events of one kind."""
        return self._rows("where kind = ?", (kind,))

    def last_log_seq(self) -> int:
        """Return the sequence number of the log's last event of its own, -1 if none."""
        query = "select max(seq) from entry where repair_order is null"
        with _clear_errors(self.path):
            return _int(self._db.execute(query).fetchone()[0])

    def log_rows(self) -> tuple[Row, ...]:
        """Return the rows of the log's own events."""
        return tuple(self._rows("where repair_order is null", ()))

    def _rows(self, where: str, values: tuple[object, ...]) -> Iterator[Row]:
        query = (
            "select seq, header, payload, signature, leaf, repair_order, kind"  # noqa: S608  constant text
            f" from entry {where} order by seq"
        )
        with _clear_errors(self.path):
            for row in self._db.execute(query, values):
                yield _row(*row)

    def leaves(self, start: int | None = None) -> list[bytes]:
        """Return every leaf hash, or those from ``start`` on, in order of seq."""
        low = _LOWEST if start is None else start
        query = "select leaf from entry where seq >= ? order by seq"
        with _clear_errors(self.path):
            return [_bytes(row[0]) for row in self._db.execute(query, (low,))]

    def order_ids(self) -> tuple[str, ...]:
        """Return the repair orders' ids, in order of their first entry."""
        query = (
            "select repair_order from entry where repair_order is not null"
            " group by repair_order order by min(seq)"
        )
        with _clear_errors(self.path):
            return tuple(_text(row[0]) for row in self._db.execute(query))

    def add_checkpoint(self, size: int, note: str) -> None:
        """Keep a signed checkpoint; call within a transaction."""
        self._db.execute("insert or ignore into checkpoint values (?, ?)", (size, note))

    def checkpoints(self) -> tuple[tuple[int, str], ...]:
        """Return every checkpoint as (size, note), smallest first."""
        query = "select size, note from checkpoint order by size"
        with _clear_errors(self.path):
            return tuple((_int(r[0]), _text(r[1])) for r in self._db.execute(query))

    def checkpoint_sizes(self, start: int, stop: int | None) -> frozenset[int]:
        """Return the sizes of checkpoints with start <= size < stop."""
        high = _HIGHEST if stop is None else stop - 1
        query = "select size from checkpoint where size between ? and ?"
        with _clear_errors(self.path):
            found = self._db.execute(query, (start, high))
            return frozenset(_int(row[0]) for row in found)

    def add_disclosures(self, rows: Iterable[tuple[int, str, str]]) -> None:
        """Keep disclosures as (seq, digest, disclosure); within a transaction."""
        self._db.executemany("insert into disclosure values (?, ?, ?)", rows)

    def disclosures(self, seq: int | None = None) -> tuple[tuple[int, str, str], ...]:
        """Return the disclosures of one entry, or of all."""
        where = "" if seq is None else " where seq = ?"
        query = f"select seq, digest, disclosure from disclosure{where}"  # noqa: S608  constant text
        with _clear_errors(self.path):
            return tuple(
                (_int(r[0]), _text(r[1]), _text(r[2]))
                for r in self._db.execute(
                    f"{query} order by seq, digest", () if seq is None else (seq,)
                )
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
        with _clear_errors(self.path):
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


def _connect(path: Path, mode: str) -> sqlite3.Connection:
    uri = f"{path.absolute().as_uri()}?mode={mode}"
    connection = sqlite3.connect(
        uri, uri=True, timeout=_BUSY_SECONDS, isolation_level=None
    )
    # Text that is not UTF-8 any more must reach verification, not stop it.
    connection.text_factory = _decoded
    return connection


def _decoded(raw: bytes) -> str:
    return raw.decode("utf-8", "replace")


def _row(  # noqa: PLR0913, PLR0917  the columns, in their order
    seq: object,
    header: object,
    payload: object,
    signature: object,
    leaf: object,
    repair_order: object,
    kind: object,
) -> Row:
    entry = Entry(_int(seq), _text(header), _text(payload), _bytes(signature))
    order = None if repair_order is None else _text(repair_order)
    return Row(entry, _bytes(leaf), order, _text(kind))


# The file may have been altered by anyone: a cell of another type becomes text
# that no signature fits, so that verification can name the entry.
def _text(value: object) -> str:
    return value if isinstance(value, str) else f"not text: {value!r}"


def _bytes(value: object) -> bytes:
    return value if isinstance(value, bytes) else b""


def _int(value: object) -> int:
    return value if isinstance(value, int) else -1


@contextmanager
def _clear_errors(path: Path) -> Iterator[None]:
    try:
        yield
    except sqlite3.Error as error:
        text = str(error)
        if "full" in text or "disk I/O" in text:
            message = f"the disk is full or cannot be written ({text})"
            what_to_do = (
                "free some space and run it again: what was acknowledged is safe"
            )
        elif "locked" in text:
            message = "another program keeps the log locked"
            what_to_do = "wait until it ends, then run it again"
        elif "readonly" in text or "unable to open" in text:
            message = f"it cannot be opened for writing ({text})"
            what_to_do = "check the rights of the file and of its folder"
        else:
            message = f"it cannot be read as a log ({text})"
            what_to_do = "restore it from a backup and verify that"
        raise LogError(message, where=str(path), what_to_do=what_to_do) from error
