"""What a witness has seen: one SQLite file, its only memory.

A witness that forgot could cosign a fork. So the file is made once, together with the
key, and names it; a lost one is neither made anew nor replaced by an older copy: its
key is retired instead.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from auditkit.errors import AuditkitError, LogError
from auditkit.proof.cosignature import Cosigner, parse_vkey
from auditkit.witness.answer import LastCosigned

APPLICATION_ID = 0x61756477  # "audw", in the header of the SQLite file
BUSY_SECONDS = 10.0
_TABLES = (
    "create table witness (vkey text not null) strict",
    (
        "create table seen (origin text primary key, size integer not null,"
        " root blob not null, at integer not null) strict"
    ),
    f"pragma application_id = {APPLICATION_ID}",
    "pragma user_version = 1",
)


class WitnessMemory:
    """A witness's memory. Any thread or process may use the same file."""

    def __init__(self, path: Path, *, wait: float = BUSY_SECONDS) -> None:
        self.path = path
        self._wait = wait

    @classmethod
    def create(cls, path: Path, cosigner: Cosigner) -> WitnessMemory:
        """Make the memory of a new witness; never over an existing file."""
        made = cls(path)
        if path.exists():
            raise LogError(
                "this file exists already",
                where=str(path),
                what_to_do="choose another path",
            )
        with made._connected("rwc") as db:
            db.execute("pragma journal_mode = wal")
            db.execute("begin immediate")
            for statement in _TABLES:
                db.execute(statement)
            db.execute("insert into witness values (?)", (cosigner.vkey,))
            db.execute("commit")
        return made

    @classmethod
    def open(cls, path: Path, *, wait: float = BUSY_SECONDS) -> WitnessMemory:
        """Return the memory in a file; raise LogError where there is none.

        ``wait`` is how long to wait for a turn, in seconds.
        """
        if not path.is_file():
            raise LogError(
                "there is no witness's memory here", where=str(path), what_to_do=_LOST
            )
        found = cls(path, wait=wait)
        with found._connected() as db:
            ids = [db.execute(f"pragma {p}").fetchone()[0] for p in _IDS]
        if ids != [APPLICATION_ID, 1]:
            raise LogError(
                "this is not the memory of a witness of this version",
                where=str(path),
                what_to_do="name another file",
            )
        return found

    @property
    def cosigner(self) -> Cosigner:
        """The witness whose memory this is."""
        with self._connected() as db:
            row = db.execute("select vkey from witness").fetchone()
        try:
            return parse_vkey(str(row and row[0]))
        except AuditkitError as error:
            raise LogError(
                error.message, where=str(self.path), what_to_do=_LOST
            ) from None

    def seen(self) -> dict[str, LastCosigned]:
        """Return what was seen last, by origin."""
        with self._connected() as db:
            rows = db.execute("select origin, size, root, at from seen")
            return {origin: LastCosigned(*rest) for origin, *rest in rows}

    @contextmanager
    def turn(self, origin: str) -> Iterator[Turn]:
        """Hold the only writer's place over what was seen of one log.

        ``BEGIN IMMEDIATE``: between reading what was seen and keeping what is new, no
        other request is served (tlog-witness describes the race). What was kept is on
        the disk when this ends; an exception leaves nothing behind.
        """
        with self._connected() as db:
            db.execute("begin immediate")
            try:
                yield Turn(db, origin)
                db.execute("commit")
            except BaseException:
                if db.in_transaction:
                    db.execute("rollback")
                raise

    @contextmanager
    def _connected(self, mode: str = "rw") -> Iterator[sqlite3.Connection]:
        uri = f"{self.path.absolute().as_uri()}?mode={mode}"
        try:
            with closing(
                sqlite3.connect(uri, uri=True, timeout=self._wait, isolation_level=None)
            ) as db:
                db.execute("pragma synchronous = full")
                yield db
        except sqlite3.Error as error:
            raise LogError(
                f"the witness's memory cannot be used ({error})",
                where=str(self.path),
                what_to_do=_LOST,
            ) from error


_IDS = ("application_id", "user_version")
_LOST = (
    "check the path, the disk and the file's rights; if it is lost, retire this "
    "witness's key and make a new one with 'auditkit witness key'"
)


class Turn:
    """One request's turn: what was seen, and the one thing to keep instead."""

    def __init__(self, db: sqlite3.Connection, origin: str) -> None:
        self._db = db
        self._origin = origin
        row = db.execute(
            "select size, root, at from seen where origin = ?", (origin,)
        ).fetchone()
        self.seen = LastCosigned() if row is None else LastCosigned(*row)

    def keep(self, new: LastCosigned) -> None:
        """Keep what is cosigned now; refuse a smaller tree or an earlier time."""
        if new.size < self.seen.size or new.at < self.seen.at:
            raise LogError(
                "a witness never goes back",
                where=self._origin,
                what_to_do="report this fault",
            )
        self._db.execute(
            "insert into seen values (?, ?, ?, ?) on conflict (origin)"
            " do update set size = excluded.size, root = excluded.root,"
            " at = excluded.at",
            (self._origin, new.size, new.root, new.at),
        )
