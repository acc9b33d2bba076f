"""Is a self-test that was typed after a repair the one that had failed? Pure."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction

from auditkit.bench.units import exact, unit_of
from auditkit.errors import InputError
from auditkit.order.events import Event, RepairOrder
from auditkit.order.self_test_evidence import failed_before, mids_of, typed_result
from auditkit.order.typed_test import scale_between
from auditkit.text.values import Quantity, quantity

_ROUNDED = Fraction(1, 100)
"""How far a display may round a limit: our choice."""
_ENDS = (("minimum", -1), ("maximum", 1))


@dataclass(frozen=True, slots=True)
class _Test:
    """What a result says of its test: its ids, its value and its limits."""

    mid: str
    tid: str
    value: Quantity | None
    limits: dict[str, Quantity]

    def may_be(self, other: _Test) -> bool:
        """Return whether no id says that it is another test."""
        pairs = ((self.mid, other.mid), (self.tid, other.tid))
        return all("" in pair or len(set(pair)) == 1 for pair in pairs)

    def was_beyond(self, name: str, sign: int) -> bool:
        """Return whether its value lies beyond one of its limits."""
        if self.value is None:
            return False
        return sign * (self.value.value - self.limits[name].value) > 0


def why_not_typed_again(order: RepairOrder, code: str, newest: Iterable[Event]) -> str:
    """Return why typed passes are not of the test that had failed; empty if they are.

    Another test id alone was typed; or, where no reprogramming is recorded, its limit
    asks less than before, but for rounding, or stands in a unit of another kind.
    """
    old = list(_failed(order, code))
    new = [_typed(event) for event in newest if typed_result(event) == "passed"]
    for test in old:
        own = [one for one in new if one.mid in {"", test.mid}]
        if own and test.tid and not any(one.tid in {"", test.tid} for one in own):
            return f"test {test.tid} failed before, and another was typed"
    if order.has_new_program:
        return ""
    told = (_asks_less(o, n) for o in old for n in new if o.may_be(n))
    return next(filter(None, told), "")


def _failed(order: RepairOrder, code: str) -> Iterator[_Test]:
    repair, mids = order.last_repair, mids_of(order, code)
    for event in () if repair is None else order.before(repair.index, "self_test"):
        if event.text("mid") in mids and typed_result(event) == "failed":
            yield _typed(event)
    for test in failed_before(order, code):
        ends = (
            ("minimum", test.minimum if test.has_minimum else None),
            ("maximum", test.maximum if test.has_maximum else None),
        )
        unit = test.unit or ""
        limits = {n: Quantity(f"{e:f}", unit) for n, e in ends if e is not None}
        value = None if test.value is None else Quantity(f"{test.value:f}", unit)
        yield _Test(test.mid, test.tid, value, limits)


def _typed(event: Event) -> _Test:
    found = ((name, quantity(event.data.get(name))) for name, _ in _ENDS)
    limits = {n: q for n, q in found if q is not None}
    value = quantity(event.data.get("value"))
    return _Test(event.text("mid"), event.text("tid"), value, limits)


def _asks_less(old: _Test, new: _Test) -> str:
    for name, sign in _ENDS:
        was, now = old.limits.get(name), new.limits.get(name)
        if was is None:
            continue
        if now is None:
            if old.was_beyond(name, sign):
                return f"its {name} was {was}, and none was typed after"
            continue
        scale = scale_between(now.unit, was.unit)
        if scale is None:
            if _are_of_two_kinds(was.unit, now.unit):
                return f"its {name} was {was}, and is {now} now"
            continue
        before = exact(was.text)
        if sign * (exact(now.text) * scale - before) > abs(before) * _ROUNDED:
            return f"its {name} was {was}, and is {now} now"
    return ""


def _are_of_two_kinds(one: str, other: str) -> bool:
    try:
        return unit_of(one).kind is not unit_of(other).kind
    except InputError:
        return False  # a unit that is not known here: nothing is claimed
