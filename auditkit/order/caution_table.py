"""A table of data -> a caution. What is not whole is refused, and named. Pure."""

from __future__ import annotations

from collections.abc import Mapping

from auditkit.bench.units import exact, to_si, unit_of
from auditkit.errors import InputError
from auditkit.order.cautions import (
    Calls,
    Caution,
    HazardousReading,
    Possible,
    Precondition,
    StepKind,
    Stop,
)
from auditkit.text.display_text import not_text

SIGNAL_WORDS = ("DANGER", "WARNING", "CAUTION", "NOTICE")
"""In the meaning of ANSI Z535 (meanings from memory)."""


def caution_of(data: Mapping[str, object]) -> Caution:
    """Return a caution from its table; InputError names what is missing.

    The table is one ``[[caution]]`` of ``cautions.toml``, which says what each member
    is.
    """
    try:
        return _caution(data)
    except (InputError, KeyError, TypeError, ValueError) as error:
        lacks = f"{error} is missing" if isinstance(error, KeyError) else str(error)
        raise InputError(
            f"a caution's data is not whole: {lacks}",
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
        place_decides=_flag(row, "place_decides"),
        by_method=_flag(row, "by_method"),
        unknown_system=_flag(row, "unknown_system"),
        measured=tuple(
            _measured(item)
            for item in (_tables(row, "measured") if "measured" in row else ())
        ),
    )
    if not (calls.in_steps or calls.always_in or calls.events or calls.measured):
        raise ValueError("called names no step, so it would never be shown")
    return calls


def _measured(row: Mapping[str, object]) -> HazardousReading:
    unit = unit_of(_text(row, "unit"))
    above = _text(row, "above") if "above" in row else ""
    return HazardousReading(
        unit,
        to_si(exact(above), unit) if above else None,
        f"{above} {unit}" if above else "",
        _steps(row, "in_steps"),
        _flag(row, "without_method"),
    )


def _precondition(row: Mapping[str, object]) -> Precondition:
    possible = tuple(
        _possible(item)
        for item in (_tables(row, "possible") if "possible" in row else ())
    )
    stops = _tables(row, "stop") if "stop" in row else ()
    if stops and not possible:
        raise ValueError(f"{_text(row, 'name')} has a stop and no possible values")
    return Precondition(
        name=_text(row, "name"),
        ask=_text(row, "ask"),
        possible=possible,
        stops=tuple(_stop(item, possible) for item in stops),
        optional=_flag(row, "optional"),
        has_to_be=_flag(row, "has_to_be"),
        instead=_text(row, "instead") if "instead" in row else "",
        systems=_texts(row, "systems"),
    )


def _possible(row: Mapping[str, object]) -> Possible:
    unit = unit_of(_text(row, "unit"))
    ends = [_text(row, name) for name in ("low", "high")]
    low, high = (to_si(exact(end), unit) for end in ends)
    if low > high:
        raise ValueError(f"nothing lies between {ends[0]} and {ends[1]} {unit}")
    return Possible(unit, low, high, f"{ends[0]} to {ends[1]} {unit}")


def _stop(row: Mapping[str, object], possible: tuple[Possible, ...]) -> Stop:
    ways = [name for name in ("above", "below") if name in row]
    if len(ways) != 1:
        raise ValueError("a stop is above or below something")
    limit, text = None, _text(row, ways[0])
    if "unit" in row:
        unit = unit_of(_text(row, "unit"))
        if not any(unit.kind is p.unit.kind for p in possible):
            raise ValueError(
                f"a stop in {unit} is never met by a value in another kind of unit"
            )
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
        raise ValueError("two preconditions have one name")
    named = [(p.instead, False) for p in asked if p.instead]
    for stop in (s for p in asked for s in p.stops):
        named += [(stop.unless, False)] if stop.unless else []
        named += [(stop.other, True)] if stop.other else []
    for name, is_value in named:
        if known.get(name) is not is_value:
            what = "a value" if is_value else "a sentence"
            raise ValueError(f"no precondition {name!r} asks for {what}")


def _text(data: Mapping[str, object], name: str) -> str:
    value = data[name]
    if not isinstance(value, str) or not value or not_text(value, one_line=True):
        raise TypeError(f"{name} is not plain text on one line")
    return value


def _one_of(data: Mapping[str, object], name: str, words: tuple[str, ...]) -> str:
    value = _text(data, name)
    if value not in words:
        raise ValueError(f"{name} {value!r} is not one of {', '.join(words)}")
    return value


def _texts(data: Mapping[str, object], name: str) -> frozenset[str]:
    value = data.get(name, [])
    if not isinstance(value, list) or not all(isinstance(item, str) for item in value):
        raise TypeError(f"{name} is not a list of texts")
    return frozenset(value)


def _steps(data: Mapping[str, object], name: str) -> frozenset[StepKind]:
    return frozenset(StepKind(text) for text in _texts(data, name))


def _flag(data: Mapping[str, object], name: str) -> bool:
    value = data.get(name, False)
    if not isinstance(value, bool):
        raise TypeError(f"{name} is neither true nor false")
    return value


def _count(data: Mapping[str, object], name: str) -> int:
    value = data[name]
    if not isinstance(value, int) or isinstance(value, bool) or value < 1:
        raise TypeError(f"{name} is not a whole number above 0")
    return value


def _table(data: Mapping[str, object], name: str) -> Mapping[str, object]:
    value = data[name]
    if not isinstance(value, Mapping):
        raise TypeError(f"{name} is not a table")
    return value


def _tables(data: Mapping[str, object], name: str) -> list[Mapping[str, object]]:
    value = data[name]
    if not isinstance(value, list) or not all(isinstance(i, Mapping) for i in value):
        raise TypeError(f"{name} is not a list of tables")
    return value
