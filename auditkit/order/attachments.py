"""Pictures that a repair record names by file: read, stripped, named by digest. Pure.

In a record, ``{"kind": "attachment", ..., "file": "display.jpg"}`` names a file beside
it. What is judged and logged says instead ``sha256``, ``media_type`` and ``size`` of
the picture in that file, and ``kept``: its bytes lie beside the log.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable

from auditkit.errors import AuditkitError, InputError
from auditkit.order.picture import Picture, stripped
from auditkit.proof.attached import ATTACHMENT
from auditkit.text.values import Json

ReadFile = Callable[[str], bytes]
"""Name of a file beside the record -> its bytes; raises AuditkitError."""

_PLAIN_NAME = re.compile(r"(?!\.{1,2}$)[^/\\\0]{1,255}")
_COMPUTED = ("sha256", "media_type", "size", "orientation", "kept")


def with_pictures(
    record: Json, read: ReadFile | None, *, where: str = ""
) -> tuple[Json, dict[str, bytes]]:
    """Return a record with its files named by digest, and SHA-256 (hex) -> picture.

    Nothing else of the record is checked. Raises InputError, with the
    JSON pointer of the file's name, where a file cannot be read or is no picture.
    """
    pictures: dict[str, bytes] = {}
    events = record.get("events") if isinstance(record, dict) else None
    if not isinstance(record, dict) or not isinstance(events, list):
        return record, pictures
    made = [
        _with_picture(event, f"{where}#/events/{index}", read, pictures)
        for index, event in enumerate(events)
    ]
    return {**record, "events": made}, pictures


def _with_picture(
    event: Json, place: str, read: ReadFile | None, pictures: dict[str, bytes]
) -> Json:
    if not isinstance(event, dict):
        return event
    if event.get("kind") == "amendment" and "event" in event:
        inner = _with_picture(event["event"], f"{place}/event", read, pictures)
        return {**event, "event": inner}
    if event.get("kind") != ATTACHMENT or "file" not in event:
        return event
    where = f"{place}/file"
    given = [member for member in _COMPUTED if member in event]
    if given:
        raise InputError(
            f"an attachment that names a file does not say its {given[0]}",
            where=where,
            what_to_do=f"leave out {given[0]}: it is computed from the file",
        )
    name = event["file"]
    if not isinstance(name, str) or not _PLAIN_NAME.fullmatch(name):
        raise InputError(
            "this is not the name of a file beside the record",
            where=where,
            what_to_do="write the plain name, such as display.jpg, of a "
            "file in its folder",
        )
    if read is None:
        raise InputError(
            f"nothing is known of a file {name!r} here",
            where=where,
            what_to_do="give sha256, media_type and size instead",
        )
    try:
        picture = stripped(read(name))
    except AuditkitError as error:
        raise InputError(
            f"{name}: {error.message}", where=where, what_to_do=error.what_to_do
        ) from error
    members = named(picture)
    pictures[str(members["sha256"])] = picture.data
    return {key: value for key, value in event.items() if key != "file"} | members


def named(picture: Picture) -> dict[str, Json]:
    """Return the members of an attachment that say which picture it is of."""
    members: dict[str, Json] = {
        "sha256": hashlib.sha256(picture.data).hexdigest(),
        "media_type": picture.media_type,
        "size": len(picture.data),
        "kept": True,
    }
    if picture.orientation != 1:
        members["orientation"] = picture.orientation
    return members
