"""A collection's file, opened to be asked and never written.

What counts, who sees it and which vehicles are in view stand in tables beside those of
the file, in memory alone.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from auditkit.errors import InputError
from auditkit.fleet import collection_file, counted, followed_faults
from auditkit.fleet.part import Ask
from auditkit.fleet.settings import Settings
from auditkit.fleet.vehicles import InView
from auditkit.text.display_text import nearest

if TYPE_CHECKING:
    import duckdb

    from auditkit.fleet.pseudonyms import Pseudonyms


@dataclass(frozen=True, slots=True)
class Asked:
    """How a collection is asked: settings, vehicles in view, and who sees it."""

    settings: Settings = field(default_factory=Settings)
    vehicles: Sequence[InView] = ()
    seen_by: str = ""
    pseudonyms: Pseudonyms | None = None


@contextmanager
def asking(path: Path, asked: Asked) -> Iterator[Ask]:
    """Yield what asks the collection in a file; InputError where it is none.

    An empty one is an error too: there is nothing that could be told.
    """
    with collection_file.opened(path, writes=False) as connection:
        collection_file.check_form(connection, path)
        if connection.execute("SELECT count(*) FROM repair_order").fetchone() == (0,):
            raise InputError(
                "no repair order is in this collection",
                where=str(path),
                what_to_do="take packets in with 'auditkit collect'",
            )
        _check_names(connection, path, asked)
        if asked.seen_by:
            asked = replace(asked, seen_by=_shop(connection, path, asked))
        yield prepared(connection, asked)


def prepared(connection: duckdb.DuckDBPyConnection, asked: Asked) -> Ask:
    """Return what asks a connection, its tables of what counts made."""

    def ask(sql: str, values: Sequence[object] = ()) -> list[tuple[Any, ...]]:
        return connection.execute(sql, list(values)).fetchall()

    for sql, values in counted.statements(asked.settings, asked.seen_by):
        connection.execute(sql, list(values))
    if asked.vehicles:
        import pyarrow as pa  # type: ignore[import-untyped]

        hidden = asked.pseudonyms.vin if asked.pseudonyms else str
        register = pa.table(
            {
                "vin": pa.array([hidden(one.vin) for one in asked.vehicles]),
                "since": pa.array(
                    [one.since for one in asked.vehicles], pa.timestamp("us")
                ),
                "until": pa.array(
                    [one.until for one in asked.vehicles], pa.timestamp("us")
                ),
            }
        )
        connection.register("given_vehicles", register)
        connection.execute(
            "INSERT INTO vehicle_in_view SELECT vin, since, until FROM given_vehicles"
        )
        connection.unregister("given_vehicles")
    for sql, values in followed_faults.statements(asked.settings):
        connection.execute(sql, list(values))
    return ask


def _shop(connection: duckdb.DuckDBPyConnection, path: Path, asked: Asked) -> str:
    """Return the name of the shop that is meant by its name or its log's origin."""
    own = connection.cursor()  # with tables of its own, which end with it
    for sql, values in counted.statements(asked.settings):
        own.execute(sql, list(values))
    found = own.execute(
        "SELECT DISTINCT shop, bool_or(is_counted) FROM shop_log "
        "WHERE shop = ? OR origin = ? GROUP BY shop ORDER BY shop",
        [asked.seen_by, asked.seen_by],
    ).fetchall()
    known = own.execute("SELECT DISTINCT shop FROM shop_log ORDER BY shop").fetchall()
    own.close()
    if len(found) == 1 and found[0][1]:
        return str(found[0][0])
    where = f"{path}, {asked.seen_by!r}"
    if found:
        told = "its logs do not count" if len(found) == 1 else "several shops are meant"
        raise InputError(
            told, where=where, what_to_do="'auditkit audit' without --shop says why"
        )
    near = nearest(asked.seen_by, [str(name) for (name,) in known], 3)
    raise InputError(
        "no shop of this collection is called so",
        where=where,
        what_to_do=f"did you mean {', '.join(near)}?"
        if near
        else "'auditkit audit' without --shop lists them",
    )


def _check_names(
    connection: duckdb.DuckDBPyConnection, path: Path, asked: Asked
) -> None:
    """Raise InputError where vehicles or shops are named otherwise than in the file."""
    row = connection.execute("SELECT pseudonym_check FROM collection").fetchone()
    held = row[0] if row else None
    given = asked.pseudonyms.check if asked.pseudonyms else None
    if given is not None and given != held:
        raise InputError(
            "its pseudonyms were made with another key, or it has none",
            where=str(path),
            what_to_do="name the key with which it was collected",
        )
    if asked.vehicles and held is not None and given is None:
        raise need_key(path)


def need_key(path: Path) -> InputError:
    """Return what to say where VINs are asked of a collection of pseudonyms."""
    return InputError(
        "it holds pseudonyms in place of VINs",
        where=str(path),
        what_to_do="give --pseudonymous and the key with which it was collected",
    )
