"""A shop's register of instruments: what each can show, and its calibrations. Pure.

A bench test carries the specification of its instruments itself, so that anyone can
compute it again. ``with_specifications`` copies it from the register, with the
calibration that was in force on the day of the test: a later calibration does not
change what was recorded.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import cast

from auditkit.errors import InputError
from auditkit.order.events import Event
from auditkit.order.record import Record
from auditkit.order.schema import validate
from auditkit.text.strict_json import parse
from auditkit.text.values import Json

_SPECIFICATION = (
    "unit",
    "low",
    "high",
    "resolution",
    "percent_of_reading",
    "percent_of_span",
    "digits",
    "absolute",
    "serial",
)
_CALIBRATION = {
    "on": "calibrated_on",
    "due": "due",
    "certificate": "certificate",
    "u": "certificate_u",
    "k": "certificate_k",
}


@dataclass(frozen=True, slots=True)
class RegisteredInstrument:
    """One instrument of the register, as it was written."""

    id: str
    description: str
    data: Mapping[str, Json]

    def calibration(self, day: date) -> Mapping[str, Json] | None:
        """Return the last calibration made until a day; None before the first."""
        latest = day.isoformat()
        made = [c for c in self._calibrations() if str(c["on"]) <= latest]
        return max(made, key=lambda c: str(c["on"]), default=None)

    def _calibrations(self) -> list[Mapping[str, Json]]:
        return cast("list[Mapping[str, Json]]", self.data["calibrations"])

    def due(self, day: date) -> str | None:
        """Return until when it is calibrated, as of a day; None before the first."""
        found = self.calibration(day)
        return None if found is None else str(found["due"])

    def days(self, day: date) -> int | None:
        """Return the days left until then; None before its first calibration."""
        due = self.due(day)
        return None if due is None else (date.fromisoformat(due) - day).days

    def state(self, day: date) -> str:
        """Return whether it may be used on a day, in words."""
        found = self.calibration(day)
        if found is None:
            return "never calibrated by then"
        if str(found["due"]) < day.isoformat():
            return f"OUT OF CALIBRATION since {found['due']}"
        return f"in calibration until {found['due']}"

    def specification(self, day: date) -> dict[str, Json]:
        """Return the specification that a bench test of that day carries."""
        made = {name: self.data[name] for name in _SPECIFICATION if name in self.data}
        found = self.calibration(day) or {}
        return made | {
            name: found[theirs]
            for theirs, name in _CALIBRATION.items()
            if theirs in found
        }


def parse_register(
    text: str | bytes, *, where: str = ""
) -> dict[str, RegisteredInstrument]:
    """Return the register of a JSON text by id; InputError for what does not fit."""
    value = parse(text, where=where)
    problems = validate("instruments-1", value)
    if problems:
        first = problems[0]
        raise InputError(
            first.message, where=f"{where}#{first.pointer}", what_to_do=first.what_to_do
        )
    rows = cast("list[dict[str, Json]]", cast("dict[str, Json]", value)["instruments"])
    found: dict[str, RegisteredInstrument] = {}
    for row in rows:
        name = str(row["id"])
        if name in found:
            raise InputError(
                f"instrument {name!r} is registered twice",
                where=where,
                what_to_do="keep one of them",
            )
        found[name] = RegisteredInstrument(name, str(row["description"]), row)
    return found


def with_specifications(
    record: Record, register: Mapping[str, RegisteredInstrument]
) -> Record:
    """Return the record with the specification of every registered instrument.

    What a bench test states itself stays; an instrument that the register does not know
    stays as it is.
    """
    return replace(record, events=tuple(_filled(e, register) for e in record.events))


def _filled(
    event: Mapping[str, Json], register: Mapping[str, RegisteredInstrument]
) -> Mapping[str, Json]:
    if event.get("kind") != "bench_test" or not isinstance(
        event.get("instruments"), list
    ):
        return event
    read = Event(0, event)
    day = read.at.date()
    instruments: list[Json] = []
    for item in read.items("instruments"):
        known = register.get(str(item.get("id")))
        if known is None or "specification" in item:
            instruments.append(dict(item))
        else:
            instruments.append({**item, "specification": known.specification(day)})
    return {**event, "instruments": instruments}
