"""A repair record: a repair order's events in order, read from a JSON text."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, cast

from auditkit.errors import InputError
from auditkit.order.attachments import ReadFile, with_pictures
from auditkit.order.schema import validate_record
from auditkit.text.placed_json import parse_placed
from auditkit.text.values import Json

if TYPE_CHECKING:
    from auditkit.order.catalogue import Catalogue

CLOCK_SLACK = timedelta(minutes=15)
"""How far a clock may be off before a date counts as false: our choice."""


@dataclass(frozen=True, slots=True)
class Record:
    """A repair order's id and its events, validated.

    ``pictures`` are those that attachments named by file: SHA-256 in hex -> bytes.
    """

    repair_order: str
    events: tuple[Mapping[str, Json], ...]
    pictures: Mapping[str, bytes] = field(default_factory=dict)


def parse_record(
    text: str | bytes,
    catalogue: Catalogue,
    *,
    where: str = "",
    beside: ReadFile | None = None,
) -> Record:
    """Return the record that a text holds; raise InputError for what does not fit.

    Its events are of auditkit's own kinds or of those that the catalogue's plugins add.
    The error names the file, the JSON pointer of the first problem and what to do.
    ``beside`` reads a file in the record's folder, for attachments that name one.
    """
    read = parse_placed(text, where=where)
    value, pictures = with_pictures(read, beside, where=where)
    problems = validate_record(value, catalogue.events)
    if problems:
        first, more = problems[0], len(problems) - 1
        raise InputError(
            f"{first.message} (and {more} more)" if more else first.message,
            where=f"{where}#{first.pointer}",
            what_to_do=first.what_to_do,
        )
    record = cast("dict[str, Json]", value)
    events = cast("list[dict[str, Json]]", record["events"])
    return Record(str(record["repair_order"]), tuple(events), pictures)


def refuse_future(record: Record, now: datetime, *, where: str = "") -> None:
    """Raise InputError for an event that is later than ``now``, by over 15 minutes.

    A recorded event has happened, so its date or the clock is wrong.
    """
    for index, event in enumerate(record.events):
        at = datetime.fromisoformat(str(event.get("at")))
        if at - now > CLOCK_SLACK:
            message = f"{event.get('at')} is later than this computer's clock, "
            message += now.astimezone(at.tzinfo).isoformat(timespec="seconds")
            raise InputError(
                message,
                where=f"{where}#/events/{index}/at",
                what_to_do="set the clock right, or write when it happened",
            )
