"""Which pictures make what was typed from a display *photographed*. Pure.

A picture counts where its bytes are here (in the packet, beside the log or beside the
record), where it is large enough to be read and no more than a day older than its step,
and where nothing else names it: one photograph shows one display at one time.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping, Sequence
from datetime import timedelta

from auditkit.errors import InputError
from auditkit.order.events import Event, RepairOrder
from auditkit.order.findings import Finding, Severity
from auditkit.order.once import once
from auditkit.order.picture import stripped
from auditkit.text.moment import is_time

LEAST_PIXELS = 300_000
"""0.3 megapixel, as 640 x 480 has: fewer do not show a display's digits. Our choice."""
_OLDER = timedelta(hours=24)
"""How much earlier than its step a picture may be: our choice."""
RULE = "picture-not-counted"
"""What a finding on a picture is called; no policy changes what counts."""


def looked_at(files: Mapping[str, bytes]) -> dict[str, str]:
    """Return why each of these files is no picture to go by, empty where it is one.

    ``files`` are bytes by the SHA-256 (hex) that names them. Width and height are those
    of the file's own header (JPEG: ITU-T T.81 B.2.2; PNG: W3C PNG 11.2.1). One whose
    pixels are nearly all alike shows nothing: a PNG of which fewer than eight rows are
    of more than one colour (of 64 MiB of rows; interlaced, of its first pass), a JPEG
    that holds less than 1,024 bits beyond what one colour costs. No host here decodes a
    picture: a wall, a gradient or noise passes, and what is seen a person looks at.
    """
    return {digest: looked_at_one(digest, data) for digest, data in files.items()}


def looked_at_one(digest: str, data: bytes) -> str:
    """Return why one file is no picture to go by, empty where it is one."""
    if hashlib.sha256(data).hexdigest() != digest:
        return "its bytes here are others than those that were named"
    try:
        found = stripped(data)
    except InputError as error:
        return f"it cannot be read: {error.message}"
    if found.width * found.height < LEAST_PIXELS:
        return (
            f"it has {found.width} x {found.height} pixels, fewer than "
            f"{LEAST_PIXELS} in all"
        )
    if not found.shows:
        return "it shows nothing: its pixels are nearly all alike"
    return ""


def photographed(order: RepairOrder) -> frozenset[int]:
    """Return the places of the events that a picture which counts belongs to."""
    return frozenset(
        place for event, place in pictures(order) if not why_not_counted(order, event)
    )


def why_not_counted(order: RepairOrder, picture: Event) -> str:
    """Return why an attachment makes nothing photographed; empty where it does."""
    digest, place = picture.text("sha256"), picture.data.get("of")
    is_known = isinstance(place, int) and 0 <= place < len(order.events)
    step = order.events[int(str(place))] if is_known else picture
    is_dated = is_time(step.text("at")) and is_time(picture.text("at"))
    if is_dated and step.at - picture.at > _OLDER:
        return "it is older than the step that it belongs to"
    for place in _places(order)[digest]:
        if place != picture.index:
            return f"event {place} names the same picture"
    if digest in order.elsewhere:
        return f"repair order {order.elsewhere[digest]} names the same picture"
    return order.pictures.get(digest, "its bytes are not here")


@once
def _places(order: RepairOrder) -> Mapping[str, Sequence[int]]:
    """Return the places of the attachments that name each picture."""
    found: dict[str, list[int]] = {}
    for event in order.of("attachment"):
        found.setdefault(event.text("sha256"), []).append(event.index)
    return found


def not_counted(order: RepairOrder) -> Iterator[Finding]:
    """Yield an advice for each picture of an event that counts for nothing."""
    for event, _ in pictures(order):
        if why := why_not_counted(order, event):
            yield Finding(
                RULE,
                Severity.ADVISORY,
                f"a picture leaves what it shows as it was typed: {why}",
                event.index,
                "take one photograph of each display, of 640 x 480 pixels at least, "
                "and give its file (a packet carries it with --with-attachments)",
            )


def pictures(order: RepairOrder) -> Iterator[tuple[Event, int]]:
    """Yield each attachment that is a picture of an event, with that event's place."""
    for event in order.of("attachment"):
        place = event.data.get("of")
        if event.text("media_type").startswith("image/") and isinstance(place, int):
            yield event, place
