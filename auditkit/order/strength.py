"""How strongly an event shows what it says: the vehicle's bytes, a measurement, a word.

First-hand are the bytes that the vehicle sent, kept here, and readings by a named
method with instruments that state what they are. The rest is what somebody saw on a
display, with or without a picture of it, or says; least what one says of another.
"""

from __future__ import annotations

from collections.abc import Iterable
from enum import StrEnum


class Strength(StrEnum):
    """How strong an answer is; ``rank`` puts them in order."""

    VEHICLE = "vehicle"
    """Bytes that the vehicle sent, kept here."""
    MEASURED = "measured"
    """Readings by a named method, with instruments that state their specification."""
    TABLE = "table"
    """What the table of codes calls plausible: the best that this question has."""
    LOGGED = "logged"
    """Each step recorded soon after it happened: the best that this question has."""
    PHOTOGRAPHED = "photographed"
    """Typed from a display, with a picture of the display in the log."""
    TYPED = "typed"
    """Typed from a display, or measured with an instrument that states nothing."""
    WORD = "word"
    """A person's word."""
    SECOND_HAND = "second-hand"
    """The word of somebody who signed what another did."""

    @property
    def rank(self) -> int:
        """4 where nothing stronger can be had, 3 photographed, 2 typed, 1, 0 words."""
        return _RANKS.get(self, 4)

    @property
    def in_words(self) -> str:
        """Where an answer comes from, as it stands behind what it says."""
        return _WORDS[self]

    @property
    def is_first_hand(self) -> bool:
        """Whether it rests on the vehicle's own bytes, or on a measurement."""
        return self in {Strength.VEHICLE, Strength.MEASURED}


_WORDS = {
    Strength.VEHICLE: "from the vehicle's own data",
    Strength.MEASURED: "measured",
    Strength.TABLE: "by the table of fault codes",
    Strength.LOGGED: "by the log",
    Strength.PHOTOGRAPHED: "from a photograph",
    Strength.TYPED: "typed by hand",
    Strength.WORD: "on the shop's word",
    Strength.SECOND_HAND: "on the word of whoever signed for another",
}
_RANKS = {
    Strength.PHOTOGRAPHED: 3,
    Strength.TYPED: 2,
    Strength.WORD: 1,
    Strength.SECOND_HAND: 0,
}


def weakest(strengths: Iterable[Strength]) -> Strength:
    """Return the weakest of the events that one sentence cites; a word for none."""
    return min(strengths, key=lambda one: one.rank, default=Strength.WORD)


def strongest(strengths: Iterable[Strength]) -> Strength:
    """Return the strongest of several ways in which one thing is shown."""
    return max(strengths, key=lambda one: one.rank, default=Strength.WORD)
