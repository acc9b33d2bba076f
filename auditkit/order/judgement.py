"""What all rules together say about one repair order. Pure data."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from auditkit.order.faults import Fault
from auditkit.order.findings import Finding, Severity, Verdict
from auditkit.order.policy import Policy
from auditkit.order.questions import Answer, Question, State, is_waiting
from auditkit.text.values import Json

if TYPE_CHECKING:
    from auditkit.order.catalogue import Catalogue


@dataclass(frozen=True, slots=True)
class RuleRun:
    """A rule that ran, as it ran."""

    name: str
    version: int
    severity: Severity


@dataclass(frozen=True, slots=True)
class PartJudgement:
    """What the rules say of some of the questions: their findings and their answers."""

    findings: tuple[Finding, ...]
    answers: tuple[Answer, ...]


@dataclass(frozen=True, slots=True)
class Judgement:
    """What all rules together say about one repair order.

    It carries what it was judged by: whoever seals or states it goes by the same
    ``policy`` and ``catalogue``. ``elsewhere`` are the readouts that it knew other
    repair orders to hold. ``departures`` says in words where the policy asks
    less than the rules themselves. ``faults`` are each fault with its verdict, None for
    one that was not addressed; ``part_names`` the names of suspect parts by id.
    """

    order_id: str
    verdict: Verdict
    findings: tuple[Finding, ...]
    rules: tuple[RuleRun, ...]
    policy: Policy
    catalogue: Catalogue = field(repr=False, compare=False)
    elsewhere: frozenset[str] = frozenset()
    departures: tuple[str, ...] = ()
    answers: tuple[Answer, ...] = ()
    faults: tuple[tuple[Fault, Verdict | None], ...] = ()
    part_names: Mapping[str, str] = field(default_factory=dict)

    @property
    def blocking(self) -> tuple[Finding, ...]:
        """The findings that stand between the order and *proven*."""
        return tuple(f for f in self.findings if f.severity is Severity.BLOCKING)

    def weight(self, finding: Finding) -> str:
        """Return what a finding does to the verdict, in words.

        One to a question that the policy does not ask blocks nothing, unless it speaks
        against the repair.
        """
        is_blocking = finding.severity is Severity.BLOCKING
        is_asked = finding.question not in map(str, self.policy.not_asked)
        if is_blocking and not is_asked and not finding.contradicts:
            return "not asked, found"
        return str(finding.severity)

    @property
    def is_enough(self) -> bool:
        """Whether the order and each fault reach what the policy asks."""
        enough = {Verdict.PROVEN, self.policy.least}
        each = (verdict for _, verdict in self.faults if verdict is not None)
        return self.verdict in enough and all(v in enough for v in each)

    @property
    def is_waiting(self) -> bool:
        """Whether all that is missing can be shown by a later readout."""
        return is_waiting(answer.state for answer in self.answers)

    @property
    def rests_on_word(self) -> tuple[Answer, ...]:
        """The answers that are shown, and could be shown more strongly."""
        return tuple(
            answer
            for answer in self.answers
            if answer.state is State.SHOWN
            and answer.strength is not None
            and not Question(answer.question).is_full(answer.strength)
        )

    def to_json(self) -> dict[str, Json]:
        """Return the judgement as ``check --format json`` prints it."""
        return {
            "repair_order": self.order_id,
            "verdict": str(self.verdict),
            "waiting": self.is_waiting,
            "faults": [
                {
                    "fault": fault.subject,
                    "verdict": None if verdict is None else str(verdict),
                    "set_aside": fault.set_aside.reason if fault.set_aside else None,
                }
                for fault, verdict in self.faults
            ],
            "answers": [answer.to_json() for answer in self.answers],
            "findings": [found.to_json() for found in self.findings],
        }
