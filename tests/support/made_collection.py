"""A collection in memory, of invented rows; what a test leaves out has a plain value.

``Made().order(shop="Shop 1", ...)`` and ``fault``, ``insert``; then ``ask(settings)``.
"""

import hashlib
from datetime import UTC, datetime, timedelta
from functools import cache
from itertools import count

import duckdb
import pyarrow as pa
from fleet_columns import load

from auditkit.fleet import tables
from auditkit.fleet.asking import Asked, prepared
from auditkit.fleet.settings import Settings
from auditkit.fleet.vehicles import InView

DAY_ONE = datetime(2026, 1, 1, 8, tzinfo=UTC).replace(tzinfo=None)
"""Day 0 of every invented collection, in UTC."""


def day(number):
    return DAY_ONE + timedelta(days=number)


def digest(*named):
    return hashlib.sha256(repr(named).encode()).digest()


_NUMBERS = count(1)


@cache
def _memory():
    """Return the one database in memory: to begin one is half of a test's time."""
    return duckdb.connect(":memory:", config={"threads": 1})


class Made:
    """One collection; every shop has one log unless a test adds another."""

    def __init__(self, *, keys_given=True):
        self._name = f"made{next(_NUMBERS)}"
        _memory().execute(f"ATTACH ':memory:' AS {self._name}")
        self._connection = self._connected()
        for statement in tables.statements():
            self._connection.execute(statement)
        self._rows, self._logs, self._orders, self._log_ids, self._seq = {}, {}, 0, 0, 0
        self.insert(
            "collection",
            format=tables.FORMAT,
            program="0",
            is_pseudonymous=False,
            rules_sha256=digest("rules"),
            policy_sha256=digest("policy"),
            keys_sha256=digest("keys") if keys_given else None,
        )

    def _connected(self):
        connection = _memory().cursor()
        connection.execute(f"USE {self._name}")
        return connection

    def insert(self, table, **values):
        self._rows.setdefault(table, []).append(values)

    @property
    def connection(self):
        """DuckDB's, with every row that was inserted so far."""
        self._load()
        return self._connection

    def _load(self):
        for table, rows in self._rows.items():
            names = sorted({name for row in rows for name in row})
            columns = {name: [row.get(name) for row in rows] for name in names}
            load(self._connection, table, pa.table(columns))
        self._rows = {}

    def log(self, shop, **values):
        """Add a log of a shop; return its id. Whole unless told otherwise."""
        self._log_ids += 1
        log_id = self._log_ids
        row = {
            "log_id": log_id,
            "origin": f"shop{log_id}.example",
            "key_id": f"key-{log_id}",
            "shop": shop,
            "is_trusted": True,
            "opened_at": day(-30),
            "largest_size": 100,
            "entries_delivered": 100,
            "is_forked": False,
        }
        self.insert("log", **row | values)
        self._logs[shop] = log_id
        return log_id

    def order(self, shop="Shop 1", at=0, vin="VIN1", log_id=None, **values):
        """Add an order, repaired on day ``at``, with its packet; return its id."""
        if log_id is None:
            log_id = self._logs.get(shop) or self.log(shop)
        self._orders += 1
        order_id = self._orders
        number = values.pop("order_no", f"RO-{order_id}")
        key_is = values.pop("key_is", None)
        self.insert(
            "packet",
            packet_id=order_id,
            sha256=digest("packet", order_id),
            run_id=1,
            path=f"packets/{order_id}.json",
            bytes=1000,
            log_id=log_id,
            order_no=number,
            is_verified=True,
            key_is=key_is,
        )
        row = {
            "order_id": order_id,
            "log_id": log_id,
            "order_no": number,
            "packet_id": order_id,
            "vin": vin,
            "vin_state": "absent" if vin is None else "given",
            "opened_at": day(at),
            "offset_min": 0,
            "first_repair_at": day(at),
            "last_repair_at": day(at),
            "closed_at": day(at),
            "verdict": "proven",
            "is_waiting": False,
            "is_incomplete": False,
        }
        self.insert("repair_order", **row | values)
        return order_id

    def fault(self, order_id, code="P0401", module="7E8", **values):
        """Add an addressed, repaired fault of an order that was fixed at first."""
        row = {
            "order_id": order_id,
            "module": module,
            "code": code,
            "kind": "stored",
            "fault_group": "egr",
            "is_addressed": True,
            "verdict": "proven",
            "attempts": 1,
            "fixed_first": "shown",
            "came_back_here": False,
        }
        self.insert("fault", **row | values)

    def recorded(self, at, shop="Shop 1", **values):
        """Add an event that was recorded on day ``at``."""
        log_id = values.pop("log_id", None) or self._logs.get(shop) or self.log(shop)
        self._seq += 1
        seq = self._seq
        row = {
            "log_id": log_id,
            "seq": seq,
            "kind": "readout",
            "by_person": "person-1",
            "happened_at": day(at),
            "offset_min": 0,
            "recorded_at": day(at),
            "leaf": digest("leaf", seq),
            "root": digest("root", seq),
            "packet_id": 1,
        }
        self.insert("event", **row | values)

    def save(self, path):
        """Write it as the file of a collection."""
        made = self.connection
        made.execute(f"ATTACH '{path}' AS file")
        made.execute(f"COPY FROM DATABASE {self._name} TO file")
        made.execute("DETACH file")
        return path

    def ask(self, settings=None, vehicles=()):
        """Return an Ask of it; ``vehicles`` are (vin, since, until) of a register."""
        register = [InView(*row) for row in vehicles]
        asked = Asked(settings or Settings(), register)
        self._load()
        return prepared(self._connected(), asked)
