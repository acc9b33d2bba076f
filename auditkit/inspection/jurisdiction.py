"""A jurisdiction's inspection rules: data with sources, as a plugin brings them. Pure.

Plugins bring them through the hook ``jurisdictions``. Each condition has a source of
its own; a condition that is absent is not asked there, and nothing passes by it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum


class InspectionAnswer(StrEnum):
    """What a rule answers.

    ``other-test`` where it sends the vehicle to another test, ``undecided`` where
    something is missing or contradicts itself.
    """

    ACCEPT = "accept"
    FAIL = "fail"
    NOT_READY = "not-ready"
    NOT_SUBJECT = "not-subject"
    OTHER_TEST = "other-test"
    UNDECIDED = "undecided"


@dataclass(frozen=True, slots=True)
class RuleSource:
    """Where a rule stands: its section, its date, and how it is known."""

    section: str
    dated: str
    known: str

    def __str__(self) -> str:
        return f"{self.section} ({self.dated}; {self.known})"


@dataclass(frozen=True, slots=True)
class Span:
    """Days on which something holds: from ``effective`` to the day before ``ended``."""

    effective: date = date.min
    ended: date = date.max

    def holds(self, day: date) -> bool:
        """Return whether it holds on a day."""
        return self.effective <= day < self.ended


@dataclass(frozen=True, slots=True)
class Scope:
    """Which vehicles are subject to the test.

    ``first_year`` is by ignition; where the day of first use decides, ``first_used`` is
    the first such day, by ignition, and no model year is asked. ``most_gvwr_lb`` is the
    greatest gross vehicle weight rating, ``youngest`` and ``oldest`` the age in model
    years on the day of the test. ``electric`` says whether vehicles without a
    combustion engine are subject.
    """

    source: RuleSource
    first_year: Mapping[str, int]
    first_used: Mapping[str, date]
    most_gvwr_lb: int | None
    youngest: int | None
    oldest: int | None
    electric: bool


@dataclass(frozen=True, slots=True)
class Doubt:
    """Vehicles of which the sources do not tell whether they are subject."""

    source: RuleSource
    ignition: str
    first_year: int
    last_year: int
    text: str


@dataclass(frozen=True, slots=True)
class Condition:
    """One thing that is looked at, and what it leads to where it is so.

    ``needs_code`` is of a lamp that is commanded on: only for a stored code.
    ``first_year`` is the model year from which it is asked.
    """

    source: RuleSource
    answer: InspectionAnswer
    needs_code: bool = False
    first_year: int = 0


@dataclass(frozen=True, slots=True)
class PermanentRule:
    """From which model year a permanent code fails, and what exempts from it."""

    source: RuleSource
    first_year: int
    warm_ups: int
    distance_km: int


@dataclass(frozen=True, slots=True)
class Retest:
    """After a failure with one of some codes, which monitors have to be complete.

    ``codes`` are spans of codes, first and last.
    """

    source: RuleSource
    codes: tuple[tuple[str, str], ...]
    monitors: frozenset[str]
    answer: InspectionAnswer


@dataclass(frozen=True, slots=True)
class Allowance:
    """Which monitors may be incomplete, for an ignition and a span of model years.

    ``count`` of any monitors, or those of ``monitors``. ``continuous`` tells whether
    misfire, fuel system and components count at all.
    """

    ignition: str
    first_year: int
    last_year: int
    count: int
    monitors: frozenset[str]
    continuous: bool


@dataclass(frozen=True, slots=True)
class RuleReading:
    """One way to read a jurisdiction's readiness rule; two where sources conflict.

    Without allowances readiness is not asked. ``beyond`` is what more monitors that are
    not complete lead to, ``required`` those that have to be complete in any case,
    ``unsupported_counts`` whether one that is not supported counts as not complete.
    ``always`` is the answer to every vehicle that does not fail.
    """

    name: str
    source: RuleSource
    span: Span
    allowances: tuple[Allowance, ...]
    beyond: InspectionAnswer
    required: frozenset[str]
    unsupported_counts: bool
    always: InspectionAnswer | None


@dataclass(frozen=True, slots=True)
class Jurisdiction:
    """The rules of one jurisdiction; None and an empty tuple: it has no such rule.

    ``bulb`` is a lamp that stays dark with key on and engine off, ``lamp`` one that is
    commanded on, ``lamp_dark`` one that is commanded on and seen dark with the engine
    running, ``lamp_running`` one that is then seen lit or flashing.
    ``second_not_ready`` is what a second visit that is not ready leads to.
    """

    name: str
    title: str
    span: Span
    scope: Scope
    doubts: tuple[Doubt, ...]
    connector: Condition | None
    communication: Condition | None
    bulb: Condition | None
    lamp: Condition | None
    lamp_dark: Condition | None
    lamp_running: Condition | None
    codes: Condition | None
    vin: Condition | None
    permanent: PermanentRule | None
    retests: tuple[Retest, ...]
    second_not_ready: Condition | None
    readings: tuple[RuleReading, ...]
    note: str

    @property
    def reads_vehicle(self) -> bool:
        """Whether anything of a readout matters here."""
        readiness = any(r.allowances or r.required for r in self.readings)
        return readiness or self.lamp is not None or self.codes is not None
