"""The columns of a collection's tables as Arrow knows them, read from their SQL."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import TYPE_CHECKING

from auditkit.fleet.tables import ENUMS, TABLES

if TYPE_CHECKING:
    import pyarrow as pa  # type: ignore[import-untyped]

    from auditkit.fleet.rows.values import Cell


@lru_cache(maxsize=64)
def columns_of(table: str) -> tuple[tuple[str, str], ...]:
    """Return the names of a table's columns with their types in SQL, in order."""
    parts = (column.split() for column in TABLES[table].split(","))
    return tuple((name, kind) for name, kind, *_ in parts)


@lru_cache(maxsize=64)
def schema_of(table: str) -> pa.Schema:
    """Return a table's columns as an Arrow schema; an enumeration is text there."""
    return _schema(columns_of(table))


def _schema(columns: Sequence[tuple[str, str]]) -> pa.Schema:
    import pyarrow as pa

    plain = {
        "VARCHAR": pa.string(),
        "BIGINT": pa.int64(),
        "INTEGER": pa.int32(),
        "SMALLINT": pa.int16(),
        "BOOLEAN": pa.bool_(),
        "DOUBLE": pa.float64(),
        "BLOB": pa.binary(),
        "DATE": pa.date32(),
        "TIMESTAMP": pa.timestamp("us"),
    }
    lists = {f"{name}[]": pa.list_(kind) for name, kind in plain.items()}
    known = {**plain, **lists, **dict.fromkeys(ENUMS, pa.string())}
    return pa.schema([(name, known[kind]) for name, kind in columns])


def arrow_of(table: str, rows: Sequence[Mapping[str, Cell]]) -> pa.Table:
    """Return rows as an Arrow table with all columns of a table; what lacks is null."""
    import pyarrow as pa

    schema = schema_of(table)
    return pa.table(
        [
            pa.array([row.get(name) for row in rows], kind)
            for name, kind in zip(schema.names, schema.types, strict=True)
        ],
        schema=schema,
    )
