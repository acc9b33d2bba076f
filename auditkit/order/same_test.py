"""Are two bench tests one test, done twice? Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import TYPE_CHECKING

from auditkit.bench.inputs import PRESSURE_REFERENCE, HowKnown, Need
from auditkit.bench.units import QuantityKind, si_value, unit_of
from auditkit.errors import InputError
from auditkit.order.bench_event import bench_input, same_limit
from auditkit.order.events import Event
from auditkit.text.values import Quantity

if TYPE_CHECKING:
    from auditkit.bench import BenchInput, TestKind

_HELD = "hold time"
_SHORTER = Fraction(9, 10)  # how much shorter a hold may be: our choice
_BEFORE = " before repair"
_DOUBT = "uncertainty of "
_WARMER, _MORE = 30, Fraction(3, 2)  # K, times: how far conditions may lie apart: ours


def is_same_test(one: Event, other: Event, kinds: Mapping[str, TestKind], /) -> bool:
    """Return whether ``other`` asks of a part what ``one`` asked.

    Method and limit are the same (of counts, which decide by their own rule, there is
    none), and so is every condition that is a specification: what its kind takes as
    exact (rated current, required hold time) or chooses from words (conductor). What
    is held is held as long, less a tenth; longer is harder.
    What both state beside that, and the kind does not compute with, lies near: within
    30 K, else within half as much again. What the second tells of the first is so. How
    pressures are written does not count. Raises ``InputError`` for numbers that cannot
    be used.
    """
    kind = kinds.get(one.text("method"))
    counts = kind is not None and not one.object("limit") and not other.object("limit")
    is_one = one.text("method") == other.text("method")
    if not is_one or not (counts or same_limit(one, other)):
        return False
    first, second = bench_input(one), bench_input(other)
    if kind is None:  # both are typed, or of a kind that is not known here
        return _lie_near((), first, second)
    return (
        _lie_near(kind.needs, first, second)
        and _holds_as_long(kind, first, second)
        and _tells_the_first(first, second)
        and all(
            _value(need, first) == _value(need, second)
            for need in kind.conditions
            if need.name != PRESSURE_REFERENCE
            and not need.name.endswith(_BEFORE)
            and (need.words or need.given is HowKnown.EXACT)
        )
    )


def _tells_the_first(first: BenchInput, second: BenchInput) -> bool:
    """Return whether the second says of the first what that one says: k of n, by what.

    Conditions that end so are what was found before a repair.
    """
    for name, told in second.conditions.items():
        if not name.endswith(_BEFORE):
            continue
        what = name.removesuffix(_BEFORE)
        found = first.readings.get(f"{what} with stimulus", first.conditions.get(what))
        if isinstance(told, Quantity) and isinstance(found, Quantity):
            if si_value(told) != si_value(found):
                return False
        elif told != found:
            return False
    return True


def _lie_near(needs: Sequence[Need], first: BenchInput, second: BenchInput) -> bool:
    """Return whether what both state beside what their kind computes with lies near.

    A condition with a range of its own (least, greatest) that is not stated is no more
    than stated beside, either.
    """
    asked = {need.name for need in needs}
    ranged = {name for name in asked if f"least {name}" in asked}
    both = {*first.conditions} & {*second.conditions}
    for name in both - asked | (both & ranged):
        if name in ranged and both & {f"least {name}", f"greatest {name}"}:
            continue
        if _is_far(name, first, second):
            return False
    return True


def _is_far(name: str, first: BenchInput, second: BenchInput) -> bool:
    """Return whether a condition's values lie too far apart; of two kinds, not."""
    one, other = first.conditions[name], second.conditions[name]
    if isinstance(one, str) or isinstance(other, str) or name.startswith(_DOUBT):
        return False
    try:
        kinds = {unit_of(found.unit).kind for found in (one, other)}
        low, high = sorted(si_value(found) for found in (one, other))
    except InputError:
        return False
    if kinds == {QuantityKind.TEMPERATURE}:
        return high - low > _WARMER
    is_more = high > _MORE * low if low > 0 else high != low
    return len(kinds) == 1 and is_more


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
