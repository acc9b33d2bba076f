"""Which cautions a step calls for, and which acknowledgement it rests on. Pure.

They follow from the hazards of the fault codes' rows, the systems of the part, where it
sits, the kind of bench test, what was read, and the kind of step: together, and never
from what something is called. A bench test on a removed part calls for what taking the
part out calls for: it was taken out before. What is not said counts as hazardous. A
system, a code or a place that another diagnosis or an amendment names adds to what was
said before and takes nothing away.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from fractions import Fraction
from itertools import accumulate
from typing import TYPE_CHECKING, NamedTuple

from auditkit.bench.units import QuantityKind, exact, to_si, unit_of
from auditkit.errors import DecodeError, InputError
from auditkit.obd.code_table import row_of
from auditkit.obd.parameters import ENGINE_SPEED
from auditkit.order.cautions import Caution, StepKind
from auditkit.order.events import Event
from auditkit.order.named_parts import named_of, versions
from auditkit.order.once import once
from auditkit.order.self_test_evidence import readout_of
from auditkit.text.moment import is_time
from auditkit.text.values import Json, displayed

if TYPE_CHECKING:
    from auditkit.bench import TestKind
    from auditkit.order.catalogue import Catalogue
    from auditkit.order.events import RepairOrder

CLOCKS = timedelta(minutes=10)
"""How much later than its step an acknowledgement may be recorded: our choice."""
_ROUNDED, _YEAR, _MINUTES = 10, 525_600, {"min": 1, "h": 60}
SETUPS = frozenset(
    {StepKind.REMOVED, StepKind.ENGINE_OFF, StepKind.CRANKING, StepKind.RUNNING}
)
"""How a part may be tested: what a bench test says with "setup"."""
_ACTIONS = {
    "reprogrammed": StepKind.PROGRAMMING,
    "relearned": StepKind.RELEARNING,
    "regenerated": StepKind.REGENERATION,
}
_ENGINE_RUNS = frozenset(
    {
        StepKind.CRANKING,
        StepKind.RUNNING,
        StepKind.RELEARNING,
        StepKind.REGENERATION,
        StepKind.ROAD,
    }
)
UNKNOWN_SYSTEMS = frozenset({"", "other", "maker"})
"""Systems that say nothing of a part's hazards."""


@dataclass(frozen=True, slots=True)
class Work:
    """What a step is, by what calls for cautions.

    ``of_rows`` are hazards of the codes' rows, ``of_methods`` those of the kinds of
    bench test; ``has_method`` tells whether the test names one that is known, and
    ``is_placed`` whether it was said before the step where the part sits.
    """

    event: str
    kinds: frozenset[StepKind]
    systems: frozenset[str]
    is_known: bool
    of_rows: frozenset[str]
    row_systems: frozenset[str] = frozenset()
    places: frozenset[str] = frozenset()
    is_placed: bool = False
    methods: frozenset[str] = frozenset()
    of_methods: frozenset[str] = frozenset()
    has_method: bool = False
    measured: frozenset[tuple[QuantityKind, Fraction]] = frozenset()

    def calls_for(self, caution: Caution) -> bool:
        """Return whether this work calls for a caution."""
        calls = caution.calls
        if self.event in calls.events or self.kinds & calls.always_in:
            return True
        if caution.id in self.of_methods or self._was_measured(caution):
            return True
        if not (self._met_in & calls.in_steps or self.methods & calls.methods):
            return False
        if calls.unknown_system:
            return not self.is_known
        is_of_method = calls.by_method and self.has_method
        return not is_of_method and self._brings(caution)

    @property
    def _met_in(self) -> frozenset[StepKind]:
        """The kinds of work, with the taking out of a part that is tested removed."""
        if StepKind.REMOVED in self.kinds:
            return self.kinds | {StepKind.REPAIR}
        return self.kinds

    def _brings(self, caution: Caution) -> bool:
        """Return whether the part's system or place, or a code's row, has it."""
        calls = caution.calls
        if self.systems & calls.systems or self.places & calls.places:
            return True
        is_elsewhere = calls.place_decides and self.is_placed
        return caution.id in self.of_rows and (
            not is_elsewhere or bool(self.row_systems & calls.systems)
        )

    def _was_measured(self, caution: Caution) -> bool:
        return any(
            kind is one.unit.kind
            and (one.above is None or most > one.above)
            and bool(self.kinds & one.in_steps)
            and not (one.without_method and self.has_method)
            for one in caution.calls.measured
            for kind, most in self.measured
        )


