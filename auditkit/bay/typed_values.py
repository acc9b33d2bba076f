"""One answer as it was typed -> the value that an event holds. Pure."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import datetime, timedelta

from auditkit.bay.field import Field, FieldKind
from auditkit.bay.machine_filled import short_name
from auditkit.bay.typed_numbers import BOUNDS, amount
from auditkit.bay.unit_words import typed_as
from auditkit.bench.units import unit_of
from auditkit.errors import InputError
from auditkit.order.event_kinds import load
from auditkit.order.record import CLOCK_SLACK
from auditkit.text.display_text import quoted
from auditkit.text.values import Json

YES, NO = "yes", "no"
SAID = {YES: True, "y": True, "true": True, NO: False, "n": False, "false": False}
"""What is a yes or a no, in small letters."""
_CLOCK = re.compile(
    r"(?:([0-9]{4}-[0-9]{2}-[0-9]{2})[ T])?([0-9]{1,2}):([0-9]{2})(?::([0-9]{2}))?"
)
_DEGREES = frozenset({"degC", "degF", "K"})
"""All that a temperature is written in: there ``60 C`` is no charge."""
_GLUED = re.compile(r"(-?[0-9][0-9.,]*)([^0-9.,\s].*)")


def value_of(asked: Field, text: str, at: str) -> Json:
    """Return what a field was answered with; ``at`` is now, in RFC 3339.

    Raises InputError, with what to do, for a text that is no such answer.
    """
    read = _READ.get(asked.kind)
    return read(asked, text, at) if read else _plain(asked, text)


def split_list(one: Field, text: str) -> list[str]:
    """Return the values that stand in one text, between commas, ``;`` or line ends.

    Between spaces too where no value can hold one.
    """
    pieces = [piece.strip() for piece in re.split(r"[,;\n]", text)]
    has_spaces = not one.pattern or re.search(one.pattern, "A B")
    if one.kind is not FieldKind.TEXT or has_spaces:
        return [piece for piece in pieces if piece]
    return [word for piece in pieces for word in piece.split()]


def amount_or_text(text: str) -> Json:
    """Return a value with its unit where a text is one, else the text."""
    first, _, rest = text.partition(" ")
    number = rest.partition(" ")[0] if first in BOUNDS else first
    if not (number[:1].isdigit() or number[:1] == "-"):
        return text
    try:
        return dict(_amount(text))
    except InputError:
        return text


def _plain(asked: Field, text: str) -> str:
    """Return a text; where it is not of the form that is asked for, written as that is.

    Codes are in capitals, short names of parts in small letters with dashes. One that
    names a unit is of the kinds that are asked for.
    """
    if asked.kinds:
        symbols = {sign: symbol for symbol, sign in asked.units}
        return _of_kind(asked, symbols.get(text, text))
    if not asked.pattern or re.search(asked.pattern, text):
        return text
    is_id = asked.pattern == load("common-1")["$defs"]["id"]["pattern"]
    meant = short_name(text) if is_id else text.upper()
    return meant if re.search(asked.pattern, meant) else text


def _number(_: Field, text: str, __: str) -> int:
    if not re.fullmatch(r"-?[0-9]{1,15}", text):
        raise InputError(
            f"{quoted(text)} is not a whole number",
            what_to_do="write digits only, such as 2012",
        )
    return int(text)


def _yes(_: Field, text: str, __: str) -> bool:
    if text.lower() not in SAID:
        raise InputError(
            f"{quoted(text)} is neither yes nor no", what_to_do=f"write {YES} or {NO}"
        )
    return SAID[text.lower()]


def _choice(asked: Field, text: str, _: str) -> str:
    """Return the value of a choice, also of one that was given in its words."""
    if text in dict(asked.choices):
        return text
    meant = [
        v for v, words in asked.choices if text.lower() in {v.lower(), words.lower()}
    ]
    if len(meant) != 1:
        raise InputError(
            f"{quoted(text)} is not one of the choices",
            what_to_do=f"write one of {', '.join(v for v, _ in asked.choices)}",
        )
    return meant[0]


def _time(_: Field, text: str, at: str) -> str:
    """Return a time; a time of the day is the last such before ``at`` or just after."""
    found = _CLOCK.fullmatch(text)
    if found is None:
        return text  # RFC 3339, or its schema says what to write
    day, hour, minute, second = found.groups()
    now = datetime.fromisoformat(at)
    try:
        whole = datetime.fromisoformat(day) if day else now.replace(tzinfo=None)
        clock = whole.replace(
            hour=int(hour), minute=int(minute), second=int(second or 0), microsecond=0
        )
        days = (clock,) if day else (clock, clock - timedelta(days=1))
    except (ValueError, OverflowError) as error:
        raise InputError(
            f"{quoted(text)} is not a time of the calendar",
            what_to_do="write it as 09:55, or with its day as 2026-03-02 09:55",
        ) from error
    meant = [one for wall in days for one in _instants(wall, now)]
    if not meant:
        raise InputError(
            f"there was no {quoted(text)}: the clocks were set forward over it",
            what_to_do="write the time that the clock showed then",
        )
    past = [one for one in meant if one - now <= CLOCK_SLACK]
    return max(past or meant).isoformat()


def _instants(wall: datetime, now: datetime) -> list[datetime]:
    """Return when a clock on the wall showed a time: twice in a repeated hour.

    In the zone of this computer where ``now`` is in it, so that a time before the
    clocks were changed has the offset of then; else at the offset of ``now``.
    """
    if now.astimezone().utcoffset() != now.utcoffset():
        return [wall.replace(tzinfo=now.tzinfo)]
    both = (wall.replace(fold=fold).astimezone() for fold in (0, 1))
    return [one for one in both if one.replace(tzinfo=None, fold=0) == wall]


def _quantity(asked: Field, text: str, _: str) -> Json:
    made = _amount(text)
    symbols = {sign: symbol for symbol, sign in asked.units}
    unit = symbols.get(made["unit"], made["unit"])
    if not unit and len(asked.units) == 1:
        unit = asked.units[0][0]
    if not unit:
        raise InputError(
            f"{quoted(text)} has no unit",
            what_to_do=f"write it behind the number: {typed_as(asked.units[:3])}"
            if asked.units
            else 'write it behind the number, such as "18.0 inHg"',
        )
    if unit in {"C", "F"} and {f"deg{unit}"} <= set(symbols.values()) <= _DEGREES:
        unit = f"deg{unit}"
    return {**made, "unit": _of_kind(asked, unit)}


def _of_kind(asked: Field, unit: str) -> str:
    """Return a unit; InputError where it is none of the kinds that are asked for."""
    if asked.kinds:
        try:
            unit_of(unit, *asked.kinds)
        except InputError as error:
            error.what_to_do = f"write it in {typed_as(asked.units[:4])}"
            raise
    return unit


def _amount(text: str) -> dict[str, str]:
    if glued := _GLUED.fullmatch(text):
        text = f"{glued[1]} {glued[2]}"
    made = amount(" ".join(text.split()), "--reading")
    number = next(iter(made.values()))
    if not re.fullmatch(r"-?[0-9]+(\.[0-9]+)?", number):
        raise InputError(
            f"{quoted(number)} is not a number",
            what_to_do='write digits and the unit, such as "18.0 inHg"',
        )
    return made


_READ: dict[FieldKind, Callable[[Field, str, str], Json]] = {
    FieldKind.CHOICE: _choice,
    FieldKind.NUMBER: _number,
    FieldKind.QUANTITY: _quantity,
    FieldKind.TIME: _time,
    FieldKind.YES: _yes,
}
