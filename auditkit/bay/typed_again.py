"""The same words typed again soon after, as after a crash, are one step. Pure.

The events themselves are compared: a digest of them in the entry would let whoever sees
it guess at what is withheld.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from auditkit.text.moment import is_time

if TYPE_CHECKING:
    from auditkit.log.logged_order import LoggedEvent
    from auditkit.text.values import Json

SOON = timedelta(minutes=5)
"""How long after a step its words count as the same step: our own choice."""
_NOW = "now"


def same_just_now(
    events: Sequence[Mapping[str, Json]], lines: Sequence[LoggedEvent], now: datetime
) -> tuple[LoggedEvent, ...]:
    """Return an order's last entries, where one form made them and they say the same.

    By the same person, no longer than ``SOON`` ago, with nothing recorded in that order
    since, and alike but for the times that were the moment of recording. Else nothing.
    """
    last = lines[-len(events) :] if events else ()
    forms = {line.form for line in last}
    form = next(iter(forms), None)
    if len(last) != len(events) or len(forms) != 1 or form is None:
        return ()
    if sum(line.form == form for line in lines) != len(events):
        return ()
    for event, line in zip(events, last, strict=True):
        then = datetime.fromisoformat(line.recorded_at)
        is_soon = timedelta() <= now - then <= SOON
        if not is_soon or _timeless(event, now) != _timeless(line.event, then):
            return ()
    return tuple(last)


def _timeless(value: Json | Mapping[str, Json], then: datetime) -> object:
    """Return a value with each time that was the moment of recording as one word."""
    if isinstance(value, Mapping):
        return {name: _timeless(one, then) for name, one in value.items()}
    if isinstance(value, list):
        return [_timeless(one, then) for one in value]
    if isinstance(value, str) and is_time(value):
        return _NOW if abs(datetime.fromisoformat(value) - then) <= SOON else value
    return value
