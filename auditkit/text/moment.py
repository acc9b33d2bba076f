"""Times as RFC 3339 writes them, read alike by every version of Python."""

from __future__ import annotations

import re
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


def rfc3339(text: str) -> datetime:
    """Return the moment that a text names (section 5.6); raise ValueError for others.

    The offset may be missing; then the moment has none. Fractions are kept to the
    microsecond. A leap second is refused: ``datetime`` knows none.
    """
    if _RFC_3339.fullmatch(text) is None:
        raise ValueError
    return datetime.fromisoformat(text.upper())
