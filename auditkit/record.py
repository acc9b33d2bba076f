"""A repair record: a repair order's events in order, read from a JSON text."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import cast

from auditkit.errors import InputError
from auditkit.events import Json
from auditkit.schema import validate_record
from auditkit.strict_json import parse


@dataclass(frozen=True, slots=True)
class Record:
    """A repair order's id and its events, validated."""

    repair_order: str
    events: tuple[Mapping[str, Json], ...]


def parse_record(text: str | bytes, *, where: str = "") -> Record:
    """Return the record that a text holds; raise InputError for what does not fit.

    The error names the file, the JSON pointer of the first problem and its mend.
    """
    value = parse(text, where=where)
    problems = validate_record(value)
    if problems:
        first, more = problems[0], len(problems) - 1
        message = f"{first.message} (and {more} more)" if more else first.message
        raise InputError(message, where=f"{where}#{first.pointer}", mend=first.mend)
    record = cast("dict[str, Json]", value)
    events = cast("list[dict[str, Json]]", record["events"])
    return Record(str(record["repair_order"]), tuple(events))
