"""Switching point: the value at which something happens, of repeated events.

A thermostat opens, a pressure switch closes, a relay pulls in or drops out, a breaker
trips, a sensor responds (its value is a time). The quantity is brought up or down until
it happens, and what the instrument then shows is one reading. The mean of the events
has their scatter (GUM 4.2) and the error of the instrument.

Where the quantity is moved in steps, the event lies within the last one: half a step is
taken off, with limits of half a step (GUM 4.3.7), the same for every event. A part that
did not switch before the end is a reading above (or below) that end.
"""

from __future__ import annotations

from auditkit.bench.computed import Computation, Computed, in_unit
from auditkit.bench.diagram import Axis, Chart, ChartDiagram, Level, Mark, Series
from auditkit.bench.diagrams.parts import limits_of, point
from auditkit.bench.inputs import PRESSURE_REFERENCE, HowKnown, Limit, Need
from auditkit.bench.instrument import rectangular
from auditkit.bench.kind import TestKind
from auditkit.bench.kinds import limit_conditions
from auditkit.bench.kinds.quantities import (
    QUANTITIES,
    needs_of_quantities,
    quantity_given,
)
from auditkit.bench.readings import Readings
from auditkit.bench.source import Distribution, Source
from auditkit.bench.uncertainty import Origin, Uncertain, value_of
from auditkit.bench.units import QuantityKind, Reference
from auditkit.errors import InputError

EVENT, APPROACH, STEP = "event", "approach", "step"
FEWEST = 2


def _step_of(kind: QuantityKind) -> QuantityKind:
    """Return of which kind a step of a quantity is."""
    is_temperature = kind is QuantityKind.TEMPERATURE
    return QuantityKind.TEMPERATURE_DIFFERENCE if is_temperature else kind


def _within_step(readings: Readings, kind: QuantityKind) -> Uncertain:
    """Return how far the event lies from its reading; InputError for another unit."""
    step = value_of(readings.positive(STEP))
    if readings.unit(STEP).kind is not _step_of(kind):
        raise InputError(
            f"{STEP}: {readings.written(STEP)[0]} is no step of a {kind}",
            what_to_do="write it in the unit of the readings",
        )
    back = -1 if readings.word(APPROACH) == "rising" else 1
    name = f"{STEP} of the approach"
    half, unit = rectangular(step / 2), readings.unit(STEP)
    source = Source(
        STEP,
        0.0,
        half / float(unit.factor),
        str(unit),
        Distribution.RECTANGULAR,
        "it happened anywhere within the last step",
    )
    error = readings.budget.input(name, 0.0, half, Origin.METHOD, source)
    return back * step / 2 + error


def _compute(readings: Readings) -> Computation:
    judged = quantity_given(readings)
    events, value = readings.written(judged.name), readings.one(judged.name)
    never = any(readings.bounds(judged.name))
    if readings.has(STEP) and not never:
        value += _within_step(readings, judged.kind)
    few = len(events) < FEWEST and not never
    outside = limit_conditions.why_outside(readings)
    once = "it was seen to happen once, which shows no repeatability" if few else ""
    said = f"{readings.word(EVENT)}, {judged.name} {readings.word(APPROACH)}"
    notes = [
        f"{said}, {len(events)} times",
        *limit_conditions.conditions_said(readings),
    ]
    if never:
        notes.append("it did not happen before the end of what was tried")
    elif not readings.has(STEP):
        notes.append("approached without steps: slowly enough that nothing lags")
    settles = ["repeat the event, slowly and from the same side"]
    if outside:
        settles.insert(0, limit_conditions.WHAT_TO_DO)
    unit = str(readings.unit(judged.name))
    return Computation(
        (Computed(judged, (value,), unit=unit, blocked=outside or once),),
        tuple(notes),
        tuple(settles),
    )


def _draw(
    readings: Readings, computation: Computation, judged: Computed, limit: Limit | None
) -> ChartDiagram:
    """Return each event as it was read, and where they say that it happens."""
    del computation
    unit = judged.unit_against(limit)
    read = zip(readings.series(judged.name), readings.bounds(judged.name), strict=True)
    points = tuple(point(float(i), v, unit, b) for i, (v, b) in enumerate(read, 1))
    middle = in_unit(judged.values[0], unit)[0]
    chart = Chart(
        Axis(f"{judged.name} at which it {readings.word(EVENT)}", str(unit)),
        (Series("as read", Mark.DOT, points),),
        levels=(Level(middle, f"{middle:.5g}"),),
        limits=limits_of(limit),
    )
    return ChartDiagram(Axis("event", members=len(points)), (chart,))


SWITCHING_POINT = TestKind(
    name="switching-point",
    title="Value at which something happens",
    readings=needs_of_quantities(),
    conditions=(
        Need(
            EVENT,
            words=(
                "opens",
                "closes",
                "switches on",
                "switches off",
                "pulls in",
                "drops out",
                "trips",
                "locks",
                "slips",
                "responds",
            ),
        ),
        Need(APPROACH, words=("rising", "falling")),
        Need(
            STEP,
            tuple(_step_of(q.kind) for q in QUANTITIES.values()),
            required=False,
            given=HowKnown.EXACT,
            reference=Reference.DIFFERENTIAL,
        ),
        *limit_conditions.NEEDS,
        Need(PRESSURE_REFERENCE, required=False, words=tuple(Reference)),
    ),
    judges=tuple(QUANTITIES.values()),
    refuses=(
        "an event that was seen once",
        "a value without the side from which it was approached",
    ),
    source="GUM (JCGM 100:2008) 4.2 and 4.3.7; limits are given by whoever tests",
    compute=_compute,
    draw=_draw,
)
