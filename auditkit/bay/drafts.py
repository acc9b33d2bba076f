"""What was typed and not yet sent, kept over a restart.

In a file of its own beside the log (``shop.auditlog.drafts``): the log's file has its
own tables alone, and a second writer there would make the first wait. A draft is gone
once its step is recorded. Nothing here is signed, and nothing is lost with the file but
what nobody has sent.
"""

from __future__ import annotations

import json
import os
import sqlite3
from collections import OrderedDict
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from threading import Lock
from typing import TYPE_CHECKING, Self

from auditkit.errors import InputError, LogError
from auditkit.log.sqlite_file import connect

if TYPE_CHECKING:
    from pathlib import Path

MOST_BYTES = 64 * 1024  # of one draft, as JSON in ASCII
MOST = 100  # drafts of one person; the one kept longest ago gives way
_REMEMBERED = 1000  # forms that were recorded last
_TABLE = """
create table if not exists draft (
    person text not null, repair_order text not null, form text not null,
    kept_at text not null, fields text not null,
    primary key (person, repair_order, form)
) strict, without rowid
"""
_KEY = "where person = ? and repair_order = ? and form = ?"


@dataclass(frozen=True, slots=True)
class Draft:
    """What a person typed into a form of an order: field -> text. ``kept_at`` RFC 3339.

    ``repair_order`` is empty for the form that opens one.
    """

    person: str
    repair_order: str
    form: str
    kept_at: str
    fields: Mapping[str, str]


class Drafts:
    """The drafts of one log, from any thread. Close them after use."""

    def __init__(self, log: Path) -> None:
        self.path = log.with_name(f"{log.name}.drafts")
        self._lock = Lock()
        self._recorded: OrderedDict[tuple[str, str, str], None] = OrderedDict()
        with self._clear():
            if not self.path.exists():  # its owner's eyes only, from the first byte on
                os.close(os.open(self.path, os.O_CREAT | os.O_WRONLY, 0o600))
            self._db = connect(self.path, "rw", wanders=True)
            try:
                self._db.execute("pragma journal_mode = wal")
                self._db.execute("pragma synchronous = normal")
                self._db.execute("pragma secure_delete = on")
                self._db.execute(_TABLE)
            except BaseException:
                self._db.close()
                raise

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Close the file."""
        self._db.close()

    def keep(self, draft: Draft) -> None:
        """Keep a draft in the place of the one of the same person, order and form.

        One that comes late, of a form that is recorded, is not kept. InputError for one
        that is too long.
        """
        text = json.dumps(dict(draft.fields))
        if len(text) > MOST_BYTES:
            raise InputError(
                f"a draft holds {MOST_BYTES} bytes at most",
                what_to_do="send what is there, or shorten it",
            )
        row = (draft.person, draft.repair_order, draft.form, draft.kept_at, text)
        with self._clear(), self._lock:
            if row[:3] in self._recorded:
                return
            self._db.execute("insert or replace into draft values (?, ?, ?, ?, ?)", row)
            self._db.execute(
                "delete from draft where person = ?1 and (repair_order, form) not in "
                "(select repair_order, form from draft where person = ?1 "
                "order by kept_at desc limit ?2)",
                (draft.person, MOST),
            )

    def find(self, person: str, repair_order: str, form: str) -> Draft | None:
        """Return a draft, None where none is kept."""
        found = self._rows(_KEY, (person, repair_order, form))
        return found[0] if found else None

    def of(self, person: str) -> tuple[Draft, ...]:
        """Return what a person has not sent, what was kept last first."""
        return self._rows("where person = ? order by kept_at desc", (person,))

    def recorded(self, person: str, repair_order: str, form: str) -> None:
        """Remove the draft of a form that is recorded, and keep none of it any more.

        A page keeps what is typed a moment after it was; its form may be sent before.
        """
        with self._lock:
            self._recorded[person, repair_order, form] = None
            while len(self._recorded) > _REMEMBERED:
                self._recorded.popitem(last=False)
        self.drop(person, repair_order, form)

    def drop(self, person: str, repair_order: str, form: str) -> None:
        """Remove a draft."""
        with self._clear(), self._lock:
            self._db.execute(f"delete from draft {_KEY}", (person, repair_order, form))  # noqa: S608  constant text

    def _rows(self, where: str, values: tuple[str, ...]) -> tuple[Draft, ...]:
        query = f"select person, repair_order, form, kept_at, fields from draft {where}"  # noqa: S608  constant text
        with self._clear(), self._lock:
            rows = self._db.execute(query, values).fetchall()
            return tuple(
                Draft(str(p), str(o), str(f), str(at), dict(json.loads(text)))
                for p, o, f, at, text in rows
            )

    @contextmanager
    def _clear(self) -> Iterator[None]:
        """Raise what the file does not do as a LogError that says what to do."""
        try:
            yield
        except sqlite3.ProgrammingError:
            raise
        except (sqlite3.Error, ValueError, TypeError, OSError) as error:
            raise LogError(
                f"drafts cannot be kept here ({error})",
                where=str(self.path),
                what_to_do="check room and rights; or move the file away: nothing but "
                "what was not sent yet is lost with it",
            ) from error
