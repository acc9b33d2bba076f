"""What was recorded before a step, held against what its caution asks. Pure.

A value may be in any unit of its kind: it is converted before it is judged. One that is
not possible counts as not recorded. A tick is no answer: what was seen is a sentence.
Where something has to be there, none that begins by saying that it is not is one.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from auditkit.bench.units import QuantityKind, Reference, exact, to_si, unit_of
from auditkit.errors import InputError
from auditkit.text.values import Json, Quantity, displayed

if TYPE_CHECKING:
    from auditkit.order.cautions import Caution, Possible, Precondition, Stop
    from auditkit.order.hazards import Work

LEAST_WORDS, LEAST_LETTERS = 2, 8
"""Of a sentence that says what was seen; our own. Below it stand "yes" and "all ok"."""
_DENIED = re.compile(
    r"\W*(?:(?:(?:is|are|was|were|has|have|had|did|does|do|could) not\b)"
    r"|(?:no|none|nobody|nothing|not|without|never|n/?a|missing|left off)\b"
    r"|(?:(?:is |are |was |were )?(?:switched |turned )?off|out of order|broken)"
    r"\s*(?:$|[,;:.(]|because\b|since\b|for\b|as\b|today\b))",
    re.IGNORECASE,
)
_SPACELESS = 0x2E80
"""From here on lie the scripts of East Asia: a letter says as much as a word."""


@dataclass(frozen=True, slots=True)
class Beyond:
    """A value beyond its stop: the step is not called safe."""

    name: str
    value: Quantity
    stop: Stop


@dataclass(frozen=True, slots=True)
class _Value:
    """A recorded value in SI; ``low`` and ``high`` differ where a bound was read."""

    shown: Quantity
    low: Fraction
    high: Fraction
    kind: QuantityKind


def lacking(caution: Caution, given: Mapping[str, Json], work: Work) -> Iterator[str]:
    """Yield in words what an acknowledgement lacks for a step."""
    for asked in caution.preconditions:
        if asked.systems and not asked.systems & work.systems:
            continue
        if asked.instead and _is_met(caution, asked.instead, given):
            continue
        if asked.name not in given:
            if not asked.optional:
                yield f"{asked.name} is not recorded"
        elif told := amiss(asked, given[asked.name]):
            yield told
        elif isinstance(value := _value(asked, given[asked.name]), _Value):
            yield from _of_other_kind(caution, asked, value, given)


def amiss(asked: Precondition, given: Json) -> str:
    """Return in words why what was recorded is no answer; empty where it is one."""
    if asked.possible:
        value = _value(asked, given)
        return value if isinstance(value, str) else ""
    if not is_sentence(given):
        least = f"{LEAST_WORDS} words and {LEAST_LETTERS} letters at least"
        return f"{asked.name} does not say in a sentence what was seen ({least})"
    if _is_denied(asked, given) and not asked.optional:
        return f"{asked.name} is told as not there: {given}"
    return ""


def beyond(caution: Caution, given: Mapping[str, Json], work: Work) -> Iterator[Beyond]:
    """Yield the values beyond their stop in a step."""
    known = {p.name: p for p in caution.preconditions}
    for asked in caution.preconditions:
        value = _value(asked, given.get(asked.name))
        if isinstance(value, str):
            continue
        for stop in asked.stops:
            if stop.systems and not stop.systems & work.systems:
                continue
            if stop.in_steps and not stop.in_steps & work.kinds:
                continue
            if stop.unless and _is_met(caution, stop.unless, given):
                continue
            if stop.limit is not None:
                least = most = stop.limit
            else:
                other = _value(known[stop.other], given.get(stop.other))
                if isinstance(other, str) or other.kind is not value.kind:
                    continue
                least, most = other.low, other.high
            if value.high > least if stop.is_above else value.low < most:
                yield Beyond(asked.name, value.shown, stop)
                break


def _of_other_kind(
    caution: Caution, asked: Precondition, value: _Value, given: Mapping[str, Json]
) -> Iterator[str]:
    """Yield the limits of a value that are recorded in another kind of unit."""
    for one in caution.preconditions:
        if one.name in {stop.other for stop in asked.stops}:
            limit = _value(one, given.get(one.name))
            if isinstance(limit, _Value) and limit.kind is not value.kind:
                yield f"{asked.name} and {one.name} are not in one kind of unit"


def _is_met(caution: Caution, name: str, given: Mapping[str, Json]) -> bool:
    """Return whether what a sentence asks is told, and there where it has to be."""
    told = given.get(name)
    asked = (one for one in caution.preconditions if one.name == name)
    return is_sentence(told) and not any(_is_denied(one, told) for one in asked)


def _is_denied(asked: Precondition, told: Json) -> bool:
    return asked.has_to_be and bool(_DENIED.match(str(told)))


def is_sentence(value: Json) -> bool:
    """Return whether a text says what was seen, rather than ticks something off."""
    if not isinstance(value, str):
        return False
    letters = sum(map(str.isalpha, value))
    if not value.isascii() and any(ord(c) >= _SPACELESS and c.isalpha() for c in value):
        return letters >= LEAST_LETTERS // 2
    return len(value.split()) >= LEAST_WORDS and letters >= LEAST_LETTERS


def _value(asked: Precondition, given: Json) -> _Value | str:
    """Return a recorded value, or in words why it is none."""
    shown = displayed(given)
    if shown is None:
        return f"{asked.name} is not recorded as a value in {asked.units}"
    for possible in asked.possible:
        try:
            found, is_down = _si(shown, possible)
        except InputError:
            continue
        if not possible.low <= found <= possible.high:
            return (
                f"{asked.name} of {shown} is not possible ({possible.text}), so it "
                "counts as not recorded"
            )
        from_below, from_above = shown.bound == "below", shown.bound == "above"
        if is_down:
            from_below, from_above = from_above, from_below
        return _Value(
            shown,
            possible.low if from_below else found,
            possible.high if from_above else found,
            possible.unit.kind,
        )
    return f"{asked.name} of {shown} is not in {asked.units}, or in a unit of that kind"


def _si(shown: Quantity, possible: Possible) -> tuple[Fraction, bool]:
    """Return a value in SI, and whether it counts down: a vacuum, below zero gauge.

    Raises InputError where it is of another kind, or of another pressure reference.
    """
    unit = unit_of(shown.unit, possible.unit.kind)
    number = to_si(exact(shown.text), unit)
    if unit.reference is Reference.VACUUM:
        return -number, True
    if unit.reference not in (None, Reference.GAUGE):
        raise InputError(
            f"{unit} is not measured against the surrounding air",
            what_to_do="give the gauge pressure",
        )
    return number, False
