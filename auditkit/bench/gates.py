"""What makes a bench test not valid, whatever its result.

A value that is missing or of another kind; an instrument that is missing, out of its
calibration or out of its range on that day; one too coarse for the limit. The ratio
of 4 to 1 between tolerance and instrument is common practice (ANSI/NCSL Z540.3
relates to it), no published limit.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

from auditkit.bench.inputs import (
    BenchInput,
    Given,
    Limit,
    Need,
    instrument_for,
    instrument_unit,
    si_exact,
    unit_for,
)
from auditkit.bench.instrument import Instrument
from auditkit.bench.uncertainty import COVERAGE, Component, Origin
from auditkit.bench.units import from_si
from auditkit.errors import InputError
from auditkit.text.values import Quantity

COARSEST = 0.25
"""Largest instrument part of the expanded uncertainty, as a part of the tolerance."""


def problems_of_inputs(needs: Iterable[Need], inputs: BenchInput) -> Iterator[str]:
    """Yield why a test is not valid before anything is computed."""
    for need in needs:
        if need.words:
            yield from _problems_of_word(need, inputs)
            continue
        found = inputs.quantities(need.name)
        if not found and inputs.word(need.name):
            yield f"{need.name}: {inputs.word(need.name)!r} is no value with a unit"
        elif not found and need.required:
            yield f"{need.name} is missing"
        elif found and len(found) < need.at_least:
            yield f"{need.name}: {len(found)} values, at least {need.at_least} needed"
        for quantity in found:
            try:
                yield from _problems_of_value(need, inputs, quantity)
            except InputError as error:
                yield _placed(need.name, str(error))


def _placed(name: str, text: str) -> str:
    return text if text.startswith(f"{name}:") else f"{name}: {text}"


def _problems_of_word(need: Need, inputs: BenchInput) -> Iterator[str]:
    said = inputs.word(need.name)
    choice = " or ".join(need.words)
    if not said and need.required:
        yield f"{need.name} is missing; write {choice}"
    elif said and said not in need.words:
        yield f"{need.name}: {said!r} is not {choice}"


def _problems_of_value(
    need: Need, inputs: BenchInput, quantity: Quantity
) -> Iterator[str]:
    unit = unit_for(inputs, need, quantity)
    value = si_exact(quantity, unit)
    if need.given is Given.EXACT:
        return
    found = instrument_for(inputs, need, unit)
    if found is None:
        if need.given is Given.MEASURED:
            yield f"{need.name}: no instrument is named that measures {unit.kind}"
        return
    name, instrument = found
    shown = from_si(value, instrument_unit(instrument, unit))
    yield from _problems_of_instrument(name, instrument, inputs)
    if not instrument.low <= shown <= instrument.high:
        yield (
            f"{need.name}: {quantity} lies outside the range of {name}, "
            f"{float(instrument.low):g} to {float(instrument.high):g} {instrument.unit}"
        )


def _problems_of_instrument(
    name: str, instrument: Instrument, inputs: BenchInput
) -> Iterator[str]:
    day = inputs.tested_on
    if instrument.calibrated_on is None or instrument.due is None:
        yield f"{name} has no date of calibration and no date when it is due"
    elif day < instrument.calibrated_on:
        yield f"{name} was calibrated on {instrument.calibrated_on}, after the test"
    elif day > instrument.due:
        yield f"{name} was out of calibration: due {instrument.due}, tested {day}"
    if not instrument.uncertainty_at(instrument.low):
        yield f"{name} has neither an accuracy nor a resolution"


def problems_of_limit(limit: Limit | None) -> Iterator[str]:
    """Yield what a limit lacks to be held against a result."""
    if limit is None:
        yield "there is no limit: a value alone is no verdict"
        return
    if not limit.source.strip():
        yield "the limit does not say where it comes from"
    if limit.minimum is None and limit.maximum is None:
        yield "the limit has neither a minimum nor a maximum"


def too_coarse(
    components: Iterable[Component],
    limits: tuple[float | None, float | None],
    unit: str,
    zero: float = 0.0,
) -> str:
    """Return why the instruments are too coarse for a limit; empty if they are not.

    The tolerance is half the width between two limits; for a single one its distance
    from ``zero``, and nothing is asked where it lies there. An absolute pressure counts
    from that of the air, so that its spelling decides nothing.
    """
    minimum, maximum = limits
    parts = [
        c.standard_uncertainty for c in components if c.origin is Origin.INSTRUMENT
    ]
    expanded = COVERAGE * math.hypot(*parts)
    if minimum is not None and maximum is not None:
        tolerance = (maximum - minimum) / 2
    else:
        single = minimum if minimum is not None else maximum or 0.0
        tolerance = 0.0 if math.isclose(single, zero) else abs(single - zero)
    if not tolerance or expanded <= COARSEST * tolerance:
        return ""
    return (
        f"the instruments are too coarse for the limit: their part of the expanded "
        f"uncertainty is {expanded:.3g} {unit}, more than a quarter of "
        f"{tolerance:.3g} {unit}"
    )