@dataclass(frozen=True, slots=True)
class Called:
    """A step, a caution that it calls for, and the acknowledgement it rests on.

    ``is_recorded_later`` where there is none but one that was recorded after the step.
    """

    step: Event
    caution: Caution
    work: Work
    seen: Event | None
    is_recorded_later: bool = False

    @property
    def begins(self) -> datetime:
        """When the step began: the caution stands before that."""
        return begins(self.step)


def cautions_called(
    order: RepairOrder,
    cautions: Iterable[Caution],
    tests: Mapping[str, TestKind],
    since: int = 0,
) -> Iterator[Called]:
    """Yield each step with each caution that it calls for, in order, each once.

    Steps before the place ``since`` are left out.
    """
    known = tuple(cautions)
    called: dict[Work, tuple[Caution, ...]] = {}
    for step in order.events[since:]:
        if step.kind in ("caution", "diagnosis", "amendment"):
            continue
        work = work_of(order, step, tests)
        if work not in called:
            called[work] = tuple(one for one in known if work.calls_for(one))
        for caution in called[work]:
            is_late = False
            for seen in _acknowledgements(order, step, caution):
                if not _is_recorded_after(order, seen, step):
                    yield Called(step, caution, work, seen)
                    break
                is_late = True
            else:
                yield Called(step, caution, work, None, is_late)


@once
def every_caution_called(order: RepairOrder, known: Catalogue) -> tuple[Called, ...]:
    """Return each step of an order with each caution that it calls for."""
    return tuple(cautions_called(order, known.cautions.values(), known.bench_tests))


def work_of(order: RepairOrder, step: Event, tests: Mapping[str, TestKind]) -> Work:
    """Return what a step is, from the order and the known kinds of bench test."""
    named = named_of(order, step)
    rows = [row_of(code, order.day(step.index)) for code in named.codes]
    systems = named.systems
    if step.kind == "road_test":
        repaired = len(order.before(step.index, "repair"))
        systems = _worked_on(order)[repaired]
    methods = {str(v.get("method")) for v in versions(step)}
    kinds = [tests[name] for name in methods if name in tests]
    return Work(
        event=step.kind,
        kinds=step_kinds(step),
        systems=systems,
        is_known=bool(systems)
        and not systems & UNKNOWN_SYSTEMS
        and not any(row.system in UNKNOWN_SYSTEMS for row in rows),
        of_rows=frozenset(hazard for row in rows for hazard in row.hazards),
        row_systems=frozenset(row.system for row in rows),
        places=named.places,
        is_placed=named.is_placed,
        methods=frozenset(kind.name for kind in kinds),
        of_methods=frozenset(hazard for kind in kinds for hazard in kind.hazards),
        has_method=step.text("method") in tests,
        measured=frozenset(_most_measured(step).items()),
    )


@once
def _worked_on(order: RepairOrder) -> tuple[frozenset[str], ...]:
    """Return the systems that were worked on, before each repair and after the last."""
    systems = (named_of(order, event).systems for event in order.of("repair"))
    none: frozenset[str] = frozenset()
    return tuple(accumulate(systems, frozenset.union, initial=none))


def step_kinds(step: Event) -> frozenset[StepKind]:
    """Return what kind of work a step is: several where that is not said."""
    if step.kind == "road_test":
        return frozenset({StepKind.ROAD})
    if step.kind == "repair":
        actions = {str(v.get("action")) for v in versions(step)}
        return frozenset(_ACTIONS.get(a, StepKind.REPAIR) for a in actions)
    if step.kind == "bench_test":
        setups = {str(v.get("setup")) for v in versions(step)}
        return frozenset(kind for kind in SETUPS if kind in setups) or SETUPS
    return frozenset()


@once
def begins(step: Event) -> datetime:
    """Return when a step began: its start, its first reading, else when it was done."""
    told = [step.text("started"), step.text("start")]
    told += [str(item.get("at", "")) for item in step.items("readings")]
    times = [datetime.fromisoformat(text) for text in told if is_time(text)]
    return min((*times, step.at))


def engine_ran(order: RepairOrder, seen: Event, step: Event) -> Event | None:
    """Return what shows that the engine ran between an acknowledgement and its step."""
    start, runs = begins(step), _engine_runs(order)
    # Those left out on either side are neither between the two by place nor by date.
    first = min(
        bisect_right(runs.events, seen.index, key=_place),
        bisect_right(runs.latest, seen.at),
    )
    last = max(
        bisect_left(runs.events, step.index, key=_place),
        bisect_right(runs.earliest, start),
    )
    for event in runs.events[first:last]:
        if event.index in (seen.index, step.index):
            continue
        if seen.index < event.index < step.index or seen.at < event.at <= start:
            return event
    return None


