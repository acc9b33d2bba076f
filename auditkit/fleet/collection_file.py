"""A collection's file: begun, opened by its one writer, refused where it is not ours.

DuckDB keeps a file to one process that writes, or to many that read. Nothing but the
file itself is opened through SQL, and no more memory is taken than is said.
"""

from __future__ import annotations

import importlib
import os
import re
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING

from auditkit.errors import InputError, disk_advice
from auditkit.fleet.tables import ENUMS, FORMAT, TABLES

if TYPE_CHECKING:
    import duckdb

READS_MIB, WRITES_MIB = 1024, 96
"""Most memory that DuckDB takes; beyond it, it goes on beside the file.

A run that writes keeps in memory what it wrote, up to this limit, and never needs it
again; a packet of the greatest length has to fit.
"""
_NAME_ONE = "name a file that 'auditkit collect' made"
_CUT_SHORT = "Could not read enough bytes"
_PID = re.compile(r"PID (\d+)")


def need_fleet() -> None:
    """Raise InputError, which names the extra, where a library of it is missing."""
    try:
        importlib.import_module("duckdb")
        importlib.import_module("pyarrow")
    except ImportError as error:
        raise InputError(
            f"collections need the library {error.name}, which is not installed",
            what_to_do="pip install 'auditkit[fleet]'",
        ) from error


@contextmanager
def opened(path: Path, *, writes: bool) -> Iterator[duckdb.DuckDBPyConnection]:
    """Yield a connection to a collection's file; one that is new is empty.

    Raises InputError where another process holds it, or it is no such file.
    """
    need_fleet()
    import duckdb

    connection = _connected(path, writes=writes)
    try:
        yield connection
        connection.close()
    except duckdb.Error as error:
        first = str(error).partition("\n")[0]
        if _CUT_SHORT in first:
            raise _damaged(path) from error
        raise _unwritable(path, first) from error
    finally:
        with suppress(duckdb.Error):
            connection.close()


def _connected(path: Path, *, writes: bool) -> duckdb.DuckDBPyConnection:
    import duckdb

    if path.is_dir():
        raise InputError("this is a folder", where=str(path), what_to_do=_NAME_ONE)
    if not writes and not path.is_file():
        raise InputError(
            "there is no such file", where=str(path), what_to_do="check the path"
        )
    if path.is_file() and not path.stat().st_size:
        raise InputError(
            "this file is empty",
            where=str(path),
            what_to_do="remove it first" if writes else _NAME_ONE,
        )
    settings: dict[str, str | bool | int | float | list[str]] = {
        "memory_limit": f"{WRITES_MIB if writes else READS_MIB}MiB",
        "threads": os.cpu_count() or 1,
        "temp_directory": f"{path}.tmp",
        "autoinstall_known_extensions": False,
        "autoload_known_extensions": False,
    }
    try:
        connection = duckdb.connect(str(path), read_only=not writes, config=settings)
    except duckdb.Error as error:
        raise _unusable(path, str(error), writes=writes) from error
    except OSError as error:
        raise InputError(
            f"it cannot be opened: {error.strerror or error}",
            where=str(path),
            what_to_do=disk_advice(error),
        ) from error
    for last in ("enable_external_access = false", "lock_configuration = true"):
        connection.execute(f"SET {last}")
    return connection


def _unusable(path: Path, said: str, *, writes: bool) -> InputError:
    held = _PID.search(said)
    if held or "Could not set lock" in said:
        by = f" (process {held[1]})" if held else ""
        return InputError(
            f"another process holds this collection{by}",
            where=str(path),
            what_to_do="wait until it ends, then give the command again",
        )
    if not path.parent.is_dir():
        return InputError(
            "there is no such folder", where=str(path.parent), what_to_do="make it"
        )
    if "Could not write" in said:
        return _unwritable(path, said.partition("\n")[0])
    if "Corrupt" in said or _CUT_SHORT in said:
        return _damaged(path)
    if "newer version" in said or "version number" in said:
        return InputError(
            "a newer version of DuckDB wrote this file",
            where=str(path),
            what_to_do="update the library duckdb, or collect the packets anew",
        )
    return InputError(
        "this is no collection",
        where=str(path),
        what_to_do=_NAME_ONE + (", or one that is not there yet" if writes else ""),
    )


def _unwritable(path: Path, said: str) -> InputError:
    return InputError(
        f"it cannot be written, or read ({said})",
        where=str(path),
        what_to_do="look for space on the disk and for memory, then give the "
        "command again: what is committed is kept",
    )


def _damaged(path: Path) -> InputError:
    return InputError(
        "this file is damaged",
        where=str(path),
        what_to_do="take a copy of it, or collect the packets into a new file",
    )


def check_form(connection: duckdb.DuckDBPyConnection, path: Path) -> None:
    """Raise InputError where a file is not a collection of this version."""
    what_to_do = "collect the packets into a new file"
    columns = _columns(connection)
    if not any(table == "collection" for table, *_ in columns):
        raise InputError(
            "this is a database, and no collection",
            where=str(path),
            what_to_do=what_to_do,
        )
    found = connection.execute("SELECT format FROM collection").fetchall()
    if found != [(FORMAT,)]:
        said = ", ".join(str(one) for (one,) in found) or "unfinished"
        raise InputError(
            f"this collection is of another version ({said})",
            where=str(path),
            what_to_do=what_to_do,
        )
    if columns != _expected():
        raise InputError(
            "its tables are not those of a collection: another version or another "
            "program made them",
            where=str(path),
            what_to_do=what_to_do,
        )


def _columns(connection: duckdb.DuckDBPyConnection) -> set[tuple[str, str, str]]:
    """Return the columns with their types; those of a view are no table's."""
    asked = (
        "SELECT table_name, column_name, CASE WHEN data_type LIKE 'ENUM(%' THEN 'ENUM' "
        "ELSE data_type END || CASE WHEN table_name IN (SELECT view_name FROM "
        "duckdb_views()) THEN ' of a view' ELSE '' END FROM duckdb_columns() "
        "WHERE NOT internal"
    )
    return set(connection.execute(asked).fetchall())


def _expected() -> set[tuple[str, str, str]]:
    from auditkit.fleet.columns import columns_of

    return {
        (table, name, "ENUM" if kind in ENUMS else kind)
        for table in TABLES
        for name, kind in columns_of(table)
    }
