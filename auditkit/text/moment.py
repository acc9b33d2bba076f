"""Times as RFC 3339 writes them, read alike by every version of Python."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from datetime import datetime

_RFC_3339 = re.compile(
    r"[0-9]{4}-[0-9]{2}-[0-9]{2}[Tt ](?:[01][0-9]|2[0-3]):[0-5][0-9]:[0-5][0-9]"
    r"(?:\.[0-9]+)?(?:[Zz]|[+-](?:[01][0-9]|2[0-3]):[0-5][0-9])?"
)
_DATE_TIME = re.compile(
    r"[0-9]{4}-[01][0-9]-[0-3][0-9]T(?:[01][0-9]|2[0-3]):[0-5][0-9]:[0-5][0-9]"
    r"(?:\.[0-9]+)?(?:Z|[+-][0-2][0-9]:[0-5][0-9])"
)


def is_time(text: str) -> bool:
    """Return whether a text is a ``date-time`` (section 5.6) that the calendar has.

    In capital letters, with its offset: as events write theirs.
    """
    if _DATE_TIME.fullmatch(text) is None:
        return False
    try:
        datetime.fromisoformat(text)
    except ValueError:
        return False
    return True


def local_times(times: Iterable[str]) -> Callable[[str], str]:
    """Return what writes a time for people: at the offset of the first of ``times``.

    Those are an order's own: a repair is told in the time of its shop. Any other text
    is returned as it is. A fraction of a second that is 0 is left out.
    """
    first = next(filter(is_time, times), None)
    if first is None:
        return str
    offset = datetime.fromisoformat(first).tzinfo

    def local(text: str) -> str:
        if not is_time(text):
            return text
        try:
            moment = datetime.fromisoformat(text).astimezone(offset)
        except OverflowError:  # in the first or the last hours of the calendar
            return text
        return moment.isoformat(
            timespec="milliseconds" if moment.microsecond else "seconds"
        )

    return local


def clock_text(text: str) -> str:
    """Return a time for a list that people read: its day, its clock, its offset.

    To the second: ``2026-03-02 08:40:00 +01:00``. Any other text is returned as it is.
    """
    if not is_time(text):
        return text
    told = datetime.fromisoformat(text).isoformat(" ", "seconds")
    return f"{told[:-6]} {told[-6:]}"


def rfc3339(text: str) -> datetime:
    """Return the moment that a text names (section 5.6); raise ValueError for others.

    The offset may be missing; then the moment has none. Fractions are kept to the
    microsecond. A leap second is refused: ``datetime`` knows none.
    """
    if _RFC_3339.fullmatch(text) is None:
        raise ValueError
    return datetime.fromisoformat(text.upper())
