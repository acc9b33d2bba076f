"""Whether a value is written in the unit in which it was shown.

A slip of the unit is a factor of 7 (psi and kPa) or 25 (inHg and mmHg). A reading in
another unit than its instrument shows, or than its sister readings, makes the test not
valid until someone confirms it. Powers of ten of one unit (mV and V, kPa and bar) are
one; kelvin and degrees Celsius are not.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from auditkit.bench.inputs import (
    BenchInput,
    HowKnown,
    Need,
    instrument_for,
    instrument_unit,
    unit_for,
)
from auditkit.bench.units import Unit
from auditkit.errors import InputError
from auditkit.text.values import Quantity


def confirmation_of(name: str) -> str:
    """Return the condition that confirms the unit of a value, as a word."""
    return f"unit of {name}"


def differ(one: Unit, two: Unit) -> bool:
    """Return whether two units of one kind are no powers of ten of each other."""
    if one.zero != two.zero:
        return True
    if one.factor == two.factor:  # nearly always
        return False
    ratio = max(one.factor, two.factor) / min(one.factor, two.factor)
    while ratio >= 10:  # a power of ten
        ratio /= 10
    return ratio != 1


def problems_of_units(needs: Iterable[Need], inputs: BenchInput) -> Iterator[str]:
    """Yield each value whose unit has to be confirmed.

    Sisters are the values of one name and of those that were read like it; what else an
    instrument showed is held against its unit. Values whose unit is none are told
    elsewhere.
    """
    sisters: dict[str, tuple[str, Unit]] = {}
    for need in needs:
        if need.words or need.given is HowKnown.EXACT:
            continue
        for quantity in inputs.quantities(need.name):
            try:
                unit = unit_for(inputs, need, quantity)
                found = instrument_for(inputs, need, unit)
                shown = instrument_unit(found[1], unit) if found else None
            except InputError:
                continue
            if found and shown and differ(unit, shown):
                yield from _unconfirmed(
                    inputs, need, quantity, f"{found[0]} shows {shown.symbol}"
                )
                continue
            group = need.like or need.name
            name, first = sisters.setdefault(group, (need.name, unit))
            if unit.kind is first.kind and differ(unit, first):
                yield from _unconfirmed(
                    inputs, need, quantity, f"{name} is in {first.symbol}"
                )


def _unconfirmed(
    inputs: BenchInput, need: Need, quantity: Quantity, other: str
) -> Iterator[str]:
    name = confirmation_of(need.name)
    if inputs.word(name) != quantity.unit:
        yield (
            f"{need.name}: {quantity} was written, and {other}; look again at the "
            f"display, and where it is so give the condition {name!r} as "
            f"{quantity.unit!r}"
        )
