"""A shop's register of instruments, kept as a table: CSV -> the register. Pure.

One row a calibration: a row that names an instrument again adds a calibration to it.
The columns are the register's members, those of a calibration by their names too
(``on``, ``due``, ``certificate``, ``u``, ``k``), or what they are called in words; an
empty cell says nothing. As RFC 4180 has it, or with semicolons or tabs, as spreadsheets
write it where a comma is a decimal mark.
"""

from __future__ import annotations

import csv
import io
import json
import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from auditkit.errors import InputError
from auditkit.order.instruments import parse_register
from auditkit.order.schema import validate
from auditkit.text.display_text import nearest, quoted

if TYPE_CHECKING:
    from auditkit.order.instruments import RegisteredInstrument
    from auditkit.order.schema import SchemaProblem
    from auditkit.text.values import Json

_OF_CALIBRATION = ("on", "due", "certificate", "u", "k")
_NEEDED = ("id", "description", "unit", "low", "high", "resolution")
_WORDS = {
    "id": ("instrument",),
    "description": ("what it is",),
    "serial": ("serial number",),
    "unit": (),
    "low": ("from", "range from"),
    "high": ("to", "range to"),
    "resolution": ("smallest step",),
    "percent_of_reading": ("percent of reading", "% of reading"),
    "percent_of_span": ("percent of span", "% of span", "% of range"),
    "digits": ("error in digits",),
    "absolute": ("error", "absolute error"),
    "on": ("calibrated", "calibrated on", "checked on"),
    "due": ("due on", "next calibration"),
    "certificate": ("certificate number",),
    "u": ("uncertainty",),
    "k": ("coverage factor",),
}
_MEMBERS = {word: name for name, words in _WORDS.items() for word in (name, *words)}
_NO_NUMBERS = frozenset(
    {"id", "description", "serial", "unit", "on", "due", "certificate"}
)
_DECIMAL_COMMA = re.compile(r"(-?[0-9]+),([0-9]+)")
_DAY_FIRST = re.compile(r"([0-9]{2})\.([0-9]{2})\.([0-9]{4})")


@dataclass(slots=True)
class _Table:
    """A register in the making, and which row said which part of it.

    ``rows`` are of an instrument, by its place, and of a calibration, by both places.
    """

    where: str
    headings: dict[str, str]
    has_comma: bool
    instruments: list[dict[str, Json]] = field(default_factory=list)
    places: dict[str, int] = field(default_factory=dict)
    rows: dict[tuple[int, ...], int] = field(default_factory=dict)

    def at(self, row: int, member: str = "") -> str:
        """Return a place in the table as a person finds it in a spreadsheet."""
        column = self.headings.get(member)
        return f"{self.where}, row {row}" + (f", column {column}" if column else "")

    def take(self, row: int, cells: dict[str, str]) -> None:
        """Take on a row; InputError where it says of an instrument two things."""
        said = {n: self._value(n, c.strip()) for n, c in cells.items() if c.strip()}
        if not said:
            return
        made = {name: said.pop(name) for name in _OF_CALIBRATION if name in said}
        place = self.places.setdefault(said.get("id", ""), len(self.instruments))
        if place == len(self.instruments):
            self.instruments.append({**said, "calibrations": []})
            self.rows[(place,)] = row
        known = self.instruments[place]
        for name, cell in said.items():
            if known.get(name) != cell:
                raise InputError(
                    f"{name} of {said.get('id', 'an instrument')} is {quoted(cell)} "
                    f"here, and {quoted(str(known.get(name, '')))} above",
                    where=self.at(row, name),
                    what_to_do="write the same in each of its rows, or leave it empty",
                )
        calibrations = known["calibrations"]
        assert isinstance(calibrations, list)  # noqa: S101  it was put there
        if made:
            self.rows[(place, len(calibrations))] = row
            calibrations.append(dict(made))

    def _value(self, name: str, cell: str) -> str:
        """Return a cell as the register writes it."""
        if name in {"on", "due"} and (found := _DAY_FIRST.fullmatch(cell)):
            return f"{found[3]}-{found[2]}-{found[1]}"
        if self.has_comma and name not in _NO_NUMBERS:
            return _DECIMAL_COMMA.sub(r"\1.\2", cell)
        return cell

    def error(self, problem: SchemaProblem) -> InputError:
        """Return what does not fit, with its row and column."""
        _, *way = problem.pointer.split("/")
        numbers = tuple(int(step) for step in way if step.isdecimal())
        row = self.rows.get(numbers, self.rows.get(numbers[:1], 1))
        named = problem.missing or way[-1]
        return InputError(
            problem.message,
            where=self.at(row, named),
            what_to_do=problem.what_to_do,
        )


def parse_table(text: str, *, where: str = "") -> dict[str, RegisteredInstrument]:
    """Return the register of a CSV text by id; InputError for what does not fit."""
    text = text.removeprefix("\ufeff")
    delimiter = max(",;\t", key=text.partition("\n")[0].count)
    rows = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    try:
        members = _members(_trimmed(next(rows, []), 0), where)
        headings = {name: quoted(head) for name, head in members.items()}
        table = _Table(where, headings, has_comma=delimiter != ",")
        for number, every in enumerate(rows, 2):
            cells = _trimmed(every, len(members))
            if cells and len(cells) != len(members):
                raise InputError(
                    f"it has {len(cells)} cells, and the first row {len(members)}",
                    where=table.at(number),
                    what_to_do="put what holds a comma in quotation marks",
                )
            table.take(number, dict(zip(members, cells, strict=False)))
    except csv.Error as error:
        raise InputError(
            f"this is no table of values: {error}",
            where=f"{where}, line {rows.line_num}",
            what_to_do="save it as CSV again",
        ) from error
    instruments: list[Json] = list(table.instruments)
    register: Json = {"format": "auditkit/instruments@1", "instruments": instruments}
    if instruments and (problems := validate("instruments-1", register)):
        raise table.error(problems[0])
    return parse_register(json.dumps(register), where=where)


def _trimmed(cells: list[str], least: int) -> list[str]:
    """Return a row without the empty cells at its end that are more than ``least``."""
    count = len(cells)
    while count > least and not cells[count - 1].strip():
        count -= 1
    return cells[:count]


def _members(head: list[str], where: str) -> dict[str, str]:
    """Return the register's members as the first row names them -> their headings."""
    place = f"{where}, row 1"
    found: dict[str, str] = {}
    for cell in head:
        said = " ".join(cell.lower().split())
        name = _MEMBERS.get(said)
        if name is None:
            near = nearest(said, _MEMBERS)
            raise InputError(
                f"no column is called {quoted(cell)}",
                where=place,
                what_to_do=f"did you mean {near[0]!r}?"
                if near
                else f"leave it out; the columns are {', '.join(_WORDS)}",
            )
        if name in found:
            raise InputError(
                f"the columns {quoted(found[name])} and {quoted(cell)} say the same",
                where=place,
                what_to_do="keep one of them",
            )
        found[name] = cell
    if lacks := [name for name in _NEEDED if name not in found]:
        raise InputError(
            f"it does not name the columns {', '.join(lacks)}",
            where=place,
            what_to_do=f"write the names of the columns there: {', '.join(_WORDS)}",
        )
    return found
