"""How long something was held, by what was told and by when it was read. Pure."""

from __future__ import annotations

from datetime import datetime

from auditkit.order.events import Event
from auditkit.text.values import Json, quantity

_SECONDS = {"s": 1, "min": 60, "h": 3600}
_HELD = frozenset({"start pressure", "end pressure", "pressure", "voltage"})
_ENDS = 2
_SHORTER, _LONGER = 0.9, 1.1


def held_otherwise(event: Event) -> str:
    """Return how far apart the readings of a hold were read, where it says otherwise.

    Its first and its last reading of what was held are its start and its end. A tenth
    is allowed for (our choice), and what a time without seconds leaves open.
    """
    times = [
        datetime.fromisoformat(str(item["at"])).timestamp()
        for item in event.items("readings")
        if item.get("name") in _HELD and item.get("at")
    ]
    told = [event.object("conditions").get("hold time")]
    told += [dict(i) for i in event.items("readings") if i.get("name") == "hold time"]
    holds = [found for one in told if (found := seconds_of(one)) is not None]
    if len(times) < _ENDS or len(holds) != 1:
        return ""
    (held,) = holds
    start, end = min(times), max(times)
    apart = end - start
    least = apart - _before(end) - _after(start)
    most = apart + _after(end) + _before(start)
    if least <= held * _LONGER and most >= held * _SHORTER:
        return ""
    return f"its hold time is {held:.0f} s, and its readings lie {apart:.0f} s apart"


def _before(time: float) -> int:
    """Return by how many seconds a time may have been earlier than it was written."""
    return 1 if time % 60 else 30


def _after(time: float) -> int:
    """Return by how many seconds it may have been later: some clocks cut them off."""
    return 1 if time % 60 else 60


def seconds_of(told: Json) -> float | None:
    """Return a time in seconds; None where it is none."""
    found = quantity(told)
    unit = _SECONDS.get(found.unit) if found is not None else None
    return None if found is None or unit is None else float(found.value) * unit
