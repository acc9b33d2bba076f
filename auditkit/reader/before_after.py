"""Values before and after a repair, with the limits that they were held against.

From the events of one repair order as they were signed: the vehicle's own self-tests in
the last readout before the last repair and in the last one that speaks of the repaired
vehicle; and a part's bench tests before and after it was worked on. What was corrected
is told with what was first recorded, and a test with earlier ones that say otherwise:
who reads one value alone would take it for all there is. Nothing is judged here. Pure.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal, InvalidOperation

from auditkit.bench import TestKind
from auditkit.bench.result import UNCLAIMED
from auditkit.errors import InputError
from auditkit.obd import SelfTest
from auditkit.obd.monitors import mid_name
from auditkit.order.bench_event import result_of
from auditkit.order.event_text import (
    limit_text,
    method_in_words,
    names_of_parts,
    numbers_text,
)
from auditkit.order.events import Event, RepairOrder
from auditkit.order.self_test_evidence import readout_of
from auditkit.text.display_text import plural
from auditkit.text.values import Json, quantity

_SINCE = "corrected after it was recorded"
NOT_RUN, NO_LIMIT = "not-run", "no-limit"


@dataclass(frozen=True, slots=True)
class Reading:
    """A value as it was read, in words, and as a number where it can be drawn.

    ``margin`` is its expanded uncertainty (k = 2), ``outcome`` what was said of it.
    """

    text: str
    outcome: str = ""
    number: Decimal | None = None
    margin: Decimal | None = None


@dataclass(frozen=True, slots=True)
class Measure:
    """One quantity before and after, None where it was not read then.

    All numbers are in one unit. A limit is given as a number where the readings were
    held against it; ``limit`` tells it in words, after what else was recorded of this
    quantity; ``none`` that there is no value: what a vehicle says is read, and a part
    is measured.
    """

    name: str
    limit: str
    minimum: Decimal | None
    maximum: Decimal | None
    before: Reading | None
    after: Reading | None
    none: str = "not read"

    @property
    def is_computed(self) -> bool:
        """Whether each reading was computed, and so tells its uncertainty."""
        return all(r.margin is not None for r in (self.before, self.after) if r)


def measures(order: RepairOrder, kinds: Mapping[str, TestKind]) -> tuple[Measure, ...]:
    """Return what was measured before and after, the vehicle's own tests first.

    ``kinds`` are the kinds of bench test that can be computed here, by name.
    """
    found = _standing(order, kinds)
    if all(event.recorded is None for event in order.events):
        return found
    written = [e.data if e.recorded is None else e.recorded for e in order.events]
    first = RepairOrder.fold(order.id, written, left_out=range(len(written)))
    then = {one.name: one for one in _standing(first, kinds)}
    known = {one.name for one in found}
    gone = [replace(m, limit=f"{_SINCE}; {m.limit}") for m in then.values()]
    return (
        *(_with_first(one, then.get(one.name)) for one in found),
        *(one for one in gone if one.name not in known),
    )


def _with_first(now: Measure, then: Measure | None) -> Measure:
    """Return a measure that tells what was first recorded, where that is another."""
    if then is None or (now.before, now.after) == (then.before, then.after):
        return now
    was = [
        f"{side} {_told(one, then)}"
        for side, one, new in (
            ("before", then.before, now.before),
            ("after", then.after, now.after),
        )
        if one != new
    ]
    return replace(now, limit=f"{_SINCE}, first: {', '.join(was)}; {now.limit}")


def _told(reading: Reading | None, of: Measure) -> str:
    if reading is None:
        return of.none
    return " ".join(filter(None, (reading.text, reading.outcome)))


def _standing(order: RepairOrder, kinds: Mapping[str, TestKind]) -> tuple[Measure, ...]:
    """Return the measures of an order as its events stand."""
    repair = order.last_repair
    if repair is None:
        return ()
    start = order.proof_starts or repair.index
    before = order.before(repair.index, "readout")[-1:]
    after = order.after(start, "readout")[-1:]
    return (*_self_tests(before, after), *_bench_tests(order, kinds))


def _self_tests(before: Sequence[Event], after: Sequence[Event]) -> Iterator[Measure]:
    old, new = (
        {t.place: t for e in events for t in readout_of(e).self_tests}
        for events in (before, after)
    )
    for place in dict.fromkeys([*old, *new]):
        was, now = old.get(place), new.get(place)
        one = now or was
        if one is None or one.value is None:
            continue
        monitor = mid_name(int(one.mid, 16)) or "no public name"
        if was is not None and was.outcome != NOT_RUN and one.outcome == NOT_RUN:
            one = was  # what has not run has no limits: all are zero
        # A limit that moved between the two is drawn for neither.
        ran = [t for t in (was, now) if t is not None and t.outcome != NOT_RUN]
        same = len({t.words[1:] for t in ran}) < 2
        yield Measure(
            name=f"Self-test {one.mid}/{one.tid} of {one.responder}: {monitor}",
            limit=_limits(one) if same else f"{_limits(one)}; before: other limits",
            minimum=one.minimum if one.has_minimum and same else None,
            maximum=one.maximum if one.has_maximum and same else None,
            before=None if was is None else _tested(was, one),
            after=None if now is None else _tested(now, one),
        )


def _limits(test: SelfTest) -> str:
    return numbers_text(test).partition(", ")[2]


def _tested(test: SelfTest, alike: SelfTest) -> Reading:
    """Return a self-test's result; its number where its unit is that of ``alike``."""
    if test.outcome == NOT_RUN:
        return Reading("has not run", "")
    number = test.value if test.unit == alike.unit else None
    outcome = "" if test.outcome == NO_LIMIT else test.outcome
    return Reading(numbers_text(test).partition(", ")[0], outcome, number)


