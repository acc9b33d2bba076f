"""Texts of a packet as what a column holds: a moment, a number, a day. Pure.

A stranger wrote them: what is no such thing is None.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import UTC, date, datetime
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from typing import Any

from auditkit.bench.units import Unit, exact, to_si, unit_of
from auditkit.errors import InputError
from auditkit.text.moment import rfc3339

_Single = str | int | float | bool | bytes | datetime | date
Cell = _Single | list[int] | list[bytes] | list[datetime] | None
Row = Mapping[str, Any]
"""A row by the names of its columns; one that is missing is null."""

_METRES = {"km": Decimal(1000), "mi": Decimal("1609.344")}
_MOST = 2**53 - 1
_LARGEST = 1e30  # beyond anything that is measured; its squares still add up


def moment(text: str) -> datetime | None:
    """Return a time (RFC 3339) in UTC, without its offset; None where it is none."""
    try:
        found = rfc3339(text)
        if found.tzinfo is None:
            return None
        return found.astimezone(UTC).replace(tzinfo=None)
    except (ValueError, OverflowError):
        return None


def offset_min(text: str) -> int | None:
    """Return the offset from UTC with which a time was written, in minutes."""
    try:
        offset = rfc3339(text).utcoffset()
    except ValueError:
        return None
    return None if offset is None else round(offset.total_seconds() / 60)


def day(text: object) -> date | None:
    """Return a day (RFC 3339 full-date); None where it is none."""
    try:
        return date.fromisoformat(str(text)) if isinstance(text, str) else None
    except ValueError:
        return None


def number(text: object) -> float | None:
    """Return a decimal text as a number; None where it is none, or never measured."""
    try:
        return finite(float(Decimal(str(text))))
    except (InvalidOperation, OverflowError, ValueError):
        return None


def metres(text: object, unit: object) -> int | None:
    """Return a distance in km or mi as whole metres; None where it is none."""
    factor = _METRES.get(str(unit))
    try:
        found = None if factor is None else Decimal(str(text)) * factor
        if found is None or not 0 <= found <= _MOST:
            return None
        return round(found)
    except InvalidOperation:
        return None


def known_unit(text: object) -> Unit | None:
    """Return the unit that a text names; None where it names none."""
    try:
        return unit_of(str(text))
    except InputError:
        return None


def in_si(text: object, unit: Unit | None) -> float | None:
    """Return a decimal text of a unit in the SI unit of its kind; None for none."""
    if unit is None or text is None:
        return None
    try:
        return finite(to_si(exact(str(text)), unit))
    except InputError:
        return None


def difference_in_si(value: float | None, unit: Unit | None) -> float | None:
    """Return a difference or an uncertainty of a unit in the SI unit of its kind."""
    if value is None or unit is None:
        return None
    return finite(value * float(unit.factor))


def finite(value: float | Fraction) -> float | None:
    """Return a number as a float; None where it is none, or larger than measured."""
    try:
        found = float(value)
    except OverflowError:
        return None
    return found if math.isfinite(found) and abs(found) <= _LARGEST else None


def whole(value: object) -> int | None:
    """Return an integer that a column holds; None for anything else."""
    return value if type(value) is int and abs(value) <= _MOST else None
