"""Columns of an invented fleet, and how a table of them is inserted."""

from datetime import datetime

import numpy as np
import pyarrow as pa

DAY = 86_400.0
YEARS = 730 * DAY
INHG = 3386.389  # Pa, NIST SP 811 table B.8 (from memory)
START = datetime(2024, 1, 1)  # noqa: DTZ001 - a collection's times are UTC, and bare
_EPOCH = np.datetime64(START, "us")


def load(connection, table, rows):
    """Insert an Arrow table's columns, by name."""
    connection.register("arriving", rows)
    connection.execute(f"INSERT INTO {table} BY NAME SELECT * FROM arriving")
    connection.unregister("arriving")


def same(text, n):
    """Return a column that says one thing."""
    return pa.array([text]).take(pa.array(np.zeros(n, np.int32)))


def times(seconds):
    """Return seconds after the start as times, in whole milliseconds."""
    micros = (np.round(np.asarray(seconds, float), 3) * 1e6).astype("timedelta64[us]")
    return pa.array(_EPOCH + micros)


def random_digests(draw, n):
    return pa.FixedSizeBinaryArray.from_buffers(
        pa.binary(32), n, [None, pa.py_buffer(draw.bytes(32 * n))]
    )
