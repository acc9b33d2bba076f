"""A picture without anything else of its file, as a value; and what refuses a file."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NoReturn

from auditkit.errors import InputError

MOST_PARTS = 1 << 15
"""Most segments or chunks of a file: at 256 bytes each they fill 8 MiB. Our choice."""


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture's bytes, its media type, and its size in pixels as stored.

    ``orientation`` says how to turn it to stand upright: 1 (as it is) to 8, as tag 274
    of TIFF 6.0 and Exif counts them. The file itself no longer says it. ``shows`` is
    false where its pixels are nearly all alike, so that nothing can be seen in it; of
    what may be seen it says nothing.
    """

    data: bytes
    media_type: str
    width: int
    height: int
    orientation: int = 1
    shows: bool = True


def damaged(what: str) -> NoReturn:
    """Raise InputError for a file that breaks off or contradicts itself."""
    raise InputError(
        f"the picture is damaged: {what}", what_to_do="take it from its source again"
    )


def unusual(what: str) -> NoReturn:
    """Raise InputError for a kind of picture that few programs show."""
    raise InputError(
        f"the picture is of an unusual kind: {what}",
        what_to_do="export it as an ordinary JPEG or PNG",
    )


def counted(parts: int, name: str) -> None:
    """Raise InputError for a file of more parts than any camera writes."""
    if parts > MOST_PARTS:
        raise InputError(
            f"the picture has more than {MOST_PARTS} {name}",
            what_to_do="export it as an ordinary JPEG or PNG",
        )
