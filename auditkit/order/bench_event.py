"""A bench_test event -> the computed test: what it was given, and what it says. Pure.

An event with a ``method`` names one of the kinds of test and is computed from its
readings, conditions and instruments. One without is a value that a person wrote.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from fractions import Fraction
from typing import TYPE_CHECKING

from auditkit.bench import (
    Accuracy,
    BenchInput,
    BenchResult,
    Instrument,
    KnownGood,
    Limit,
)
from auditkit.bench.units import QuantityKind, exact, unit_of
from auditkit.errors import InputError
from auditkit.order.events import Event
from auditkit.order.once import once
from auditkit.text.values import Json, Quantity, displayed

if TYPE_CHECKING:
    from auditkit.bench import TestKind

_ACCURACY = ("percent_of_reading", "percent_of_span", "digits", "absolute")


def result_of(event: Event, kinds: Mapping[str, TestKind]) -> BenchResult | None:
    """Return what a bench test's own numbers say; None where it names no method.

    ``kinds`` are the kinds of bench test by name: those of a catalogue. Raises
    ``InputError``, with where and what to do, for numbers that cannot be used, and
    for a plugin's kind that crashes.
    """
    method = event.text("method")
    if not method:
        return None
    if method not in kinds:
        raise InputError(
            f"no kind of bench test is called {method!r}",
            where="method",
            what_to_do=f"write one of {', '.join(sorted(kinds))}",
        )
    return _evaluated(event, kinds[method])


@once
def _evaluated(event: Event, kind: TestKind) -> BenchResult:
    given = bench_input(event)
    try:
        return kind.evaluate(given)
    except InputError:
        raise
    except Exception as error:
        raise InputError(
            f"the kind of bench test {kind.name!r} crashed: "
            f"{type(error).__name__}: {error}",
            where="method",
            what_to_do="report this to the maker of the plugin that brings it",
        ) from error


def limit_key(event: Event) -> tuple[str, ...]:
    """Return a bench test's limit so that equal limits are equal, as quantities.

    2.0 is 2.00, and 0.5 bar is 50 kPa; a pressure keeps what it is measured against.
    A temperature keeps its unit, for nobody says whether a difference is meant.
    """
    limit = event.object("limit")
    written = str(limit.get("unit", ""))
    try:
        unit = unit_of(written)
    except InputError:
        unit = None
    if unit is None or unit.zero or unit.kind is QuantityKind.TEMPERATURE:
        scale, of = Fraction(1), unit.symbol if unit else written
    else:
        scale, of = unit.factor, f"{unit.kind} {unit.reference or ''}"
    ends = (limit.get(name) for name in ("minimum", "maximum"))
    return (
        *("" if end is None else str(Fraction(str(end)) * scale) for end in ends),
        of,
        str(limit.get("of", "")),
    )


def same_limit(one: Event, other: Event) -> bool:
    """Return whether two bench tests are held against one limit."""
    return bool(one.object("limit")) and limit_key(one) == limit_key(other)


def bench_input(event: Event) -> BenchInput:
    """Return what a kind of test is given: readings of one name are a series.

    Raises ``InputError`` for an event that its schema would refuse: events of a
    stranger's packet are read without the schema.
    """
    instruments = list(event.items("instruments"))
    good = event.object("known_good")
    return BenchInput(
        readings=_readings(event.items("readings")),
        conditions=_conditions(event.object("conditions")),
        instruments={
            _id(item): _instrument(item["specification"], _id(item))
            for item in instruments
            if isinstance(item.get("specification"), dict)
        },
        tested_on=_day(event),
        limit=_limit(event.object("limit")),
        known_good=None
        if not good.get("readings")
        else KnownGood(
            str(good.get("part", "")),
            _readings(_objects(good.get("readings"))),
            _conditions(_object(good.get("conditions"))),
        ),
        measured_with={
            name: _id(item)
            for item in instruments
            for name in _texts(item.get("measures"))
        },
        unstated=frozenset(
            _id(item)
            for item in instruments
            if not isinstance(item.get("specification"), dict)
        ),
    )


def _readings(
    items: Iterable[Mapping[str, Json]],
) -> dict[str, Quantity | tuple[Quantity, ...]]:
    series: dict[str, list[Quantity]] = {}
    for item in items:
        found = displayed(dict(item))
        if found is not None:
            series.setdefault(str(item.get("name", "")), []).append(found)
    return {n: many[0] if len(many) == 1 else tuple(many) for n, many in series.items()}


def _conditions(given: Mapping[str, Json]) -> dict[str, Quantity | str]:
    found: dict[str, Quantity | str] = {}
    for name, value in given.items():
        read = displayed(value)
        if read is not None:
            found[name] = read
        elif isinstance(value, str):
            found[name] = value
    return found


def _limit(given: Mapping[str, Json]) -> Limit | None:
    if not given:
        return None
    low, high = given.get("minimum"), given.get("maximum")
    return Limit(
        unit=str(given.get("unit", "")),
        source=str(given.get("source", "")),
        minimum=None if low is None else str(low),
        maximum=None if high is None else str(high),
        of=str(given.get("of", "")),
    )


def _instrument(given: Json, name: str) -> Instrument:
    spec = _object(given)
    try:
        return Instrument(
            unit=str(spec["unit"]),
            low=exact(str(spec["low"])),
            high=exact(str(spec["high"])),
            resolution=exact(str(spec["resolution"])),
            accuracy=Accuracy(
                **{n: exact(str(spec[n])) for n in _ACCURACY if n in spec}
            ),
            calibrated_on=_date(spec.get("calibrated_on")),
            due=_date(spec.get("due")),
            certificate_u=exact(str(spec.get("certificate_u", 0))),
            certificate_k=exact(str(spec.get("certificate_k", 2))),
        )
    except InputError as error:
        raise InputError(
            f"the specification of {name}: {error.message}",
            where="instruments",
            what_to_do=error.what_to_do,
        ) from error
    except (KeyError, ValueError) as error:
        lacks = error.args[0] if isinstance(error, KeyError) else "a date"
        raise InputError(
            f"the specification of {name} is not whole: {lacks} is missing",
            where="instruments",
            what_to_do="write unit, low, high, resolution, accuracy and "
            "dates of calibration",
        ) from error


def _id(item: Mapping[str, Json]) -> str:
    if "id" not in item:
        raise InputError(
            "an instrument has no id",
            where="instruments",
            what_to_do="give each its id",
        )
    return str(item["id"])


def _day(event: Event) -> date:
    try:
        return event.at.date()
    except ValueError as error:
        raise InputError(
            f"the bench test was made at {event.text('at')!r}, which is no time",
            where="at",
            what_to_do="write date, time and offset, such as 2026-03-02T09:30:00+01:00",
        ) from error


def _date(value: Json) -> date | None:
    return None if value is None else date.fromisoformat(str(value))


def _object(value: Json) -> Mapping[str, Json]:
    return value if isinstance(value, dict) else {}


def _objects(value: Json) -> list[Mapping[str, Json]]:
    return [i for i in value if isinstance(i, dict)] if isinstance(value, list) else []


def _texts(value: Json) -> list[str]:
    return [i for i in value if isinstance(i, str)] if isinstance(value, list) else []
