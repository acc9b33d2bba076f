"""One thing that led to an answer, and what the rules look at. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from auditkit.inspection.heard import modules
from auditkit.inspection.jurisdiction import InspectionAnswer, RuleSource
from auditkit.inspection.vehicle import Vehicle
from auditkit.obd import Readout

A = InspectionAnswer
NOT_READY = "not-ready"
"""What an earlier visit ended in, beside the codes of a failure."""


class Lamp(StrEnum):
    """What somebody saw the engine lamp do."""

    LIT = "lit"
    DARK = "dark"
    FLASHING = "flashing"
    NOT_LOOKED = "not-looked"


class Connector(StrEnum):
    """What somebody found at the diagnostic connector."""

    SOUND = "sound"
    MISSING = "missing"
    TAMPERED = "tampered"
    INOPERABLE = "inoperable"
    NOT_LOOKED = "not-looked"


@dataclass(frozen=True, slots=True)
class Seen:
    """What a person saw, and knows of an earlier visit.

    ``bulb`` is the lamp with key on and engine off, ``running`` with the engine
    running. ``earlier`` holds the codes of an earlier failure, and "not-ready".
    """

    bulb: Lamp = Lamp.NOT_LOOKED
    running: Lamp = Lamp.NOT_LOOKED
    connector: Connector = Connector.NOT_LOOKED
    earlier: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Case:
    """What is judged: a readout of a vehicle on a day, and what was seen beside it.

    ``day_known`` says in words how the day is known. ``earlier`` are the readouts of
    the same repair order that were taken before this one.
    """

    readout: Readout
    vehicle: Vehicle
    seen: Seen
    day: date
    is_typed: bool = False
    day_known: str = ""
    earlier: tuple[Readout, ...] = ()

    @property
    def modules(self) -> tuple[str, ...]:
        """The modules that answered anything."""
        return modules(self.readout)


@dataclass(frozen=True, slots=True)
class Reason:
    """What led to an answer, and the source that it rests on (None: the readout).

    ``what_to_do`` names the very thing that would decide, ``option`` what takes the
    answer where the question was asked by a command.
    """

    answer: InspectionAnswer
    text: str
    source: RuleSource | None = None
    what_to_do: str = ""
    option: str = ""

    @property
    def told_to_do(self) -> str:
        """What to do, for who typed a command: with its option."""
        return f"{self.what_to_do} ({self.option})" if self.option else self.what_to_do


def undecided(
    text: str, what_to_do: str, source: RuleSource | None = None, option: str = ""
) -> Reason:
    """Return that something is missing, and what would decide."""
    return Reason(A.UNDECIDED, text, source, what_to_do, option)
