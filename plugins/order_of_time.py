"""Did it happen in the order in which it is told?"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import datetime
from itertools import pairwise

from auditkit.plugin import (
    Event,
    InputError,
    Lacking,
    Parameters,
    Question,
    RepairOrder,
    Rule,
    Shown,
    Strength,
    hookimpl,
    rule,
    strange_clock,
)

_SLACK = 600  # seconds


@rule(
    "times-out-of-order",
    question=Question.ORDER_OF_TIME,
    parameters={"hours": 24},
)
def out_of_order(
    order: RepairOrder, parameters: Parameters
) -> Iterator[Shown | Lacking]:
    """Finds events whose times contradict the order in which they stand.

    What it checks
    Each diagnosis, test, caution, repair, clear and readout is dated no earlier than
    the one before it; where two people record at once, ten minutes are allowed for. No
    time within an event (its start, capture, readings) is later than the event, no
    capture more than "hours" before it, and none was recorded before its time. Clocks
    that a tool wrote into its readouts are off by as much in each (ten minutes are
    allowed for), and one that stands alone by no more than a day. Each
    step was recorded within the parameter "hours" of its time, else its time is a
    person's word. A record that lies in no log yet is judged as if each event were
    recorded at its own time.

    Why it matters
    A bench test that was dated before the repair, and written after the vehicle had
    passed, is no test of a suspect part.

    Example
    The caution of 10:00 stands after the repair of 09:30.

    What to do
    Record each step when it happens. Correct a mistyped time with an amendment.
    """
    hours = parameters["hours"]
    if not isinstance(hours, int) or isinstance(hours, bool) or hours < 1:
        raise InputError(
            f"{hours!r} is no number of hours",
            where="policy#rules.times-out-of-order.parameters.hours",
            what_to_do="write a whole number",
        )
    steps = [e for e in order.events if e.kind not in {"amendment", "attachment"}]
    for one, other in pairwise(steps):
        early = (one.at - other.at).total_seconds()
        slack = _SLACK if one.by != other.by else 0
        if early > slack:
            yield Lacking(
                f"the {other.kind} of {other.text('at')} stands after the {one.kind} "
                f"of {one.text('at')}",
                "correct the mistyped time with an amendment",
                other.index,
            )
            return
    for event in steps:
        if told := _within(event) or _far(order, event, hours):
            yield Lacking(
                f"the {event.kind} of {event.text('at')}: {told}",
                "correct the mistyped time with an amendment",
                event.index,
            )
            return
    if strange := strange_clock(order):
        yield Lacking(
            strange[0], "set the tool's clock, and capture a new readout", strange[1]
        )
        return
    late = [e for e in steps if order.hours_until_recorded(e) > hours]
    if late:
        yield Shown(
            f"{len(late)} of {len(steps)} steps were recorded more than {hours} h "
            "after the time that they claim",
            (),
            at_most=Strength.TYPED,
        )
    else:
        yield Shown(
            f"each step was recorded within {hours} h of its time"
            if order.recorded
            else "the times that the record claims are in order; it lies in no log "
            "yet, and is judged as if each step had been recorded at its time",
            (),
            at_most=Strength.LOGGED,
        )


def _within(event: Event) -> str:
    """Return which time within an event is later than its end; empty where none is."""
    told = {name: event.text(name) for name in ("started", "start", "end", "captured")}
    told |= {
        f"reading {n}": str(item.get("at", ""))
        for n, item in enumerate(event.items("readings"), 1)
    }
    for name, text in told.items():
        late = (
            (datetime.fromisoformat(text) - event.at).total_seconds() if text else 0.0
        )
        if late > _SLACK:
            return f"{name} is {text}, later than it was done"
    return ""


def _far(order: RepairOrder, event: Event, hours: int) -> str:
    """Return which other time of an event lies too far before it; empty where none."""
    captured = event.text("captured")
    if captured:
        before = (event.at - datetime.fromisoformat(captured)).total_seconds() / 3600
        if before > hours:
            return f"captured is {captured}, more than {hours} h before it"
    if event.index < len(order.recorded):
        recorded = order.recorded[event.index]
        early = (event.at - datetime.fromisoformat(recorded)).total_seconds()
        if early > _SLACK:
            return f"it was recorded at {recorded}, before it was done"
    return ""


@hookimpl
def rules() -> Iterable[Rule]:
    """Return the rules of this file."""
    return (out_of_order,)
