"""Cautions: hazard notices, and which steps call for them. Data that plugins bring.

A caution reminds. It replaces neither the vehicle maker's procedure nor local codes nor
licensed practice.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING

from auditkit.errors import InputError
from auditkit.text.display_text import not_text

if TYPE_CHECKING:
    from auditkit.order.events import Event, RepairOrder

SIGNAL_WORDS = ("DANGER", "WARNING", "CAUTION", "NOTICE")
"""In the meaning of ANSI Z535 (meanings from memory)."""


@dataclass(frozen=True, slots=True)
class CautionStep:
    """Which events call for a caution: of a kind, and of some systems and tests.

    ``systems`` are those of the part, ``tests`` words that the bench test's name holds;
    an empty tuple means all.
    """

    kind: str
    systems: tuple[str, ...] = ()
    tests: tuple[str, ...] = ()

    def calls(self, order: RepairOrder, event: Event) -> bool:
        """Return whether this event is such a step."""
        if event.kind != self.kind:
            return False
        suspect = order.suspect(event.text("part"))
        if self.systems and (suspect is None or suspect.system not in self.systems):
            return False
        name = event.text("test").lower()
        return not self.tests or any(word in name for word in self.tests)


@dataclass(frozen=True, slots=True)
class Caution:
    """A hazard notice. ``preconditions`` maps a name to its unit, empty for text.

    ``lapses_after`` is in minutes: an older acknowledgement has stale values. A changed
    ``text`` is a new ``version``.
    """

    id: str
    version: int
    signal_word: str
    hazard: str
    text: str
    basis: str
    preconditions: Mapping[str, str]
    steps: tuple[CautionStep, ...]
    lapses_after: int

    @property
    def sha256(self) -> str:
        """Digest of the text that is shown (UTF-8), in hex."""
        return hashlib.sha256(self.text.encode()).hexdigest()


def cautions_for(
    cautions: Iterable[Caution], order: RepairOrder, event: Event
) -> tuple[Caution, ...]:
    """Return the cautions that a step calls for."""
    return tuple(c for c in cautions if any(s.calls(order, event) for s in c.steps))


def caution_of(data: Mapping[str, object]) -> Caution:
    """Return a caution from its table; InputError names what is missing.

    The table is one ``[[caution]]`` of ``cautions.toml``, which says what each member
    is.
    """
    try:
        return _caution(data)
    except (KeyError, TypeError, ValueError) as error:
        lacks = f"{error} is missing" if isinstance(error, KeyError) else str(error)
        message = f"a caution's data is not whole: {lacks}"
        raise InputError(
            message,
            where=str(data.get("id", "caution")),
            what_to_do="write it as the tables of cautions.toml are written",
        ) from error


def _caution(data: Mapping[str, object]) -> Caution:
    word = _text(data, "signal_word")
    if word not in SIGNAL_WORDS:
        message = f"signal_word {word!r} is not one of {', '.join(SIGNAL_WORDS)}"
        raise ValueError(message)
    steps = tuple(
        CautionStep(_text(row, "kind"), _texts(row, "systems"), _texts(row, "tests"))
        for row in _tables(data, "applies")
    )
    if not steps:
        message = "applies names no step, so it would never be shown"
        raise ValueError(message)
    asked = {
        _text(row, "name"): _text(row, "unit") if "unit" in row else ""
        for row in _tables(data, "preconditions")
    }
    return Caution(
        id=_text(data, "id"),
        version=_count(data, "version"),
        signal_word=word,
        hazard=_text(data, "hazard"),
        text=_text(data, "text"),
        basis=_text(data, "basis"),
        preconditions=MappingProxyType(asked),
        steps=steps,
        lapses_after=_count(data, "lapses_after"),
    )


def _text(data: Mapping[str, object], name: str) -> str:
    value = data[name]
    if not isinstance(value, str) or not value or not_text(value, one_line=True):
        message = f"{name} is not plain text on one line"
        raise TypeError(message)
    return value


def _texts(data: Mapping[str, object], name: str) -> tuple[str, ...]:
    value = data.get(name, [])
    if not isinstance(value, list) or not all(isinstance(item, str) for item in value):
        message = f"{name} is not a list of texts"
        raise TypeError(message)
    return tuple(value)


def _count(data: Mapping[str, object], name: str) -> int:
    value = data[name]
    if not isinstance(value, int) or isinstance(value, bool) or value < 1:
        message = f"{name} is not a whole number above 0"
        raise TypeError(message)
    return value


def _tables(data: Mapping[str, object], name: str) -> list[Mapping[str, object]]:
    value = data[name]
    if not isinstance(value, list) or not all(isinstance(i, Mapping) for i in value):
        message = f"{name} is not a list of tables"
        raise TypeError(message)
    return value
