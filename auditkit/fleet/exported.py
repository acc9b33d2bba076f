"""An audit as JSON, and its tables as CSV and as Parquet. Pure.

The tables are those of the report; the questions to shops are two more: ``questions``
and ``packets_to_open``.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from enum import Enum
from typing import TYPE_CHECKING

from auditkit.fleet.audited import Audit, Cell, Column, Table

if TYPE_CHECKING:
    import pyarrow as pa  # type: ignore[import-untyped]

FORMAT = "auditkit/audit@1"
# Full-width signs too: some spreadsheets read them as the narrow ones.
_FORMULA = (*"=+-@\t\r\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")


def audit_json(audit: Audit) -> dict[str, object]:
    """Return an audit as JSON: its members are those of ``auditkit.fleet.audited``.

    Each table's rows are objects by the names of its columns; an absent cell is null.
    """
    members = {one.name: _plain(getattr(audit, one.name)) for one in fields(audit)}
    return {"format": FORMAT, **members}


def _plain(value: object) -> object:
    if isinstance(value, Table):
        names = [column.name for column in value.columns]
        return {
            "name": value.name,
            "title": value.title,
            "columns": [_plain(column) for column in value.columns],
            "rows": [dict(zip(names, row, strict=True)) for row in value.rows],
            "note": value.note,
            "without": value.without,
            "is_for_files": value.is_for_files,
        }
    if isinstance(value, Enum):
        return str(value.value)
    if is_dataclass(value) and not isinstance(value, type):
        return {one.name: _plain(getattr(value, one.name)) for one in fields(value)}
    if isinstance(value, tuple):
        return [_plain(one) for one in value]
    if isinstance(value, dict):
        return {name: _plain(one) for name, one in value.items()}
    return value


def all_tables(audit: Audit) -> Iterator[Table]:
    """Yield every table of an audit, the questions to shops last."""
    for section in audit.sections:
        yield from section.tables
    yield Table(
        name="questions",
        title="Questions to shops",
        columns=(
            Column("shop", "shop"),
            Column("screen", "screen"),
            Column("question", "question"),
            Column("is_to_watch", "only to watch"),
            Column("measured", "measured"),
            Column("peers", "other shops"),
            Column("at_least", "at least"),
            Column("honest_reasons", "honest reasons"),
            Column("answer", "the shop's answer"),
            Column("also", "asked of, too"),
        ),
        rows=tuple(
            (
                *(one.shop, one.screen, one.question),
                "yes" if one.is_to_watch else "no",
                *(_listed(dict(one.measured)), _listed(dict(one.peers)), one.at_least),
                *("; ".join(one.honest_reasons), one.answer, "; ".join(one.also)),
            )
            for one in audit.asked
        ),
    )
    yield Table(
        name="packets_to_open",
        title="Packets to look at",
        columns=(
            Column("shop", "shop"),
            Column("screen", "screen"),
            Column("packet", "packet"),
            Column("order", "repair order"),
            Column("because", "because"),
        ),
        rows=tuple(
            (one.shop, one.screen, packet.sha256, packet.repair_order, packet.because)
            for one in audit.asked
            for packet in one.to_open
        ),
    )


def _listed(named: dict[str, Cell]) -> str:
    return "; ".join(f"{name}: {_said(value)}" for name, value in named.items())


def _said(value: Cell) -> str:
    return "too few" if value is None else f"{value}"


def csv_text(table: Table) -> str:
    """Return a table as CSV (RFC 4180) with a first row of names.

    An absent cell is empty, a number stays one. A text that a spreadsheet would take
    for a formula gets an apostrophe before it: names in it are strangers'.
    """
    made = io.StringIO(newline="")
    writer = csv.writer(made, lineterminator="\r\n")
    writer.writerow(column.name for column in table.columns)
    for row in table.rows:
        writer.writerow("" if cell is None else _harmless(cell) for cell in row)
    return made.getvalue()


def _harmless(cell: Cell) -> Cell:
    return f"'{cell}" if isinstance(cell, str) and cell.startswith(_FORMULA) else cell


def parquet_bytes(table: Table) -> bytes:
    """Return a table as one Parquet file; the same table gives the same bytes."""
    import pyarrow as pa
    import pyarrow.parquet as pq  # type: ignore[import-untyped]

    columns = list(zip(*table.rows, strict=True)) or [()] * len(table.columns)
    arrays = [_array(column) for column in columns]
    whole = pa.table(
        arrays, names=[column.name for column in table.columns]
    ).replace_schema_metadata({"title": table.title})
    out = io.BytesIO()
    pq.write_table(whole, out, compression="zstd")
    return out.getvalue()


def _array(column: tuple[Cell, ...]) -> pa.Array:
    import pyarrow as pa

    kinds = {type(cell) for cell in column if cell is not None}
    if str in kinds:
        texts = [None if cell is None else str(cell) for cell in column]
        return pa.array(texts, pa.string())
    return pa.array(column, pa.float64() if float in kinds else pa.int64())
