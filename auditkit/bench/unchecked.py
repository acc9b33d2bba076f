"""Readings of an instrument that was not in check: they count, but as typed.

It is not named, or states no specification, error or dates, or the test was not made
while its calibration held. What was read may be right all the same, and a value typed
without a method asks for none of it: so the result stands. What such an instrument
leaves open nobody knows, so no uncertainty is claimed of it, and the value alone is
held against the limit, as a typed one is: who tells more must not end below.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from auditkit.bench.inputs import (
    BenchInput,
    HowKnown,
    Need,
    instrument_for,
    unit_for,
)
from auditkit.bench.instrument import Instrument
from auditkit.bench.result import BenchResult
from auditkit.bench.uncertainty import ENDLESS
from auditkit.errors import InputError

BY_VALUE = (
    "good where the value lies within the limit, ends included, else faulty: as one "
    "that is written by hand, since the instrument was not in check. Decision rule "
    "stated after ISO/IEC 17025:2017, 7.8.6"
)


def why_unchecked(
    needs: Iterable[Need], inputs: BenchInput
) -> Iterator[tuple[str, str]]:
    """Yield why a reading counts as typed, and what to do; never raises."""
    for need in needs:
        quantities = inputs.quantities(need.name)
        if need.words or not quantities or need.given is HowKnown.EXACT:
            continue
        try:
            unit = unit_for(inputs, need, quantities[0])
            found = instrument_for(inputs, need, unit)
        except InputError:
            continue  # it makes the test not valid
        if found is not None:
            yield from _of_instrument(*found, inputs)
            continue
        if need.given is not HowKnown.MEASURED:
            continue
        named = inputs.measured_with.get(need.name)
        lacks = "has" if len(inputs.unstated) == 1 else "have"
        others = " and ".join(sorted(inputs.unstated))
        why = f"{need.name}: no instrument is named that measures {unit.kind}"
        to_do = f"name the instrument that read {need.name}, with its range"
        if named:
            yield f"{need.name}: {named} has no specification", _written(named)
        elif others:  # of which nobody knows what they measure
            yield (
                f"{why}; {others} {lacks} no specification",
                f"{to_do}, or {_written(others)}",
            )
        else:
            yield why, to_do


def _written(names: str) -> str:
    return f"write range, error and calibration of {names}"


def _of_instrument(
    name: str, instrument: Instrument, inputs: BenchInput
) -> Iterator[tuple[str, str]]:
    day = inputs.tested_on
    if instrument.calibrated_on is None or instrument.due is None:
        why = f"{name} has no date of calibration and no date when it is due"
        if instrument.calibrated_on or instrument.due:
            why = f"{name} has only one of its two dates of calibration"
        yield why, f"give both dates of {name}, or have it calibrated or compared"
    elif day < instrument.calibrated_on:
        why = f"{name} was calibrated on {instrument.calibrated_on}, after the test"
        yield why, f"give the calibration of {name} that was in force on {day}"
    elif day > instrument.due:
        why = f"{name} was out of calibration: due {instrument.due}, tested {day}"
        yield why, "test again with an instrument that is in calibration"
    if instrument.states_nothing:
        why = f"{name} has neither an accuracy nor a resolution"
        yield why, f"write what the data sheet of {name} says"


def as_typed(found: BenchResult, why: dict[str, str]) -> BenchResult:
    """Return a result that counts as typed, and why: it claims no uncertainty.

    ``why``: each reason with what to do. Its outcome was decided by the value alone.
    """
    if not why:
        return found
    result = found.result and replace(found.result, is_typed=True)
    is_by_limit = bool(found.decision_rule) and found.limit is not None
    return replace(
        found,
        result=result,
        others=tuple(replace(one, is_typed=True) for one in found.others),
        probability=None,
        effective_dof=ENDLESS,
        components=(),
        comparison=None,
        decision_rule=BY_VALUE if is_by_limit else found.decision_rule,
        settles=tuple(dict.fromkeys((*found.settles, *why.values()))),
        unchecked=tuple(why),
    )
