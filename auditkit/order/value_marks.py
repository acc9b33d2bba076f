"""What typed values are known by in another repair order, where they hardly coincide.

Two cars may honestly show one two-digit reading, or no codes. So digits are counted:
of each different value those behind its first, which like parts share anyway. A count
of the vehicle (km, minutes) has all its digits; of a reading the noughts at its end are
left out, since it may have been set, or rounded. Three different values with seven such
digits are one of ten million: equal ones are a copy. With four they are worth a word.
Of a readout the rest counts too where one value is another's, or left out, as long as
that rest has as many digits; and each run of values, by name, that has them is worth a
word. The numbers are our choice, and have no published source.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from auditkit.text.values import value_text

if TYPE_CHECKING:
    from auditkit.text.values import Json

_VALUES, _SURE, _TOLD = 3, 7, 4
_FEW = 12
"""Most values of which the rest is marked for each that may be another's: our choice.

Of more, runs are left where one is changed.
"""
_KNOWN_GOOD = "known-good"
_IS_NUMBER = re.compile(r"-?(0|[1-9][0-9]*)(\.[0-9]+)?").fullmatch
"""A number as the schemas of events ask for it."""


@dataclass(frozen=True, slots=True)
class ValueMark:
    """A mark of typed values: ``sha256`` as hex, and of what values it is.

    ``is_sure`` where two moments will not share them by chance; ``of_counts`` where
    counts are among them, which differ once the vehicle has run. ``values`` are those
    that it is made of, each with its name, of ``many``: not all where ``is_part``.
    """

    sha256: str
    what: str
    is_sure: bool
    of_counts: bool = False
    values: tuple[str, ...] = ()
    many: int = 0

    @property
    def is_part(self) -> bool:
        """Whether some of the values are left out of it."""
        return len(self.values) < self.many


_Shown = tuple[str, str, int]
"""A number that was displayed: its name, itself, and its free digits.

It stands without noughts after its last digit.
"""


def value_marks(event: Mapping[str, Json]) -> tuple[ValueMark, ...]:
    """Return what a typed readout's or a bench test's values are known by.

    None for any other event, for a test of a known-good part, which many orders share,
    and where there are too few digits to say anything.
    """
    kind = event.get("kind")
    if kind == "readout" and isinstance(typed := event.get("typed"), dict):
        tests = _self_tests(typed)
        counts = _counts(typed)
        whole = _mark("live and counting values", tests, counts)
        alone = _mark("values of self-tests", tests, [])
        found = [whole, alone if alone and alone.is_sure else None]
        found += [*_rests("live and counting values", tests, counts)]
        found += [*_rests("values of self-tests", tests, [])]
        found += [*_runs(sorted([*counts, *tests]), is_of_counts=bool(counts))]
    elif kind == "bench_test" and event.get("of") != _KNOWN_GOOD:
        read = _shown(("", reading) for reading in _objects(event.get("readings")))
        found = [_mark("readings", read)]
    else:
        return ()
    return tuple(dict.fromkeys(filter(None, found)))


def _mark(
    what: str, values: list[_Shown], counts: list[_Shown] | None = None
) -> ValueMark | None:
    """Return the mark of values: in order, or sorted where ``counts`` are told."""
    every = [*(counts or ()), *values]
    if counts is not None:
        every.sort()
    return _made(what, every, len(every), of_counts=bool(counts))


def _rests(
    what: str, values: list[_Shown], counts: list[_Shown]
) -> Iterator[ValueMark]:
    """Yield the mark of all but one of few values, for each that is left out."""
    every = sorted([*counts, *values])
    for place in range(len(every) if len(every) <= _FEW else 0):
        rest = every[:place] + every[place + 1 :]
        of_counts = bool(counts)
        made = _made(what, rest, len(every), of_counts=of_counts)
        if made is not None and made.is_sure:
            yield made


def _runs(every: list[_Shown], *, is_of_counts: bool) -> Iterator[ValueMark]:
    """Yield the mark of the shortest run from each value on that has digits enough."""
    for start in range(len(every)):
        free: dict[str, int] = {}
        for end, (_, number, digits) in enumerate(every[start:], start + 1):
            if digits > 0:
                free[number] = digits
            if len(free) < _VALUES or sum(free.values()) < _SURE:
                continue
            run = every[start:end]
            made = _made("a run of values", run, len(every), of_counts=is_of_counts)
            if made is not None and made.is_part:
                yield replace(made, is_sure=False)
            break


def _made(
    what: str, every: list[_Shown], many: int, *, of_counts: bool
) -> ValueMark | None:
    """Return the mark of these values of ``many``; None where they say too little."""
    different = {number: free for _, number, free in every if free > 0}
    if len(different) < _VALUES or (digits := sum(different.values())) < _TOLD:
        return None
    lines = [f"{name} {number}" for name, number, _ in every]
    text = "\n".join([what, *lines])
    sha256 = hashlib.sha256(text.encode(errors="surrogatepass")).hexdigest()
    return ValueMark(sha256, what, digits >= _SURE, of_counts, tuple(lines), many)


def _counts(typed: Mapping[str, Json]) -> list[_Shown]:
    counts = typed.get("counts")
    return _shown(counts.items(), is_count=True) if isinstance(counts, dict) else []


def _self_tests(typed: Mapping[str, Json]) -> list[_Shown]:
    return _shown(
        (f"{test.get('mid')} {test.get('tid')}", test.get("value"))
        for module in _objects(typed.get("modules"))
        for test in _objects(module.get("self_tests"))
    )


def _shown(
    named: Iterable[tuple[str, Json]], *, is_count: bool = False
) -> list[_Shown]:
    """Return the numbers that were displayed, each by its name.

    Without bounds, and what is no number. One list: it is made of every entry of a log.
    """
    found: list[_Shown] = []
    for name, value in named:
        text = value_text(value)
        if text is None or _IS_NUMBER(text) is None:
            continue
        number = text.rstrip("0").rstrip(".") if "." in text else text
        digits = text if is_count else number.rstrip("0")
        free = len(digits.lstrip("-0.").replace(".", "")) - 1
        found.append((name, number, free))
    return found


def _objects(value: Json) -> Iterable[dict[str, Json]]:
    return [i for i in value if isinstance(i, dict)] if isinstance(value, list) else []
