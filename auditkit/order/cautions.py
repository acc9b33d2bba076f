"""Cautions: hazard notices, as data that plugins bring.

A caution reminds. It replaces neither the vehicle maker's procedure nor local codes nor
licensed practice. Which steps call for one: ``hazards``; what was recorded before a
step: ``preconditions``.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from auditkit.bench.units import Unit, exact, to_si, unit_of
from auditkit.errors import InputError
from auditkit.text.display_text import not_text

SIGNAL_WORDS = ("DANGER", "WARNING", "CAUTION", "NOTICE")
"""In the meaning of ANSI Z535 (meanings from memory)."""


class StepKind(StrEnum):
    """What kind of work a step is: by a bench test's setup, a repair's action."""

    REMOVED = "removed"
    ENGINE_OFF = "engine-off"
    CRANKING = "cranking"
    RUNNING = "running"
    REPAIR = "repair"
    PROGRAMMING = "programming"
    RELEARNING = "relearning"
    REGENERATION = "regeneration"
    ROAD = "road"


@dataclass(frozen=True, slots=True)
class Measured:
    """A reading that calls for a caution: in a unit's kind, above ``above`` (SI)."""

    unit: Unit
    above: Fraction | None
    in_steps: frozenset[StepKind]
    without_method: bool


@dataclass(frozen=True, slots=True)
class Calls:
    """Which steps call for a caution. ``hazards.Work`` says how these go together."""

    in_steps: frozenset[StepKind] = frozenset()
    systems: frozenset[str] = frozenset()
    places: frozenset[str] = frozenset()
    always_in: frozenset[StepKind] = frozenset()
    methods: frozenset[str] = frozenset()
    events: frozenset[str] = frozenset()
    by_method: bool = False
    unknown_system: bool = False
    measured: tuple[Measured, ...] = ()


@dataclass(frozen=True, slots=True)
class Possible:
    """Between what a value of a unit's kind can lie; both ends in SI, both included."""

    unit: Unit
    low: Fraction
    high: Fraction
    text: str


@dataclass(frozen=True, slots=True)
class Stop:
    """A value beyond which a step is not called safe, and whose limit that is.

    ``limit`` is in SI; where it is None, ``other`` names the precondition that holds
    it. ``text`` is the limit as it is shown. ``unless`` names the sentence that stands
    in for it, or is empty; ``systems`` and ``in_steps`` say of which parts and in which
    kinds of step it counts, none meaning all.
    """

    is_above: bool
    limit: Fraction | None
    other: str
    text: str
    limit_of: str
    unless: str
    systems: frozenset[str]
    in_steps: frozenset[StepKind]

    def __str__(self) -> str:
        return f"{'above' if self.is_above else 'below'} {self.text}"


@dataclass(frozen=True, slots=True)
class Precondition:
    """What is recorded before a step: a value, or without ``possible`` what was seen.

    ``instead`` names a sentence that stands for it; ``systems`` those of parts for
    which it is asked, none meaning all.
    """

    name: str
    ask: str
    possible: tuple[Possible, ...] = ()
    stops: tuple[Stop, ...] = ()
    optional: bool = False
    instead: str = ""
    systems: frozenset[str] = frozenset()

    @property
    def units(self) -> str:
        """The units that it is asked in; any other of the same kind will do."""
        return " or ".join(str(p.unit) for p in self.possible)


@dataclass(frozen=True, slots=True)
class Caution:
    """A hazard notice. Its ``id`` is the hazard's name in the table of fault codes.

    ``lapses_after`` is in minutes: an older acknowledgement has stale values, and so
    has one from before the engine ran, where ``ends_when_engine_runs``. It stands for
    work on the part that it names, or on all where ``covers_vehicle``. A changed
    ``text`` is a new ``version``.
    """

    id: str
    version: int
    signal_word: str
    hazard: str
    text: str
    basis: str
    preconditions: tuple[Precondition, ...]
    calls: Calls
    lapses_after: int
    covers_vehicle: bool = False
    ends_when_engine_runs: bool = False

    @property
    def sha256(self) -> str:
        """Digest of the text that is shown (UTF-8), in hex."""
        return hashlib.sha256(self.text.encode()).hexdigest()


def caution_of(data: Mapping[str, object]) -> Caution:
    """Return a caution from its table; InputError names what is missing.

    The table is one ``[[caution]]`` of ``cautions.toml``, which says what each member
    is.
    """
    try:
        return _caution(data)
    except (InputError, KeyError, TypeError, ValueError) as error:
        lacks = f"{error} is missing" if isinstance(error, KeyError) else str(error)
        message = f"a caution's data is not whole: {lacks}"
        raise InputError(
            message,
            where=str(data.get("id", "caution")),
            what_to_do="write it as the tables of cautions.toml are written",
        ) from error


def _caution(data: Mapping[str, object]) -> Caution:
    word = _one_of(data, "signal_word", SIGNAL_WORDS)
    asked = tuple(_precondition(row) for row in _tables(data, "precondition"))
    _check_names(asked)
    return Caution(
        id=_text(data, "id"),
        version=_count(data, "version"),
        signal_word=word,
        hazard=_text(data, "hazard"),
        text=_text(data, "text"),
        basis=_text(data, "basis"),
        preconditions=asked,
        calls=_calls(_table(data, "called")),
        lapses_after=_count(data, "lapses_after"),
        covers_vehicle=_one_of(data, "covers", ("part", "vehicle")) == "vehicle",
        ends_when_engine_runs=_flag(data, "ends_when_engine_runs"),
    )


