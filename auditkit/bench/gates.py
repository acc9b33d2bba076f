"""What makes a bench test not valid, whatever its result.

A value that is missing, of another kind, or out of its instrument's range. How fine
an instrument is decides nothing here: the uncertainty of the result carries it (JCGM
106:2012). Nor does whether it was in check: what it read counts as typed (unchecked).
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
from auditkit.bench.units import from_si
from auditkit.errors import InputError
from auditkit.text.display_text import nearest, says_something
from auditkit.text.values import Quantity

Gate = tuple[str, str]
"""Why a test is not valid, and what to do; empty where the first says that too."""


def problems_of_inputs(needs: Iterable[Need], inputs: BenchInput) -> Iterator[Gate]:
    """Yield why a test is not valid before anything is computed."""
    for need in needs:
        if need.words:
            yield from _problems_of_word(need, inputs)
            continue
        found = inputs.quantities(need.name)
        if not found and inputs.word(need.name):
            why = f"{need.name}: {inputs.word(need.name)!r} is no value with a unit"
            yield why, f"write {need.name} as a number and a unit of {_kinds(need)}"
        elif not found and need.required:
            yield f"{need.name} is missing", f"give {need.name}, a {_kinds(need)}"
        elif found and len(found) < need.at_least:
            why = f"{need.name}: {len(found)} values, at least {need.at_least} needed"
            yield why, f"read {need.name} {need.at_least - len(found)} times more"
        for quantity in found:
            try:
                yield from _problems_of_value(need, inputs, quantity)
            except InputError as error:
                yield _placed(need.name, str(error)), ""


def _kinds(need: Need) -> str:
    return " or ".join(need.kinds)


def _placed(name: str, text: str) -> str:
    return text if text.startswith(f"{name}:") else f"{name}: {text}"


def _problems_of_word(need: Need, inputs: BenchInput) -> Iterator[Gate]:
    said = inputs.word(need.name)
    choice = " or ".join(need.words)
    if not said and need.required:
        yield f"{need.name} is missing; write {choice}", ""
    elif said and said not in need.words:
        why = f"{need.name}: {said!r} is not {choice}"
        near = nearest(said.lower(), need.words)
        yield why, f"write {near[0]!r}" if near else "write one of them as it stands"


def _problems_of_value(
    need: Need, inputs: BenchInput, quantity: Quantity
) -> Iterator[Gate]:
    unit = unit_for(inputs, need, quantity)
    value = si_exact(quantity, unit)
    if need.given is HowKnown.EXACT:
        if quantity.bound:
            why = f"{need.name}: {quantity} is no value, and one has to be stated"
            yield why, f"write the value of {need.name} itself"
        return
    found = instrument_for(inputs, need, unit)
    if found is None:
        return
    name, instrument = found
    shown = from_si(value, instrument_unit(instrument, unit))
    if not instrument.low <= shown <= instrument.high:
        why = (
            f"{need.name}: {quantity} lies outside the range of {name}, "
            f"{float(instrument.low):g} to {float(instrument.high):g} {instrument.unit}"
        )
        low = shown < instrument.low
        side, end = ("below", instrument.low) if low else ("above", instrument.high)
        said = f"'{side} {float(end):g} {instrument.unit}'"
        yield why, f"look at its unit; a display beyond its range is written {said}"


def problems_of_limit(limit: Limit | None) -> Iterator[str]:
    """Yield why a limit cannot be held against a result."""
    if limit is None:
        yield "there is no limit: a value alone is no verdict"
        return
    if not says_something(limit.source):
        yield "the limit does not say where it comes from"
    if limit.minimum is None and limit.maximum is None:
        yield "the limit has neither a minimum nor a maximum"
