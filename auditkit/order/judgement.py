"""What all rules together say about one repair order. Pure data."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from auditkit.order.findings import Finding, Severity, Verdict
from auditkit.order.policy import Policy
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
class Judgement:
    """What all rules together say about one repair order.

    It carries what it was judged by: whoever seals or states it goes by the same
    ``policy`` and ``catalogue``. ``departures`` says in words where the policy asks
    less than the rules themselves.
    """

    order_id: str
    verdict: Verdict
    findings: tuple[Finding, ...]
    rules: tuple[RuleRun, ...]
    policy: Policy
    catalogue: Catalogue = field(repr=False, compare=False)
    departures: tuple[str, ...] = ()

    @property
    def blocking(self) -> tuple[Finding, ...]:
        """The findings that stand between the order and *proven*."""
        return tuple(f for f in self.findings if f.severity is Severity.BLOCKING)

    def to_json(self) -> dict[str, Json]:
        """Return the judgement as ``check --format json`` prints it."""
        findings: list[Json] = [
            {
                "rule": f.rule,
                "severity": str(f.severity),
                "message": f.message,
                "event": f.event,
                "what_to_do": f.what_to_do,
            }
            for f in self.findings
        ]
        return {
            "repair_order": self.order_id,
            "verdict": str(self.verdict),
            "findings": findings,
        }
