"""A captured text -> the clock that the tool wrote beside its lines."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import lru_cache

_STAMP = re.compile(
    r"^[ \t]*(?:\((?P<unix>[0-9]{9,11}(?:\.[0-9]+)?)\)"
    r"|\[?(?:(?P<date>[0-9]{4}-[0-9]{2}-[0-9]{2})[T ])?"
    r"(?P<time>[0-9]{1,2}:[0-9]{2}:[0-9]{2})(?:[.,][0-9]+)?"
    r"(?P<zone>Z|[+-][0-9]{2}:[0-9]{2})?\]?)(?=\s)",
    re.MULTILINE | re.IGNORECASE,
)
_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class ToolClock:
    """What a tool's clock said at last, and how long it ran since it first did.

    ``is_dated`` is false where it said no day; then the day is the capture's.
    """

    text: str
    at: datetime
    is_dated: bool
    ran: timedelta

    def behind(self, captured: datetime) -> timedelta:
        """Return how far the clock is behind a time; within half a day if undated."""
        if self.is_dated:
            return captured - self.at
        apart = (captured - self.at) % _DAY
        return apart if apart <= _DAY / 2 else apart - _DAY


def tool_clock(text: str, captured: datetime) -> ToolClock | None:
    """Return what the times of day before the lines say; None where there are none.

    Seconds since 1970 in brackets, as CAN logs have them, or a time in the form of
    ISO 8601, with or without day and zone; without a zone it is in that of
    ``captured``. Seconds since the capture began are no clock.
    """
    stamps = [s for s in _ends(text) if _read(s, captured) is not None]
    if not stamps:
        return None
    unix, date, time, _ = stamps[-1]
    first, last = (_read(s, captured) for s in (stamps[0], stamps[-1]))
    if first is None or last is None:
        return None
    is_dated = bool(unix or date)
    ran = last - first if is_dated else (last - first) % _DAY
    return ToolClock(unix or f"{date} {time}".strip(), last, is_dated, abs(ran))


def went_back(text: str, captured: datetime, slack: timedelta) -> str:
    """Return the first stamp with a day that is earlier than one above it by a slack.

    Empty where none is. A stamp without a day may have passed midnight.
    """
    latest: datetime | None = None
    for stamp in _dated(text):
        at = _read(stamp, captured)
        if at is None:
            continue
        if latest is not None and at < latest - slack:
            unix, date, time, _ = stamp
            return unix or f"{date} {time}"
        latest = at if latest is None else max(at, latest)
    return ""


_Stamp = tuple[str, str, str, str]


@lru_cache(maxsize=1024)
def _ends(text: str) -> tuple[_Stamp, ...]:
    """Return the first and the last stamp of a text: seconds, day, time, zone."""
    every = tuple(_STAMP.finditer(text))
    return tuple(map(_said, (every[0], every[-1]))) if every else ()


@lru_cache(maxsize=1024)
def _dated(text: str) -> tuple[_Stamp, ...]:
    """Return the stamps of a text that say a day, or seconds since 1970."""
    every = map(_said, _STAMP.finditer(text))
    return tuple(stamp for stamp in every if stamp[0] or stamp[1])


def _said(found: re.Match[str]) -> _Stamp:
    unix, date, time, zone = found.group("unix", "date", "time", "zone")
    return unix or "", date or "", time or "", (zone or "").upper()


def _read(stamp: _Stamp, captured: datetime) -> datetime | None:
    unix, date, time, zone = stamp
    if unix:
        return datetime.fromtimestamp(float(unix), UTC)
    day = date or captured.date().isoformat()
    try:
        read = datetime.fromisoformat(f"{day}T{time:0>8}{zone}")
    except ValueError:
        return None  # the 31st of February, or the 25th hour
    return read if read.tzinfo else read.replace(tzinfo=captured.tzinfo)
