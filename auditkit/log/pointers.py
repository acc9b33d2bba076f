"""Where in the log something lies: tables made of the entries, and never trusted.

A row only points. Whoever uses one opens the entries that it names and reads them
there, or checks the proof that it leads to, so that a false row makes no false answer.
A missing one can hide something: ``verify`` makes all rows anew and compares.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from auditkit.log.marks import WAITS
from auditkit.log.sqlite_file import (
    HIGHEST,
    LOWEST,
    as_bytes,
    as_int,
    as_text,
    clear_errors,
)

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Collection, Iterable, Iterator, Sequence
    from pathlib import Path

Node = tuple[int, bytes]
"""Place (see ``auditkit.proof.merkle.place``) and hash of a complete subtree."""
OrderRow = tuple[str, int, int | None]
"""A repair order's id, its first entry, and its verdict's if that is the last."""
Mark = tuple[str, str, int]
"""Kind, value and entry; see ``auditkit.log.marks``."""
_AT_ONCE = 64  # marks that are read at a time: most are not asked for
_TABLES = ("node", "repair_order", "mark")
_OPEN = "select id, first from repair_order where verdict is null"
_WAITING = f"""
select id, first from mark join entry on entry.seq = mark.seq
join repair_order on id = entry.repair_order and verdict = mark.seq
where mark.kind = '{WAITS}'
"""  # noqa: S608  constant text


class Pointers:
    """The pointers of one open log file."""

    def __init__(self, connection: sqlite3.Connection, path: Path) -> None:
        self._db = connection
        self._path = path

    def add(
        self,
        nodes: Sequence[Node],
        orders: Iterable[OrderRow],
        marks: Sequence[Mark],
    ) -> None:
        """Keep pointers to new entries; call within their transaction."""
        if nodes:
            self._db.executemany("insert or replace into node values (?, ?)", nodes)
        self._db.executemany(
            "insert into repair_order values (?, ?, ?) on conflict (id) do update"
            " set verdict = excluded.verdict where verdict is not excluded.verdict",
            orders,
        )
        if marks:
            self._db.executemany("insert or ignore into mark values (?, ?, ?)", marks)

    def clear(self) -> None:
        """Delete all pointers; call within the transaction that makes them anew."""
        for table in _TABLES:
            self._db.execute(f"delete from {table}")  # noqa: S608  constant text

    def count(self, table: str) -> int:
        """Return how many rows one of these tables has."""
        query = f"select count(*) from {table}"  # noqa: S608  constant text
        with clear_errors(self._path):
            return as_int(self._db.execute(query).fetchone()[0])

    def node(self, place: int) -> bytes:
        """Return the hash kept at a place, no bytes where none is."""
        query = "select hash from node where place = ?"
        with clear_errors(self._path):
            row = self._db.execute(query, (place,)).fetchone()
        return b"" if row is None else as_bytes(row[0])

    def nodes(self, low: int = LOWEST, high: int = HIGHEST) -> Iterator[Node]:
        """Yield the nodes with low <= place <= high, in order of place."""
        query = (
            "select place, hash from node where place between ? and ? order by place"
        )
        with clear_errors(self._path):
            for row in self._db.execute(query, (low, high)):
                yield as_int(row[0]), as_bytes(row[1])

    def orders(self) -> Iterator[OrderRow]:
        """Yield every repair order's row, in order of id."""
        with clear_errors(self._path):
            for row in self._db.execute("select * from repair_order order by id"):
                verdict = None if row[2] is None else as_int(row[2])
                yield as_text(row[0]), as_int(row[1]), verdict

    def order(self, order_id: str) -> OrderRow | None:
        """Return a repair order's row, None where there is none."""
        query = "select first, verdict from repair_order where id = ?"
        with clear_errors(self._path):
            row = self._db.execute(query, (order_id,)).fetchone()
        if row is None:
            return None
        return order_id, as_int(row[0]), None if row[1] is None else as_int(row[1])

    def has(self, mark: Mark) -> bool:
        """Return whether a mark is there."""
        query = "select 1 from mark where kind = ? and value = ? and seq = ?"
        with clear_errors(self._path):
            return self._db.execute(query, mark).fetchone() is not None

    def marks(self) -> Iterator[Mark]:
        """Yield every mark, in order of kind, value and entry."""
        query = "select * from mark order by kind, value, seq"
        with clear_errors(self._path):
            for row in self._db.execute(query):
                yield as_text(row[0]), as_text(row[1]), as_int(row[2])

    def marked(self, kind: str, value: str, but: Collection[str] = ()) -> Iterator[int]:
        """Yield the entries that bear a mark, in their order, some at a time.

        Those are left out whose row says that they are of the repair orders ``but``.
        """
        query = (
            "select mark.seq, repair_order from mark left join entry using (seq)"
            " where mark.kind = ? and value = ? and mark.seq > ?"
            " order by mark.seq limit ?"
        )
        last = LOWEST
        while True:
            with clear_errors(self._path):
                values = (kind, value, last, _AT_ONCE)
                rows = self._db.execute(query, values).fetchall()
            yield from (as_int(row[0]) for row in rows if row[1] not in but)
            if len(rows) < _AT_ONCE:
                return
            last = as_int(rows[-1][0])

    def marked_at_the_end(self, kind: str, end: str) -> tuple[tuple[str, int], ...]:
        """Return value and entry of each mark of a kind whose value ends so."""
        query = "select value, seq from mark where kind = ? and substr(value, ?) = ?"
        with clear_errors(self._path):
            found = self._db.execute(query, (kind, -len(end), end)).fetchall()
        return tuple((as_text(row[0]), as_int(row[1])) for row in found)

    def newest_orders(
        self, count: int | None, starts: str = "", *, only_open: bool = False
    ) -> tuple[str, ...]:
        """Return the ids of the repair orders begun last, in order of first entry.

        ``starts`` is how an id begins. With ``only_open`` those whose last entry is no
        verdict, or one that is marked as waiting.
        """
        source = f"({_OPEN} union all {_WAITING})" if only_open else "repair_order"
        wanted = "id >= ? and substr(id, 1, ?) = ?" if starts else "true"
        query = f"select id from {source} where {wanted} order by first desc limit ?"  # noqa: S608  constant text
        begin = (starts, len(starts), starts) if starts else ()
        most = -1 if count is None else count
        with clear_errors(self._path):
            rows = self._db.execute(query, (*begin, most)).fetchall()
        return tuple(as_text(row[0]) for row in reversed(rows))

    def orders_near(self, order_id: str, count: int) -> tuple[str, ...]:
        """Return the ids that stand around one in the order of text, ``count`` a side.

        Those that begin with it come first after it.
        """
        before = "select id from repair_order where id < ? order by id desc limit ?"
        after = "select id from repair_order where id >= ? order by id limit ?"
        with clear_errors(self._path):
            found = [
                as_text(row[0])
                for query in (before, after)
                for row in self._db.execute(query, (order_id, count))
            ]
        return tuple(found)