def ran_while_off(order: RepairOrder, seen: Event) -> tuple[str, Event] | None:
    """Return what an acknowledgement says was off, and what shows that it ran.

    Readouts and drives say when that was. The time that is told counts as ten minutes
    shorter: a clock that is read is rounded.
    """
    reads = _reads_of_runs(order)
    for name in ("time since stop", "time since key off"):
        told = displayed(seen.object("preconditions").get(name))
        minutes = float(told.value) * _MINUTES.get(told.unit, 0) if told else 0
        since = seen.at - timedelta(minutes=min(minutes, _YEAR) - _ROUNDED)
        first, last = (bisect_right(reads.times, time) for time in (since, seen.at))
        if places := reads.places[first:last]:
            return f"{name} is {told}", order.events[min(places)]
    return None


class _Reads(NamedTuple):
    """When events that show a running engine say that it ran, in order of that time."""

    times: tuple[datetime, ...]
    places: tuple[int, ...]


@once
def _reads_of_runs(order: RepairOrder) -> _Reads:
    told = [
        (event.text("captured") or event.text("end"), event.index)
        for event in _engine_runs(order).events
    ]
    reads = [(datetime.fromisoformat(at), place) for at, place in told if is_time(at)]
    reads.sort()
    return _Reads(tuple(at for at, _ in reads), tuple(place for _, place in reads))


class _EngineRuns(NamedTuple):
    """Events that show a running engine, with the latest time up to each of them.

    ``earliest`` is the earliest time from each of them on.
    """

    events: tuple[Event, ...]
    latest: tuple[datetime, ...]
    earliest: tuple[datetime, ...]


@once
def _engine_runs(order: RepairOrder) -> _EngineRuns:
    events = tuple(
        event
        for event in order.events
        if step_kinds(event) & _ENGINE_RUNS or _is_turning(event)
    )
    times = [event.at for event in events]
    earliest = [*accumulate(reversed(times), min)]
    return _EngineRuns(events, tuple(accumulate(times, max)), tuple(earliest[::-1]))


def _place(event: Event) -> int:
    return event.index


def _is_turning(event: Event) -> bool:
    """Return whether a readout says that the engine turned when it was read."""
    if event.kind != "readout":
        return False
    try:
        speed = readout_of(event).value(ENGINE_SPEED)
    except DecodeError:
        return False
    return speed is not None and speed > 0


def _is_recorded_after(order: RepairOrder, event: Event, step: Event) -> bool:
    """Return whether the log got an event later than a step that stands after it."""
    if max(event.index, step.index) >= len(order.recorded):
        return False
    one, other = (order.recorded[e.index] for e in (event, step))
    return datetime.fromisoformat(one) - datetime.fromisoformat(other) > CLOCKS


def _acknowledgements(
    order: RepairOrder, step: Event, caution: Caution
) -> Iterator[Event]:
    """Yield those before a step by whoever did it, the last one first."""
    parts = {str(v.get("part", "")) for v in versions(step)}
    known = _acknowledged(order).get((caution.id, step.by), ())
    until = bisect_right(known, begins(step), key=lambda event: event.at)
    return (
        event
        for event in reversed(known[:until])
        if event.index < step.index
        and (caution.covers_vehicle or event.object("step").get("part", "") in parts)
    )


@once
def _acknowledged(order: RepairOrder) -> Mapping[tuple[str, str], Sequence[Event]]:
    """Return the acknowledgements by caution and person, each in order of time."""
    found: dict[tuple[str, str], list[Event]] = {}
    for event in sorted(order.of("caution"), key=lambda event: event.at):
        found.setdefault((event.text("caution"), event.by), []).append(event)
    return found


@once
def _most_measured(step: Event) -> Mapping[QuantityKind, Fraction]:
    """Return the largest reading or condition of each kind of unit, in SI."""
    given: list[Json] = [dict(item) for item in step.items("readings")]
    given += step.object("conditions").values()
    most: dict[QuantityKind, Fraction] = {}
    for value in map(displayed, given):
        if value is None:
            continue
        try:
            unit = unit_of(value.unit)
            number = to_si(exact(value.text), unit)
        except InputError:
            continue
        most[unit.kind] = max(number, most.get(unit.kind, number))
    return most
