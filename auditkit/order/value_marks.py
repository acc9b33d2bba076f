"""What typed values are known by in another repair order, where they hardly coincide.

Two cars may honestly show one two-digit reading, or no codes. So digits are counted:
of each different value those behind its first, which like parts share anyway. A count
of the vehicle (km, minutes) has all its digits; of a reading the noughts at its end are
left out, since it may have been set, or rounded. Three different values with seven such
digits are one of ten million: equal ones are a copy. With four they are worth a word.
The numbers are our choice, and have no published source.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from auditkit.text.values import value_text

if TYPE_CHECKING:
    from auditkit.text.values import Json

_VALUES, _SURE, _TOLD = 3, 7, 4
_KNOWN_GOOD = "known-good"
_NUMBER = re.compile(r"-?(0|[1-9][0-9]*)(\.[0-9]+)?")
"""A number as the schemas of events ask for it."""


@dataclass(frozen=True, slots=True)
class ValueMark:
    """A mark of typed values: ``sha256`` as hex, and of what values it is.

    ``is_sure`` where two moments will not share them by chance; ``of_counts`` where
    counts are among them, which differ once the vehicle has run.
    """

    sha256: str
    what: str
    is_sure: bool
    of_counts: bool = False


class _Shown(NamedTuple):
    """A number that was displayed: ``number`` without noughts after its last digit."""

    name: str
    number: str
    free_digits: int
    is_count: bool = False


def value_marks(event: Mapping[str, Json]) -> tuple[ValueMark, ...]:
    """Return what a typed readout's or a bench test's values are known by.

    None for any other event, for a test of a known-good part, which many orders share,
    and where there are too few digits to say anything.
    """
    kind = event.get("kind")
    if kind == "readout" and isinstance(typed := event.get("typed"), dict):
        tests = list(_self_tests(typed))
        every = [*_counts(typed), *tests]
        whole = _mark("live and counting values", every, in_order=False)
        alone = _mark("values of self-tests", tests, in_order=False)
        found = [whole, alone if alone and alone.is_sure else None]
    elif kind == "bench_test" and event.get("of") != _KNOWN_GOOD:
        read = list(_readings(event))
        found = [_mark("readings", read, in_order=True)]
    else:
        return ()
    return tuple(dict.fromkeys(filter(None, found)))


def _mark(what: str, values: list[_Shown], *, in_order: bool) -> ValueMark | None:
    different = {v.number: v.free_digits for v in values if v.free_digits > 0}
    digits = sum(different.values())
    if len(different) < _VALUES or digits < _TOLD:
        return None
    lines = [f"{value.name} {value.number}" for value in values]
    text = "\n".join([what, *(lines if in_order else sorted(lines))])
    return ValueMark(
        hashlib.sha256(text.encode(errors="surrogatepass")).hexdigest(),
        what,
        is_sure=digits >= _SURE,
        of_counts=any(value.is_count for value in values),
    )


def _counts(typed: Mapping[str, Json]) -> Iterator[_Shown]:
    counts = typed.get("counts")
    for name, value in counts.items() if isinstance(counts, dict) else ():
        yield from _shown(name, value, is_count=True)


def _self_tests(typed: Mapping[str, Json]) -> Iterator[_Shown]:
    for module in _objects(typed.get("modules")):
        for test in _objects(module.get("self_tests")):
            name = f"{test.get('mid')} {test.get('tid')}"
            yield from _shown(name, test.get("value"))


def _readings(event: Mapping[str, Json]) -> Iterator[_Shown]:
    for reading in _objects(event.get("readings")):
        yield from _shown("", reading)


def _shown(name: str, value: Json, *, is_count: bool = False) -> Iterator[_Shown]:
    """Yield a displayed number; none for a bound, nor for what is no number."""
    text = value_text(value)
    if text is None or not _NUMBER.fullmatch(text):
        return
    number = text.rstrip("0").rstrip(".") if "." in text else text
    digits = (text if is_count else number.rstrip("0")).lstrip("-0.").replace(".", "")
    yield _Shown(name, number, len(digits) - 1, is_count)


def _objects(value: Json) -> Iterable[dict[str, Json]]:
    return [i for i in value if isinstance(i, dict)] if isinstance(value, list) else []
