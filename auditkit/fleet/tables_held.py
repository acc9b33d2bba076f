"""The tables of a collection's file, for who writes them: asked, and added to."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from auditkit.fleet.columns import arrow_of

if TYPE_CHECKING:
    import duckdb

    from auditkit.fleet.rows.values import Cell, Row

Found = tuple[Any, ...]
"""A row as DuckDB gives it."""


class TablesHeld:
    """The tables behind one connection. Nothing of a packet becomes SQL."""

    def __init__(self, connection: duckdb.DuckDBPyConnection) -> None:
        self._connection = connection

    def run(self, sql: str, values: Sequence[object] = ()) -> None:
        """Execute a statement."""
        self._connection.execute(sql, list(values))

    def ask(self, sql: str, values: Sequence[object] = ()) -> list[Found]:
        """Return all rows of an answer."""
        return self._connection.execute(sql, list(values)).fetchall()

    def most(self, table: str, column: str) -> int:
        """Return the largest id of a table, 0 where it is empty."""
        ((found,),) = self.ask(f"SELECT coalesce(max({column}), 0) FROM {table}")  # noqa: S608  own names
        return int(found)

    def add(self, table: str, rows: Sequence[Row]) -> None:
        """Add rows to a table."""
        if rows:
            with self.beside("added", table, rows):
                self.run(f"INSERT INTO {table} SELECT * FROM added")  # noqa: S608  own names

    @contextmanager
    def beside(
        self, name: str, table: str, rows: Sequence[Mapping[str, Cell]]
    ) -> Iterator[None]:
        """Have rows with the columns of ``table`` stand beside as a table ``name``."""
        self._connection.register(name, arrow_of(table, rows))
        try:
            yield
        finally:
            self._connection.unregister(name)

    def drop_orders(self, tables: Sequence[str], order_ids: Sequence[int]) -> None:
        """Delete what tables hold of orders."""
        for table in tables if order_ids else ():
            self.run(
                f"DELETE FROM {table} WHERE order_id IN (SELECT unnest(?))",  # noqa: S608  own names
                [list(order_ids)],
            )
