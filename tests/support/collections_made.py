"""Collections of made packets, and what they hold, told without ids."""

from pathlib import Path

import duckdb

from auditkit.fleet.collecting import collect
from auditkit.fleet.tables import TABLES

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
    with duckdb.connect(str(path), read_only=True) as opened:
        return opened.execute(sql).fetchall()


def content(path: Path, *, without=()):
    """Return all rows of a collection by table, in order, no id in them."""
    found = {}
    with duckdb.connect(str(path), read_only=True) as opened:
        for table in TABLES:
            columns = [row[0] for row in opened.execute(f"DESCRIBE {table}").fetchall()]
            named = ", ".join(_NAMES.get(name, f"t.{name}") for name in columns)
            if table not in {"run", *without}:
                rows = opened.execute(f"SELECT {named} FROM {table} t").fetchall()
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


def collected(place: Path, packets, how=None):
    """Collect packets in a new folder; return the file and what came of it."""
    into = place / "fleet.duckdb"
    place.mkdir(parents=True, exist_ok=True)
    done = collect([written(place / "in", packets)], into, how)
    return into, done
