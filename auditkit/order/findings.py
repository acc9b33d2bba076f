"""What rules say about a repair order, and the verdict that follows."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from auditkit.order.strength import Strength
    from auditkit.text.values import Json


class Severity(StrEnum):
    """Whether a finding stands between a repair order and *proven*."""

    BLOCKING = "blocking"
    ADVISORY = "advisory"


class Verdict(StrEnum):
    """The answer about one repair order, or about one of its faults."""

    PROVEN = "proven"
    VOUCHED = "vouched"
    UNPROVEN = "unproven"
    CONTRADICTED = "contradicted"


@dataclass(frozen=True, slots=True)
class Problem:
    """What a rule's check yields: the core adds the rule's name and severity.

    ``event`` is the index of the event it points at, counted from 0 in the
    repair record; None where it is about the repair order as a whole.
    ``contradicts`` says that the evidence shows the fault still there.
    ``subject`` is what the rule's question is asked of, empty for all of it;
    ``can_come_later`` says that a later readout may show what is missing.
    """

    message: str
    what_to_do: str
    event: int | None = None
    contradicts: bool = False
    subject: str = ""
    can_come_later: bool = False
    question: str = ""


@dataclass(frozen=True, slots=True)
class Lacking:
    """What a rule's check yields where its way of showing something is not complete.

    It is told only where no other rule shows it either, so that a way which this
    vehicle does not have is held against nobody. ``can_come_later`` says that a later
    readout may show it.
    """

    message: str
    what_to_do: str
    event: int | None = None
    subject: str = ""
    can_come_later: bool = False
    question: str = ""


@dataclass(frozen=True, slots=True)
class Shown:
    """What a rule's check yields where something is shown, and by which events.

    The core computes the strength: that of the weakest event cited, and not above
    ``at_most``. ``subject`` is what the rule's question is asked of, empty for all;
    ``question`` is for a rule that answers several.
    """

    sentence: str
    events: tuple[int, ...]
    subject: str = ""
    at_most: Strength | None = None
    question: str = ""


Said = Problem | Lacking | Shown
"""What a rule's check may yield."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that a rule found, with the event it points at and what to do.

    It ``is_newer`` than the steps that it is about: nobody asked for it then. It
    ``is_of_one_way`` where it says what one way of showing it lacks.
    """

    rule: str
    severity: Severity
    message: str
    event: int | None
    what_to_do: str
    contradicts: bool = False
    question: str = ""
    subject: str = ""
    can_come_later: bool = False
    is_newer: bool = False
    is_of_one_way: bool = False

    @property
    def pointer(self) -> str | None:
        """JSON pointer (RFC 6901) of the event within its repair record."""
        return None if self.event is None else f"/events/{self.event}"

    @property
    def order(self) -> tuple[int, int, str, str]:
        """Sort key: blocking first, then by event, rule and text."""
        blocking = self.severity is Severity.BLOCKING
        place = -1 if self.event is None else self.event
        return (0 if blocking else 1, place, self.rule, self.message)

    def to_json(self) -> dict[str, Json]:
        """Return what ``check`` prints of it, and the signed verdict with more."""
        return {
            "rule": self.rule,
            "severity": str(self.severity),
            "message": self.message,
            "event": self.event,
            "what_to_do": self.what_to_do,
            "question": self.question,
        }
