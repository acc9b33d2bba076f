"""Collections of made packets, and what they hold, told without ids."""

from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import duckdb

from auditkit.fleet.collecting import collect
from auditkit.fleet.collection_file import opened
from auditkit.fleet.tables import TABLES
from auditkit.fleet.tables_held import TablesHeld
from auditkit.fleet.terms import Terms, begin

_NAMES = {
    "packet_id": "(SELECT hex(sha256) FROM packet p WHERE p.packet_id = t.packet_id)",
    "log_id": "(SELECT origin || key_id FROM log l WHERE l.log_id = t.log_id)",
    "order_id": "(SELECT min(hex(sha256)) FROM packet p WHERE p.order_id = t.order_id)",
    "run_id": "NULL",
    "path": "NULL",
    "first_packet_id": "(SELECT hex(sha256) FROM packet p "
    "WHERE p.packet_id = t.first_packet_id)",
    "second_packet_id": "(SELECT hex(sha256) FROM packet p "
    "WHERE p.packet_id = t.second_packet_id)",
    "texts_from": "(SELECT list(hex(sha256) ORDER BY sha256) FROM packet p "
    "WHERE list_contains(t.texts_from, p.packet_id))",
}


def asked(path, sql):
    """Return the rows of an answer."""
    with duckdb.connect(str(path), read_only=True) as held:
        return held.execute(sql).fetchall()


def content(path: Path, *, without=()):
    """Return all rows of a collection by table, in order, no id in them."""
    found = {}
    with duckdb.connect(str(path), read_only=True) as held:
        for table in TABLES:
            columns = [row[0] for row in held.execute(f"DESCRIBE {table}").fetchall()]
            named = ", ".join(_NAMES.get(name, f"t.{name}") for name in columns)
            if table not in {"run", *without}:
                rows = held.execute(f"SELECT {named} FROM {table} t").fetchall()
                found[table] = sorted(rows, key=repr)
    return found


def written(folder: Path, packets):
    """Write packets' texts into a folder as 000.json and so on; return the folder."""
    folder.mkdir(parents=True, exist_ok=True)
    held = len(list(folder.iterdir()))
    for place, text in enumerate(packets, held):
        data = text if isinstance(text, bytes) else text.encode()
        (folder / f"{place:03}.json").write_bytes(data)
    return folder


@cache
def _empty() -> bytes:
    """Return a collection that was begun, with nothing in it yet."""
    with TemporaryDirectory() as name:
        into = Path(name) / "fleet.duckdb"
        with opened(into, writes=True) as connection:
            begin(TablesHeld(connection), Terms())
        return into.read_bytes()


def collected(place: Path, packets, how=None):
    """Collect packets in a new folder; return the file and what came of it.

    By the usual terms it goes on with a file that was begun.
    """
    into = place / "fleet.duckdb"
    place.mkdir(parents=True, exist_ok=True)
    if how is None and not into.exists():
        into.write_bytes(_empty())
    done = collect([written(place / "in", packets)], into, how)
    return into, done
