"""An instrument, or a calibration of one, as a person types it into a register. Pure.

What is typed is text by the names of the register's members, those of a calibration by
theirs (``on``, ``due``, ``certificate``, ``u``, ``k``). The register that comes of it
is checked as one from a file is.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING, cast

from auditkit.bench.units import unit_of
from auditkit.errors import InputError
from auditkit.order.instruments import RegisteredInstrument, parse_register

if TYPE_CHECKING:
    from auditkit.text.values import Json

OF_INSTRUMENT = {
    "id": "Its name in the shop, such as gauge-3",
    "description": "What it is",
    "serial": "Serial number",
    "unit": "Its unit, such as kPa (gauge)",
    "low": "Lowest value of its range",
    "high": "Highest value of its range",
    "resolution": "Smallest step that it shows",
    "absolute": "Limit of error, in its unit",
    "percent_of_reading": "Limit of error, % of the reading",
    "percent_of_span": "Limit of error, % of the range",
    "digits": "Limit of error, in smallest steps",
}
"""What an instrument is asked, by the name of the register's member, in order."""
OF_CALIBRATION = {
    "on": "Calibrated on, such as 2026-01-15",
    "due": "Holds until",
    "certificate": "Number of the certificate",
    "u": "Expanded uncertainty on it, in the instrument's unit",
    "k": "Its coverage factor",
}
"""What a calibration is asked, by the name of its member, in order."""
NEEDED = frozenset({"id", "description", "unit", "low", "high", "resolution"})
DATED = frozenset({"on", "due"})
"""What a calibration needs, if there is one."""
_WORDS = frozenset({"id", "description", "serial", "unit", "certificate", *DATED})
_DECIMAL_COMMA = re.compile(r"(-?[0-9]+),([0-9]+)")


def register_text(register: Mapping[str, RegisteredInstrument]) -> str:
    """Return the JSON text of a register, as ``parse_register`` reads it."""
    rows = [dict(one.data) for one in register.values()]
    made = {"format": "auditkit/instruments@1", "instruments": rows}
    return f"{json.dumps(made, indent=2, ensure_ascii=False)}\n"


def with_instrument(
    register: Mapping[str, RegisteredInstrument], said: Mapping[str, str]
) -> dict[str, RegisteredInstrument]:
    """Return a register with an instrument more, calibrated where it is said when.

    Raises InputError, ``where`` the name of what is wrong, for one that is there
    already, or that does not fit.
    """
    row: dict[str, Json] = {**_of(said, OF_INSTRUMENT, NEEDED)}
    name = str(row["id"])
    if name in register:
        raise InputError(
            f"instrument {name!r} is registered already",
            where="id",
            what_to_do="enter its calibration, or take another name",
        )
    calibration = _calibration(said)
    row["calibrations"] = [calibration] if calibration else []
    try:
        unit_of(str(row["unit"]))
    except InputError as error:
        error.where = "unit"
        raise
    found = _checked({**register, name: RegisteredInstrument(name, "", row)})
    if Decimal(str(row["high"])) < Decimal(str(row["low"])):
        raise InputError(
            "its range ends below where it begins",
            where="high",
            what_to_do="write the lowest value first, the highest second",
        )
    return found


def with_calibration(
    register: Mapping[str, RegisteredInstrument], said: Mapping[str, str]
) -> dict[str, RegisteredInstrument]:
    """Return a register with a calibration more of the instrument that ``id`` names.

    What was recorded with the calibrations before stays as it was. Raises InputError as
    ``with_instrument`` does.
    """
    name = said.get("id", "").strip()
    if name not in register:
        raise InputError(
            f"no instrument {name!r} is registered", where="id", what_to_do="choose one"
        )
    one = register[name]
    earlier = cast("list[Json]", one.data["calibrations"])
    made = _calibration(said) or _of(said, OF_CALIBRATION, DATED)
    data = {**one.data, "calibrations": [*earlier, made]}
    return _checked({**register, name: RegisteredInstrument(name, "", data)})


def _calibration(said: Mapping[str, str]) -> dict[str, Json]:
    """Return the calibration that is said, nothing where none is."""
    if not any(said.get(name, "").strip() for name in OF_CALIBRATION):
        return {}
    made = _of(said, OF_CALIBRATION, DATED)
    days = {name: _day(name, str(made[name])) for name in ("on", "due")}
    if days["due"] < days["on"]:
        raise InputError(
            "it would end before it was made",
            where="due",
            what_to_do="write the day until which the calibration holds",
        )
    return made


def _of(
    said: Mapping[str, str], names: Mapping[str, str], needed: frozenset[str]
) -> dict[str, Json]:
    found: dict[str, Json] = {}
    for name, words in names.items():
        text = said.get(name, "").strip()
        if text:
            found[name] = text if name in _WORDS else _DECIMAL_COMMA.sub(r"\1.\2", text)
        elif name in needed:
            raise InputError(f"{words}: no answer", where=name, what_to_do="write it")
    return found


def _day(name: str, text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise InputError(
            f"{text!r} is no day", where=name, what_to_do="write it as 2026-01-15"
        ) from error


def _checked(
    register: Mapping[str, RegisteredInstrument],
) -> dict[str, RegisteredInstrument]:
    """Return a register as it is read from a file, or say at which answer it is not."""
    try:
        return parse_register(register_text(register))
    except InputError as error:
        error.where = error.where.rpartition("/")[2]
        if error.where in {*OF_INSTRUMENT, *OF_CALIBRATION} - _WORDS:
            error.what_to_do = "write a number, such as 0.5"
        raise
