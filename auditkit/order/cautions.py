"""Cautions: hazard notices, as data that plugins bring.

A caution reminds. It replaces neither the vehicle maker's procedure nor local codes nor
licensed practice. ``caution_table`` makes one of a table of data, ``hazards`` says
which steps call for one, ``preconditions`` judges what was recorded before a step.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from auditkit.bench.units import Unit


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
class HazardousReading:
    """A reading that calls for a caution: in a unit's kind, above ``above`` (SI)."""

    unit: Unit
    above: Fraction | None
    above_text: str
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
    place_decides: bool = False
    by_method: bool = False
    unknown_system: bool = False
    measured: tuple[HazardousReading, ...] = ()


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
    which it is asked, none meaning all. ``has_to_be`` is true of what has to be there:
    a sentence that begins by saying that it is not says that it is not met.
    """

    name: str
    ask: str
    possible: tuple[Possible, ...] = ()
    stops: tuple[Stop, ...] = ()
    optional: bool = False
    has_to_be: bool = False
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
