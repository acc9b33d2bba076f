"""The form of a log's file: its tables, indices and triggers, and no others.

``entry``, ``checkpoint`` and ``disclosure`` are the log. The rest are pointers, made of
the entries and never trusted: whoever uses one opens the entries that it names, or
checks the proof that it leads to; ``verify`` makes all of them anew and compares.

``node``
    The complete subtrees of the log's tree with more than one leaf. ``place`` is
    ``auditkit.proof.merkle.place``; the leaf hashes lie in ``entry.leaf``.
``repair_order``
    Each repair order with its first entry and, while its last entry is one, its
    verdict's.
``mark``
    What entries can be found by: see ``auditkit.log.marks``.

A file with a trigger, view or table more, or one less or other, is refused: it could
acknowledge what it does not keep.
"""

from __future__ import annotations

import sqlite3
from functools import lru_cache
from typing import TYPE_CHECKING

from auditkit.errors import LogError
from auditkit.text.display_text import quoted

if TYPE_CHECKING:
    from pathlib import Path

APPLICATION_ID = 0x61756469  # "audi", in the header of the SQLite file
FILE_VERSION = 2

_TABLES = """
create table entry (
    seq integer primary key, header text not null, payload text not null,
    signature blob not null, leaf blob not null, repair_order text, kind text not null
) strict;
create table checkpoint (size integer primary key, note text not null) strict;
create table disclosure (
    seq integer not null, digest text not null, disclosure text not null,
    primary key (seq, digest)
) strict;
create table node (place integer primary key, hash blob not null) strict;
create table repair_order (
    id text primary key, first integer not null, verdict integer
) strict, without rowid;
create table mark (
    kind text not null, value text not null, seq integer not null,
    primary key (kind, value, seq)
) strict, without rowid;
create index entry_order on entry (repair_order);
create index repair_order_first on repair_order (first);
create index repair_order_open on repair_order (first) where verdict is null
"""
_GUARD = (
    "create trigger {table}_no_{action} before {action} on {table}"
    " begin select raise(abort, '{table} is append-only'); end"
)
GUARDS = {
    f"{table}_no_{action}": _GUARD.format(table=table, action=action)
    for table in ("entry", "checkpoint")
    for action in ("update", "delete")
}
"""The triggers that refuse a slip, by their names: a guard rail, and no proof."""
Part = tuple[str, str, str, str | None]
"""Kind, name, table and statement of one thing in a file, as ``sqlite_schema`` has."""


def make(db: sqlite3.Connection) -> None:
    """Make the tables, indices and triggers in an empty file."""
    for statement in (*_TABLES.split(";"), *GUARDS.values()):
        db.execute(statement)
    db.execute(f"pragma application_id = {APPLICATION_ID}")
    db.execute(f"pragma user_version = {FILE_VERSION}")


def _parts(db: sqlite3.Connection) -> frozenset[Part]:
    return frozenset(db.execute("select type, name, tbl_name, sql from sqlite_schema"))


@lru_cache(maxsize=1)
def _expected() -> frozenset[Part]:
    db = sqlite3.connect(":memory:", isolation_level=None)
    try:
        make(db)
        return _parts(db)
    finally:
        db.close()


def schema_version(db: sqlite3.Connection) -> int:
    """Return the count that SQLite raises with each change of a file's form."""
    return int(db.execute("pragma schema_version").fetchone()[0])


def refuse_other(db: sqlite3.Connection, path: Path) -> None:
    """Raise LogError unless a file has the form of this version, and no more."""
    found = db.execute("pragma application_id").fetchone()[0]
    version = db.execute("pragma user_version").fetchone()[0]
    if found != APPLICATION_ID:
        raise LogError(
            "this is not a log: it is a database of something else",
            where=str(path),
            what_to_do="name a log file",
        )
    if version != FILE_VERSION:
        age = "an earlier" if version < FILE_VERSION else "a later"
        raise LogError(
            f"this log was written by {age} version of auditkit: its file has version "
            f"{version}, this one reads and writes version {FILE_VERSION}",
            where=str(path),
            what_to_do="use the version of auditkit that wrote it",
        )
    parts = _parts(db)
    if parts != _expected():
        raise LogError(
            f"its file is not as auditkit makes it: {_difference(parts)}",
            where=str(path),
            what_to_do="write nothing to it, find out who changed it, and restore it "
            "from a backup that verifies",
        )


def _difference(parts: frozenset[Part]) -> str:
    """Return one thing that a file has too many, too few or otherwise."""
    expected = {part[:2] for part in _expected()}
    for part in sorted(parts - _expected(), key=str):
        kind, name, table, _ = (str(word) for word in part)
        on = f" on {quoted(table)}" if table != name else ""
        if part[:2] in expected:
            return f"the {kind} {quoted(name)} is another"
        return f"the {kind} {quoted(name)}{on} has no place in it"
    kind, name, *_ = min(_expected() - parts, key=str)
    return f"the {kind} {quoted(name)} is missing"
