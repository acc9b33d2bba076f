"""What rules say about a repair order, and the verdict that follows."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable


class Severity(StrEnum):
    """Whether a finding stands between a repair order and *proven*."""

    BLOCKING = "blocking"
    ADVISORY = "advisory"


class Verdict(StrEnum):
    """The answer about one repair order."""

    PROVEN = "proven"
    UNPROVEN = "unproven"
    CONTRADICTED = "contradicted"


@dataclass(frozen=True, slots=True)
class Problem:
    """What a rule's check yields: the core adds the rule's name and severity.

    ``event`` is the index of the event it points at, counted from 0 in the
    repair record; None where it is about the repair order as a whole.
    ``contradicts`` says that the evidence shows the fault still there.
    """

    message: str
    what_to_do: str
    event: int | None = None
    contradicts: bool = False


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that a rule found, with the event it points at and what to do."""

    rule: str
    severity: Severity
    message: str
    event: int | None
    what_to_do: str
    contradicts: bool = False

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


def verdict_of(findings: Iterable[Finding]) -> Verdict:
    """Return the verdict that a repair order's findings make."""
    blocking = [f for f in findings if f.severity is Severity.BLOCKING]
    if any(f.contradicts for f in blocking):
        return Verdict.CONTRADICTED
    return Verdict.UNPROVEN if blocking else Verdict.PROVEN
