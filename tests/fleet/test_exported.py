"""An audit's tables as CSV and Parquet: read back they are the same."""

import csv
import io
import json

import pyarrow.parquet as pq
import pytest

from auditkit.fleet.audited import (
    Audit,
    Chart,
    Column,
    Line,
    Scale,
    Section,
    Style,
    Table,
)
from auditkit.fleet.exported import all_tables, audit_json, csv_text, parquet_bytes

TABLE = Table(
    "t",
    "T",
    (Column("a", "A"), Column("b", "B"), Column("c", "C"), Column("d", "D")),
    (
        ('x, "y"\n', 1, 0.1, None),
        ("=1+1", 2, 3, None),
        ("@cmd", -4, 1e-30, 2),
        ("", None, None, None),
    ),
)


def test_csv_is_read_back():
    rows = list(csv.reader(io.StringIO(csv_text(TABLE), newline="")))
    assert rows[0] == ["a", "b", "c", "d"]
    assert rows[1] == ['x, "y"\n', "1", "0.1", ""]
    assert rows[3] == ["'@cmd", "-4", "1e-30", "2"]


@pytest.mark.parametrize(
    "text",
    [
        *("=1+1", "+1", "-1", "@a", "\t=1", "\r=1", "\n=1"),
        *("\uff1d1+1", "\uff0b1", "\uff0d1", "\uff20a"),
    ],
)
def test_a_name_is_never_a_formula(text):
    table = Table("t", "T", (Column("a", "A"),), ((text,),))
    ((cell,),) = list(csv.reader(io.StringIO(csv_text(table), newline="")))[1:]
    assert cell == f"'{text}"


def test_parquet_is_read_back_in_its_types():
    read = pq.read_table(io.BytesIO(parquet_bytes(TABLE)))
    assert [str(kind) for kind in read.schema.types] == [
        *("string", "int64", "double", "int64")
    ]
    assert [tuple(row.values()) for row in read.to_pylist()] == list(TABLE.rows)
    assert parquet_bytes(TABLE) == parquet_bytes(TABLE)


def test_a_table_without_rows_keeps_its_columns():
    empty = Table("t", "T", TABLE.columns, ())
    assert pq.read_table(io.BytesIO(parquet_bytes(empty))).column_names == [*"abcd"]
    assert csv_text(empty) == "a,b,c,d\r\n"


def test_an_audit_is_plain_json():
    chart = Chart(
        "c", "C", "s", Scale("x"), Scale("y"), (Line("l", ((0, 1),), Style.DASHED),)
    )
    audit = Audit("A", (Section("s", "S", ("one",), (TABLE,), (chart,)),), (), {"n": 1})
    made = json.loads(json.dumps(audit_json(audit), allow_nan=False))
    assert made["sections"][0]["tables"][0]["rows"][1]["a"] == "=1+1"
    assert made["sections"][0]["charts"][0]["lines"][0]["style"] == "dashed"
    assert [table.name for table in all_tables(audit)] == [
        *("t", "questions", "packets_to_open")
    ]
