"""What makes a bench test not valid, whatever its result.

A value that is missing or of another kind; an instrument that is missing, out of its
calibration or out of its range on that day. How fine an instrument is decides nothing
here: the uncertainty of the result carries it (JCGM 106:2012).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from auditkit.bench.inputs import (
    BenchInput,
    HowKnown,
    Limit,
    Need,
    instrument_for,
    instrument_unit,
    si_exact,
    unit_for,
)
from auditkit.bench.instrument import Instrument
from auditkit.bench.units import from_si
from auditkit.errors import InputError
from auditkit.text.values import Quantity


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
    if need.given is HowKnown.EXACT:
        if quantity.bound:
            yield f"{need.name}: {quantity} is no value, and one has to be stated"
        return
    found = instrument_for(inputs, need, unit)
    if found is None:
        if need.given is HowKnown.MEASURED:
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
    """Yield why a limit cannot be held against a result."""
    if limit is None:
        yield "there is no limit: a value alone is no verdict"
        return
    if not limit.source.strip():
        yield "the limit does not say where it comes from"
    if limit.minimum is None and limit.maximum is None:
        yield "the limit has neither a minimum nor a maximum"
