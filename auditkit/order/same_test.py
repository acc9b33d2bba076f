"""Are two bench tests one test, done twice? Pure."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import TYPE_CHECKING

from auditkit.bench.inputs import PRESSURE_REFERENCE, HowKnown, Need
from auditkit.bench.units import si_value
from auditkit.order.bench_event import bench_input, same_limit
from auditkit.order.events import Event
from auditkit.text.values import Quantity

if TYPE_CHECKING:
    from auditkit.bench import BenchInput, TestKind

_HELD = "hold time"
_SHORTER = Fraction(9, 10)  # how much shorter a hold may be: our choice


def is_same_test(one: Event, other: Event, kinds: Mapping[str, TestKind], /) -> bool:
    """Return whether ``other`` asks of a part what ``one`` asked.

    Method and limit are the same, and so is every condition that is a specification:
    what its kind takes as exact (rated current, required hold time) or chooses from
    words (conductor). What is held is held as long, less a tenth; longer is harder.
    How pressures are written does not count. Raises ``InputError`` for numbers that
    cannot be used.
    """
    if one.text("method") != other.text("method") or not same_limit(one, other):
        return False
    kind = kinds.get(one.text("method"))
    if kind is None:
        return True  # both are typed, or of a kind that is not known here
    first, second = bench_input(one), bench_input(other)
    return _holds_as_long(kind, first, second) and all(
        _value(need, first) == _value(need, second)
        for need in kind.conditions
        if need.name != PRESSURE_REFERENCE
        and (need.words or need.given is HowKnown.EXACT)
    )


def _value(need: Need, given: BenchInput) -> Fraction | str | None:
    found = given.conditions.get(need.name)
    return si_value(found, *need.kinds) if isinstance(found, Quantity) else found


def _holds_as_long(kind: TestKind, first: BenchInput, second: BenchInput) -> bool:
    need = next((n for n in kind.needs if n.name == _HELD), None)
    if need is None:
        return True
    held = []
    for given in (first, second):
        found = given.conditions.get(_HELD, given.readings.get(_HELD))
        if not isinstance(found, Quantity):
            return True  # a series, or nothing: the kind itself says what it needs
        held.append(si_value(found, *need.kinds))
    return held[1] >= _SHORTER * held[0]