def _bench_tests(
    order: RepairOrder, kinds: Mapping[str, TestKind]
) -> Iterator[Measure]:
    tests, names = order.of("bench_test"), names_of_parts(order.events)
    for part, what in dict.fromkeys(map(_what, tests)):
        same = [e for e in tests if _what(e) == (part, what)]
        work = [e.index for e in order.of("repair") if e.text("part") == part]
        if not work:
            continue
        early = [e for e in same if e.index < work[-1]]
        before, after = early[-1:], [e for e in same if e.index > work[-1]][-1:]
        one = (*before, *after)[-1]
        low, high, unit = _bench_limit(one)
        yield Measure(
            name=f"Bench test of {names.get(part, part)}: "
            f"{method_in_words(kinds, what)}",
            limit=_otherwise(early, unit, kinds) + limit_text(one),
            minimum=low,
            maximum=high,
            before=_measured(before[0], unit, kinds) if before else None,
            after=_measured(after[0], unit, kinds) if after else None,
            none="not measured",
        )


def _otherwise(early: Sequence[Event], unit: str, kinds: Mapping[str, TestKind]) -> str:
    """Return how many tests before the last one ended otherwise; empty where none."""
    said = [_measured(event, unit, kinds).outcome for event in early]
    other = [outcome for outcome in said[:-1] if outcome not in {"", said[-1]}]
    if not other:
        return ""
    many = plural(len(other), "earlier test", "earlier tests")
    return f"{many} before the repair said: {', '.join(dict.fromkeys(other))}; "


def _what(event: Event) -> tuple[str, str]:
    return event.text("part"), event.text("method") or event.text("test")


def _bench_limit(event: Event) -> tuple[Decimal | None, Decimal | None, str]:
    limit = event.object("limit")
    unit = limit.get("unit")
    low, high = (_number(limit.get(side)) for side in ("minimum", "maximum"))
    return low, high, unit if isinstance(unit, str) else ""


def _measured(event: Event, unit: str, kinds: Mapping[str, TestKind]) -> Reading:
    """Return a bench test's result; its number where its unit is the limit's."""
    if not event.text("method"):
        found = quantity(dict(event.object("result")))
        if found is None:
            return Reading("no value was measured")
        number = _number(found.text) if found.unit == unit else None
        return Reading(str(found), "", number)
    try:
        computed = result_of(event, kinds)
    except InputError as error:
        return Reading(f"not computed: {error.message}")
    if computed is None or computed.result is None:
        return Reading("nothing was computed")
    value, margin = computed.result.value, computed.result.expanded_uncertainty
    is_typed = computed.result.is_typed
    is_alike = computed.limit is not None and bool(computed.decision_rule)
    return Reading(
        f"{value} ({UNCLAIMED})"
        if is_typed
        else f"{value.text} ± {margin.text} {value.unit}",
        computed.outcome.value.replace("-", " "),
        _number(value.text) if is_alike else None,
        _number(margin.text) if is_alike and not is_typed else None,
    )


def _number(text: Json) -> Decimal | None:
    if not isinstance(text, str):
        return None
    try:
        number = Decimal(text)
    except InvalidOperation:
        return None
    return number if number.is_finite() else None
