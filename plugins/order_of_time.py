"""Did it happen in the order in which it is told?"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Iterator
from datetime import datetime, timedelta
from decimal import Decimal
from itertools import accumulate, chain, pairwise
from typing import NamedTuple

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
    captured_at,
    held_otherwise,
    hookimpl,
    kind_in_words,
    once,
    quantity,
    readouts_of,
    rule,
    seconds_of,
    strange_clock,
)

_SLACK = 600  # seconds
_FASTEST, _ROUNDED = 200, 120  # km/h, s


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
    drive ends before it starts, no
    capture or reading more than "hours" before it, and none was recorded before its
    time. When the work on a part that was replaced began, the vehicle was not being
    driven, nor ten minutes after it (a drive later on may be its trial), nor did its
    engine run on from before until after it (PID 1F); where no start is told, nothing
    is claimed. A part of this vehicle was not held for longer than the order is open;
    where the readings of a hold state their times, these lie as far apart as it took (a
    tenth is allowed for, and what a time that states no seconds leaves open: half a
    minute earlier, a whole one later). No drive was faster than 200 km/h from start
    to end (our choice; two minutes more are allowed for).
    Clocks that a tool wrote into its readouts are off by as much in each (ten minutes
    are allowed for), one that stands alone by no more than a day, and none goes back
    within a readout. Each step was recorded within the parameter "hours" of its time,
    else its time is a person's word; so is that of a step from longer than these before
    the order was opened, since an order's steps are recorded from then on. A record
    that lies in no log yet is judged as if each event were recorded at its own time.

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
                f"the {kind_in_words(other)} of {other.text('at')} stands after the "
                f"{kind_in_words(one)} of {one.text('at')}",
                "correct the mistyped time with an amendment",
                other.index,
            )
            return
    for event in steps:
        told = _within(event) or _far(order, event, hours)
        told = told or _too_fast(event) or held_otherwise(event)
        if told:
            yield Lacking(
                f"the {kind_in_words(event)} of {event.text('at')}: {told}",
                "correct the mistyped time with an amendment",
                event.index,
            )
            return
    if found := next(chain(_while_at_work(order), _held_longer(order)), None):
        index, told = found
        yield Lacking(told, "correct the mistyped time with an amendment", index)
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
    elif old := [e for e in steps if _hours_before_opening(order, e) > hours]:
        yield Shown(
            f"{len(old)} of {len(steps)} steps are dated more than {hours} h before "
            "the order was opened",
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


def _hours_before_opening(order: RepairOrder, event: Event) -> float:
    if order.opening is None:
        return 0.0
    return (order.opening.at - event.at).total_seconds() / 3600


def _within(event: Event) -> str:
    """Return which time within an event is later than its end; empty where none is."""
    told = {name: event.text(name) for name in ("started", "start", "end", "captured")}
    told |= {
        f"reading {n}": str(item.get("at", ""))
        for n, item in enumerate(event.items("readings"), 1)
    }
    start, end = (told[name] for name in ("start", "end"))
    if start and end and datetime.fromisoformat(end) < datetime.fromisoformat(start):
        return f"end is {end}, earlier than its start"
    for name, text in told.items():
        late = (
            (datetime.fromisoformat(text) - event.at).total_seconds() if text else 0.0
        )
        if late > _SLACK:
            return f"{name} is {text}, later than it was done"
    return ""


def _far(order: RepairOrder, event: Event, hours: int) -> str:
    """Return which other time of an event lies too far before it; empty where none."""
    for item in event.items("readings"):
        read = str(item.get("at", ""))
        if read and (event.at - datetime.fromisoformat(read)) > timedelta(hours=hours):
            return f"a reading is of {read}, more than {hours} h before it"
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


def _too_fast(event: Event) -> str:
    """Return how far a drive went in how short a time; empty where it may have."""
    far = quantity(dict(event.object("distance")))
    told = [event.text(name) for name in ("start", "end")]
    if far is None or far.unit not in {"km", "mi"} or not all(told):
        return ""
    start, end = (datetime.fromisoformat(text).timestamp() for text in told)
    hours = (abs(end - start) + _ROUNDED) / 3600
    if float(far.kilometres) <= _FASTEST * hours:
        return ""
    return f"{far.value:f} {far.unit} were driven in {abs(end - start):.0f} s"


def _while_at_work(order: RepairOrder) -> Iterator[tuple[int, str]]:
    """Yield drives and engines that ran on into the work on a part; slack 10 min."""
    for repair in order.of("repair"):
        started = repair.text("started")
        if not started or repair.text("action") != "replaced":
            continue
        start, end = datetime.fromisoformat(started).timestamp(), repair.at.timestamp()
        if end - start < _SLACK:
            continue
        part = repair.text("part")
        for place in _driven(order, start, end):
            yield place, f"it was driven while {part} was replaced"
        for place, ran in _ran_on(order, start, end):
            told = f"the engine had run for {ran:f} s, since before {part} was"
            yield place, f"{told} replaced"


def _driven(order: RepairOrder, start: float, end: float) -> list[int]:
    """Return the places of the drives that went on into work from start to end."""
    drives = _drives(order)
    early = bisect_left(drives, start + _SLACK, key=lambda one: one.left)
    if not early or drives[early - 1].latest <= start + _SLACK:
        return []
    return sorted(
        one.place
        for one in drives[:early]
        if min(end, one.back) - max(start, one.left) > _SLACK
    )


class _Drive(NamedTuple):
    """A drive from ``left`` to ``back``; ``latest`` is when those so far were back."""

    left: float
    back: float
    place: int
    latest: float = 0.0


@once
def _drives(order: RepairOrder) -> tuple[_Drive, ...]:
    """Return the drives in the order in which they began, 0.0 for a time not told."""
    told = sorted(
        _Drive(_timestamp(drive, "start"), _timestamp(drive, "end"), drive.index)
        for drive in order.of("road_test")
    )
    latest = accumulate((drive.back for drive in told), max)
    return tuple(d._replace(latest=at) for d, at in zip(told, latest, strict=True))


def _timestamp(event: Event, name: str) -> float:
    text = event.text(name)
    return datetime.fromisoformat(text).timestamp() if text else 0.0


def _ran_on(order: RepairOrder, start: float, end: float) -> list[tuple[int, Decimal]]:
    """Return readouts after work by which the engine ran since before it, and how long.

    Each as its place and the seconds.
    """
    runs = _runs(order)
    after = runs[bisect_left(runs, end, key=lambda one: one.read) :]
    if not after or after[0].earliest >= start - _SLACK:
        return []
    return sorted((o.place, o.ran) for o in after if o.begun < start - _SLACK)


class _Run(NamedTuple):
    """A readout that says for how long the engine ran, and so when that began.

    ``earliest`` is when the first of this one and those after it began.
    """

    read: float
    begun: float
    place: int
    ran: Decimal
    earliest: float = 0.0


@once
def _runs(order: RepairOrder) -> tuple[_Run, ...]:
    """Return the readouts with a time of engine run, in the order of their capture."""
    told = sorted(
        _Run(read := captured_at(event), read - float(ran), event.index, ran)
        for event, readout in readouts_of(order)
        if (ran := readout.value("1F"))
    )
    earliest = [*accumulate((run.begun for run in reversed(told)), min)]
    return tuple(
        run._replace(earliest=at)
        for run, at in zip(told, reversed(earliest), strict=True)
    )


def _held_longer(order: RepairOrder) -> Iterator[tuple[int, str]]:
    """Yield tests that held a part of this vehicle longer than the order is open."""
    if order.opening is None:
        return
    for test in order.of("bench_test"):
        if test.text("of") not in {"", "old"}:
            continue
        held = seconds_of(test.object("conditions").get("hold time"))
        open_for = (test.at - order.opening.at).total_seconds()
        if held is not None and held > open_for + _SLACK:
            told = f"{test.text('part')} was held for {held:.0f} s"
            yield test.index, f"{told}, longer than the order is open"


@hookimpl
def rules() -> Iterable[Rule]:
    """Return the rules of this file."""
    return (out_of_order,)
