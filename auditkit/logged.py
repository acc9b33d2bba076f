"""Repair orders as they lie in the log, and what of a record is new to it. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from auditkit.errors import InputError
from auditkit.events import Event, Json, quantity
from auditkit.record import Record


@dataclass(frozen=True, slots=True)
class OrderLine:
    """One repair order of the log, in a line."""

    id: str
    events: int
    verdict: str | None
    first_seq: int
    last_seq: int
    opened_at: str
    vehicle: str


@dataclass(frozen=True, slots=True)
class LoggedEvent:
    """One event as it lies in the log.

    ``event`` has what is disclosed put back; ``sealed`` is what was signed;
    ``hidden`` counts the digests that nothing discloses.
    """

    seq: int
    recorded_at: str
    signed_by: str
    event: Mapping[str, Json]
    hidden: int
    sealed: Mapping[str, Json]


@dataclass(frozen=True, slots=True)
class LoggedOrder:
    """A repair order as it lies in the log, with its last verdict if closed."""

    id: str
    lines: tuple[LoggedEvent, ...]

    @property
    def verdict(self) -> Mapping[str, Json] | None:
        """The verdict, where the last entry is one."""
        last = self.lines[-1].event
        return last if last.get("kind") == "verdict" else None


def new_events(
    record: Record, logged: Sequence[LoggedEvent]
) -> Sequence[Mapping[str, Json]]:
    """Return the record's events that the log does not hold yet."""
    held = [line for line in logged if line.event.get("kind") != "verdict"]
    for index, line in enumerate(held):
        same = index < len(record.events) and _same(record.events[index], line)
        if not same:
            message = f"the log holds another event there (entry {line.seq})"
            mend = "restore the event as it was, and correct it with an amendment"
            raise InputError(message, where=f"/events/{index}", mend=mend)
    return record.events[len(held) :]


def _same(event: Mapping[str, Json], line: LoggedEvent) -> bool:
    return _covers(dict(event), dict(line.event), dict(line.sealed))


def _covers(event: Json, shown: Json, sealed: Json) -> bool:
    """Return whether ``shown`` is ``event`` less members that are withheld.

    A member may be absent only from an object whose sealed form has digests that
    are not disclosed, and no more members than there are such digests.
    """
    if not (isinstance(event, dict) and isinstance(shown, dict)):
        return event == shown
    kept = sealed if isinstance(sealed, dict) else {}
    digests = kept.get("_sd")
    disclosed = len(shown.keys() - kept.keys())
    open_digests = (len(digests) if isinstance(digests, list) else 0) - disclosed
    if len(event.keys() - shown.keys()) > open_digests:
        return False
    return all(
        name in event and _covers(event[name], value, kept.get(name, value))
        for name, value in shown.items()
    )


def closed_alike(logged: Sequence[LoggedEvent], verdict: Mapping[str, Json]) -> bool:
    """Return whether the last entry is this verdict already, but for its time."""
    if not logged or logged[-1].event.get("kind") != "verdict":
        return False
    last = {k: v for k, v in logged[-1].event.items() if k not in ("at", "by")}
    return last == {k: v for k, v in verdict.items() if k not in ("at", "by")}


def order_line(shown: LoggedOrder) -> OrderLine:
    """Return a logged repair order in a line."""
    events = [line.event for line in shown.lines if line.event.get("kind") != "verdict"]
    opening = Event(0, events[0]) if events else Event(0, {})
    vehicle = opening.object("vehicle")
    verdict = shown.verdict
    odometer = quantity(dict(vehicle).get("odometer"))
    described = str(vehicle.get("description", "")) or str(vehicle.get("vin", ""))
    return OrderLine(
        id=shown.id,
        events=len(events),
        verdict=str(verdict.get("verdict")) if verdict else None,
        first_seq=shown.lines[0].seq,
        last_seq=shown.lines[-1].seq,
        opened_at=opening.text("at"),
        vehicle=f"{described}, {odometer}" if odometer else described,
    )
