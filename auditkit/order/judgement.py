"""What all rules together say about one repair order. Pure data."""

from __future__ import annotations

from dataclasses import dataclass

from auditkit.order.findings import Finding, Severity, Verdict
from auditkit.text.values import Json


@dataclass(frozen=True, slots=True)
class RuleRun:
    """A rule that ran, as it ran."""

    name: str
    version: int
    severity: Severity


@dataclass(frozen=True, slots=True)
class Judgement:
    """What all rules together say about one repair order.

    ``departures`` says in words where the policy asks less than the rules themselves.
    """

    order_id: str
    verdict: Verdict
    findings: tuple[Finding, ...]
    rules: tuple[RuleRun, ...]
    policy_sha256: str
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
