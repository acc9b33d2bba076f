"""A reader's register of vehicles: which are in view, from when, until when. Pure.

A table (CSV) with a first row ``vin,from,to``; ``from`` and ``to`` are dates, may be
empty, and may be left out. A vehicle may have several rows, of periods that do not
overlap. "To" is the last day in view, in UTC.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from itertools import pairwise

from auditkit.errors import InputError

_HEADS = ("vin", "from", "to")
_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")


@dataclass(frozen=True, slots=True)
class InView:
    """A vehicle from ``since`` on until ``until``, UTC; None where that is open."""

    vin: str
    since: datetime | None = None
    until: datetime | None = None


def parse_vehicles(text: str, *, where: str = "") -> tuple[InView, ...]:
    """Return the periods of a register; InputError, with its row, where it is none."""
    text = text.removeprefix("\ufeff")
    delimiter = max(",;\t", key=text.partition("\n")[0].count)
    rows = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    try:
        found = list(_periods(rows, where))
    except csv.Error as error:
        raise InputError(
            f"this is no table of values: {error}",
            where=f"{where}, line {rows.line_num}",
            what_to_do="save it as CSV again",
        ) from error
    if not found:
        raise InputError(
            "this register names no vehicle",
            where=where,
            what_to_do="write one row a vehicle below 'vin,from,to'",
        )
    _refuse_overlaps(found, where)
    return tuple(one for _, one in found)


def _periods(rows: Iterator[list[str]], where: str) -> Iterator[tuple[int, InView]]:
    heads = [head.strip().lower() for head in next(rows, [])]
    if "vin" not in heads or set(heads) - set(_HEADS) or len(set(heads)) < len(heads):
        raise InputError(
            f"the first row is not 'vin,from,to' but {','.join(heads)!r}",
            where=f"{where}, row 1",
            what_to_do="name the columns so; leave other columns out",
        )
    for number, cells in enumerate(rows, 2):
        if not any(cell.strip() for cell in cells):
            continue
        place = f"{where}, row {number}"
        if len(cells) != len(heads):
            raise InputError(
                f"it has {len(cells)} cells, and the first row {len(heads)}",
                where=place,
                what_to_do="give each column its cell",
            )
        given = dict(zip(heads, (cell.strip() for cell in cells), strict=True))
        if not given["vin"]:
            raise InputError(
                "there is no VIN",
                where=place,
                what_to_do="write it, or leave the row out",
            )
        since, until = (_day(given.get(name, ""), place) for name in ("from", "to"))
        if since and until and until < since:
            raise InputError(
                "'to' lies before 'from'", where=place, what_to_do="correct one of them"
            )
        yield (
            number,
            InView(
                given["vin"].upper(),
                _midnight(since) if since else None,
                _midnight(until) + timedelta(days=1) if until else None,
            ),
        )


def _day(text: str, place: str) -> date | None:
    if not text:
        return None
    try:
        # Python 3.11 reads other forms too, such as 20260302 and 2026-W10-1.
        found = date.fromisoformat(text) if _DATE.fullmatch(text) else None
    except ValueError:
        found = None
    if found is None:
        raise InputError(
            f"{text!r} is no date",
            where=place,
            what_to_do="write it as 2026-03-02, or leave it empty",
        )
    if not 1900 <= found.year <= 9000:
        raise InputError(
            f"{text!r} is no date of a vehicle in view",
            where=place,
            what_to_do="correct the year, or leave it empty",
        )
    return found


def _midnight(day: date) -> datetime:
    return datetime.combine(day, time())


def _refuse_overlaps(found: list[tuple[int, InView]], where: str) -> None:
    """Raise InputError where two periods of one vehicle overlap."""
    earliest = _midnight(date.min)
    ordered = sorted(
        found, key=lambda one: (one[1].vin, one[1].since or earliest, one[0])
    )
    for (_, one), (number, other) in pairwise(ordered):
        if one.vin != other.vin:
            continue
        if one.until is None or other.since is None or other.since < one.until:
            raise InputError(
                f"two periods of vehicle {other.vin} overlap",
                where=f"{where}, row {number}",
                what_to_do="let one end on the day before the other begins",
            )