def _calls(row: Mapping[str, object]) -> Calls:
    calls = Calls(
        in_steps=_steps(row, "in_steps"),
        systems=_texts(row, "systems"),
        places=_texts(row, "places"),
        always_in=_steps(row, "always_in"),
        methods=_texts(row, "methods"),
        events=_texts(row, "events"),
        by_method=_flag(row, "by_method"),
        unknown_system=_flag(row, "unknown_system"),
        measured=tuple(
            _measured(item)
            for item in (_tables(row, "measured") if "measured" in row else ())
        ),
    )
    if not (calls.in_steps or calls.always_in or calls.events or calls.measured):
        message = "called names no step, so it would never be shown"
        raise ValueError(message)
    return calls


def _measured(row: Mapping[str, object]) -> Measured:
    unit = unit_of(_text(row, "unit"))
    above = to_si(exact(_text(row, "above")), unit) if "above" in row else None
    return Measured(unit, above, _steps(row, "in_steps"), _flag(row, "without_method"))


def _precondition(row: Mapping[str, object]) -> Precondition:
    possible = tuple(
        _possible(item)
        for item in (_tables(row, "possible") if "possible" in row else ())
    )
    stops = _tables(row, "stop") if "stop" in row else ()
    if stops and not possible:
        message = f"{_text(row, 'name')} has a stop and no possible values"
        raise ValueError(message)
    return Precondition(
        name=_text(row, "name"),
        ask=_text(row, "ask"),
        possible=possible,
        stops=tuple(_stop(item, possible) for item in stops),
        optional=_flag(row, "optional"),
        instead=_text(row, "instead") if "instead" in row else "",
        systems=_texts(row, "systems"),
    )


def _possible(row: Mapping[str, object]) -> Possible:
    unit = unit_of(_text(row, "unit"))
    ends = [_text(row, name) for name in ("low", "high")]
    low, high = (to_si(exact(end), unit) for end in ends)
    if low > high:
        message = f"nothing lies between {ends[0]} and {ends[1]} {unit}"
        raise ValueError(message)
    return Possible(unit, low, high, f"{ends[0]} to {ends[1]} {unit}")


def _stop(row: Mapping[str, object], possible: tuple[Possible, ...]) -> Stop:
    ways = [name for name in ("above", "below") if name in row]
    if len(ways) != 1:
        message = "a stop is above or below something"
        raise ValueError(message)
    limit, text = None, _text(row, ways[0])
    if "unit" in row:
        unit = unit_of(_text(row, "unit"))
        if not any(unit.kind is p.unit.kind for p in possible):
            message = (
                f"a stop in {unit} is never met by a value in another kind of unit"
            )
            raise ValueError(message)
        limit = to_si(exact(text), unit)
    return Stop(
        is_above=ways[0] == "above",
        limit=limit,
        other="" if limit is not None else text,
        text=text if limit is None else f"{text} {row['unit']}",
        limit_of=_text(row, "limit_of"),
        unless=_text(row, "unless") if "unless" in row else "",
        systems=_texts(row, "systems"),
        in_steps=_steps(row, "in_steps"),
    )


def _check_names(asked: tuple[Precondition, ...]) -> None:
    """Raise ValueError where a precondition names another that does not fit."""
    known = {p.name: bool(p.possible) for p in asked}
    if len(known) != len(asked):
        message = "two preconditions have one name"
        raise ValueError(message)
    named = [(p.instead, False) for p in asked if p.instead]
    for stop in (s for p in asked for s in p.stops):
        named += [(stop.unless, False)] if stop.unless else []
        named += [(stop.other, True)] if stop.other else []
    for name, is_value in named:
        if known.get(name) is not is_value:
            what = "a value" if is_value else "a sentence"
            message = f"no precondition {name!r} asks for {what}"
            raise ValueError(message)


def _text(data: Mapping[str, object], name: str) -> str:
    value = data[name]
    if not isinstance(value, str) or not value or not_text(value, one_line=True):
        message = f"{name} is not plain text on one line"
        raise TypeError(message)
    return value


def _one_of(data: Mapping[str, object], name: str, words: tuple[str, ...]) -> str:
    value = _text(data, name)
    if value not in words:
        message = f"{name} {value!r} is not one of {', '.join(words)}"
        raise ValueError(message)
    return value


def _texts(data: Mapping[str, object], name: str) -> frozenset[str]:
    value = data.get(name, [])
    if not isinstance(value, list) or not all(isinstance(item, str) for item in value):
        message = f"{name} is not a list of texts"
        raise TypeError(message)
    return frozenset(value)


def _steps(data: Mapping[str, object], name: str) -> frozenset[StepKind]:
    return frozenset(StepKind(text) for text in _texts(data, name))


def _flag(data: Mapping[str, object], name: str) -> bool:
    value = data.get(name, False)
    if not isinstance(value, bool):
        message = f"{name} is neither true nor false"
        raise TypeError(message)
    return value


def _count(data: Mapping[str, object], name: str) -> int:
    value = data[name]
    if not isinstance(value, int) or isinstance(value, bool) or value < 1:
        message = f"{name} is not a whole number above 0"
        raise TypeError(message)
    return value


def _table(data: Mapping[str, object], name: str) -> Mapping[str, object]:
    value = data[name]
    if not isinstance(value, Mapping):
        message = f"{name} is not a table"
        raise TypeError(message)
    return value


def _tables(data: Mapping[str, object], name: str) -> list[Mapping[str, object]]:
    value = data[name]
    if not isinstance(value, list) or not all(isinstance(i, Mapping) for i in value):
        message = f"{name} is not a list of tables"
        raise TypeError(message)
    return value
