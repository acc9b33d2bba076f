"""The readings of an order's bench tests, as rows: each with what it is held against.

The limit of a test stands at the readings that it limits; where it limits a quantity
that is computed from them, that quantity follows as a row of its own. Pure.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from auditkit.bench.inputs import readings_of_instruments
from auditkit.bench.units import exact, from_si, to_si
from auditkit.errors import InputError
from auditkit.fleet.rows.fault_rows import of_part
from auditkit.fleet.rows.values import (
    Cell,
    Row,
    day,
    difference_in_si,
    finite,
    in_si,
    known_unit,
    moment,
    number,
)
from auditkit.order.bench_event import bench_input, result_of
from auditkit.order.events import Event
from auditkit.order.hold_times import seconds_of
from auditkit.order.part_tests import outcome_of
from auditkit.text.strict_json import canonical
from auditkit.text.values import Json, Quantity, displayed

if TYPE_CHECKING:
    from auditkit.bench import BenchResult, Instrument, TestKind
    from auditkit.order.events import RepairOrder

_HOLD = "hold time"
_LONGEST_HOLD = 366 * 86400  # seconds: nobody waits longer


@dataclass(frozen=True, slots=True)
class _Shown:
    """A quantity of a test: its name, what was read, and of which part."""

    name: str
    read: Quantity
    of: str = ""
    u_si: float | None = None
    is_computed: bool = False


def bench_rows(
    order: RepairOrder, seqs: Sequence[int], kinds: Mapping[str, TestKind]
) -> Iterator[Row]:
    """Yield a row for each reading; ``seqs`` are the entries of the order's events."""
    for test in order.of("bench_test"):
        result = _result(test, kinds)
        used = _instruments(test, kinds)
        common = _of_test(test, kinds)
        own_part = of_part(order, test)
        for place, shown in enumerate(_quantities(test, result)):
            # As long as an entry may be: once a test is enough.
            told = canonical(dict(test.object("conditions"))) if place == 0 else None
            yield {
                **common,
                "conditions": told,
                "seq": seqs[test.index],
                "place": place,
                "of_part": shown.of or own_part,
                **_of_reading(shown, used.get(shown.name)),
                **_limits(test, shown, result),
            }


def instrument_rows(order: RepairOrder) -> Iterator[Row]:
    """Yield a row for each instrument of each bench test, as it was that day."""
    for test in order.of("bench_test"):
        for item in test.items("instruments"):
            given = Event(test.index, item)
            spec = Event(test.index, given.object("specification"))
            yield {
                "instrument": given.text("id"),
                "description": given.text("description") or None,
                "serial": spec.text("serial") or None,
                "unit": spec.text("unit") or None,
                "resolution": number(spec.text("resolution")),
                "has_specification": bool(spec.data),
                "calibrated_on": day(spec.text("calibrated_on")),
                "due": day(spec.text("due")),
                "certificate": spec.text("certificate") or None,
                "used_on": test.at.date(),
            }


def _result(test: Event, kinds: Mapping[str, TestKind]) -> BenchResult | None:
    try:
        return result_of(test, kinds)
    except InputError:
        return None


def _quantities(test: Event, result: BenchResult | None) -> Iterator[_Shown]:
    """Yield what was read in a test, then what it computes and nobody read."""
    good = Event(test.index, test.object("known_good"))
    names = set()
    for event, of in ((test, ""), (good, "known-good")):
        for item in event.items("readings"):
            read = displayed({k: v for k, v in item.items() if k != "name"})
            if read is not None:
                name = str(item.get("name", ""))
                names.add(name)
                yield _Shown(name, read, of)
        seen = event.object("result")
        read = displayed(dict(seen))
        if read is not None and (of or not test.text("method")):
            yield _Shown(str(seen.get("name", "")) or test.text("test"), read, of)
    computed = result.result if result else None
    if computed is not None and not computed.is_open and computed.name not in names:
        spread = computed.standard_uncertainty
        size = None if computed.is_typed else number(spread.text)
        u_si = difference_in_si(size, known_unit(spread.unit))
        yield _Shown(computed.name, computed.value, u_si=u_si, is_computed=True)


def _hold(told: Json) -> float | None:
    """Return a hold time in seconds; None for none, and for one that nobody waits."""
    found = seconds_of(told)
    return found if found is not None and 0 <= found <= _LONGEST_HOLD else None


def _of_test(test: Event, kinds: Mapping[str, TestKind]) -> dict[str, Cell]:
    """Return what all rows of a test have in common."""
    readings = list(test.items("readings"))
    times = [t for t in (moment(str(i.get("at", ""))) for i in readings) if t]
    holds = [test.object("conditions").get(_HOLD)]
    holds += [dict(i) for i in readings if i.get("name") == _HOLD]
    return {
        "test_kind": test.text("test"),
        "method": test.text("method") or None,
        "part_id": test.text("part") or None,
        "outcome": outcome_of(test, kinds) or None,
        "hold_s": next(filter(None, map(_hold, holds)), None),
        "starts_at": min(times, default=None),
        "ends_at": max(times, default=moment(test.text("at"))),
        "by_person": test.by,
    }


def _of_reading(shown: _Shown, used: tuple[str, Instrument] | None) -> dict[str, Cell]:
    """Return what was read, as text and as numbers, and with what."""
    read, unit = shown.read, known_unit(shown.read.unit)
    row: dict[str, Cell] = {
        "quantity": shown.name,
        "value_text": read.text,
        "bound": read.bound or None,
        "unit": read.unit,
        "is_computed": shown.is_computed,
        "value": number(read.text),
        "value_si": in_si(read.text, unit),
        "u_si": shown.u_si,
    }
    if used is None:
        return row
    name, instrument = used
    own = known_unit(instrument.unit)
    row["instrument"] = name
    is_number = row["value_si"] is not None
    if is_number and own is not None and unit is not None and own.kind is unit.kind:
        row["resolution"] = finite(instrument.resolution * own.factor / unit.factor)
        at = from_si(to_si(exact(read.text), unit), own)
        row["u_si"] = difference_in_si(instrument.uncertainty_at(at), own)
    return row


def _limits(test: Event, shown: _Shown, result: BenchResult | None) -> dict[str, Cell]:
    """Return the limit of a test where it limits this quantity, in SI."""
    limit = test.object("limit")
    limited = str(limit.get("of", "")) or (
        result.result.name if result and result.result else ""
    )
    if not limit or (limited and shown.name != limited):
        return {}
    unit = known_unit(limit.get("unit"))
    return {
        "low_si": in_si(limit.get("minimum"), unit),
        "high_si": in_si(limit.get("maximum"), unit),
        "limit_source": str(limit.get("source", "")) or None,
    }


def _instruments(
    test: Event, kinds: Mapping[str, TestKind]
) -> dict[str, tuple[str, Instrument]]:
    """Return by name of reading which instrument took it, as far as that is told."""
    try:
        given = bench_input(test)
        kind = kinds.get(test.text("method"))
        by_name = {} if kind is None else readings_of_instruments(given, kind.needs)
    except InputError:
        return {}
    took = {name: which for which, names in by_name.items() for name in names}
    if kind is None and len(given.instruments) == 1:
        (only,) = given.instruments
        took = {str(i.get("name", "")): only for i in test.items("readings")}
        took[str(test.object("result").get("name", "")) or test.text("test")] = only
    took = {**took, **given.measured_with}
    return {
        name: (which, given.instruments[which])
        for name, which in took.items()
        if which in given.instruments
    }
