"""A shop's register of instruments, kept as a table: CSV -> the register. Pure.

One row a calibration: a row that names an instrument again adds a calibration to it.
The columns are the register's members, those of a calibration by their names too
(``on``, ``due``, ``certificate``, ``u``, ``k``); an empty cell says nothing. As RFC
4180 has it, or with semicolons, as spreadsheets write it where a comma is a decimal
mark.
"""

from __future__ import annotations

import csv
import io
import json
from typing import TYPE_CHECKING

from auditkit.errors import InputError
from auditkit.order.instruments import parse_register

if TYPE_CHECKING:
    from auditkit.order.instruments import RegisteredInstrument

_OF_CALIBRATION = ("on", "due", "certificate", "u", "k")
_NEEDED = ("id", "description", "unit")


def parse_table(text: str, *, where: str = "") -> dict[str, RegisteredInstrument]:
    """Return the register of a CSV text by id; InputError for what does not fit."""
    head = text.partition("\n")[0]
    delimiter = ";" if head.count(";") > head.count(",") else ","
    try:
        rows = csv.DictReader(
            io.StringIO(text.removeprefix("\ufeff")), delimiter=delimiter, strict=True
        )
        columns = [name.strip() for name in rows.fieldnames or ()]
        lacks = [name for name in _NEEDED if name not in columns]
        if lacks or len(set(columns)) < len(columns):
            raise InputError(
                f"its first row does not name the columns {', '.join(lacks)}"
                if lacks
                else "a column is named twice in its first row",
                where=where,
                what_to_do="write the names of the columns there, as the register's "
                "members are called: id, description, unit, low, high, resolution, "
                "on, due, and others",
            )
        rows.fieldnames = columns
        instruments: dict[str, dict[str, object]] = {}
        for number, row in enumerate(rows, 2):
            _take(instruments, row, f"{where}, row {number}")
    except csv.Error as error:
        raise InputError(
            f"this is no table of values: {error}",
            where=where,
            what_to_do="save it as CSV again",
        ) from error
    register = {
        "format": "auditkit/instruments@1",
        "instruments": list(instruments.values()),
    }
    return parse_register(json.dumps(register), where=where)


def _take(
    instruments: dict[str, dict[str, object]], row: dict[str, str], where: str
) -> None:
    if None in row or None in row.values():
        raise InputError(
            "it has not as many cells as the first row",
            where=where,
            what_to_do="put what holds a comma in quotation marks",
        )
    said = {name: cell.strip() for name, cell in row.items() if cell.strip()}
    if not said:
        return
    made = {name: said.pop(name) for name in _OF_CALIBRATION if name in said}
    known = instruments.setdefault(said.get("id", ""), {**said, "calibrations": []})
    for name, cell in said.items():
        if known.get(name) != cell:
            raise InputError(
                f"{name} of {said.get('id', 'an instrument')} is {cell!r} here, and "
                f"{known.get(name)!r} above",
                where=where,
                what_to_do="write the same in each of its rows, or leave it empty",
            )
    calibrations = known["calibrations"]
    assert isinstance(calibrations, list)  # noqa: S101  it was put there
    if made:
        calibrations.append(made)
