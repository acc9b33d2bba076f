"""The verdict as the event that closes a repair order, and so is signed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from auditkit.order.judged_by import digests, rule_text
from auditkit.order.statement import statement

if TYPE_CHECKING:
    from auditkit.order.events import RepairOrder
    from auditkit.order.judgement import Judgement
    from auditkit.text.values import Json


def verdict_event(
    order: RepairOrder,
    judgement: Judgement,
    seqs: Sequence[int],
    person: str,
    reason: str | None,
) -> dict[str, Json]:
    """Return the verdict event that closes an order; its time is still to be set."""
    findings: list[Json] = [
        {**f.to_json(), "contradicts": f.contradicts, "subject": f.subject}
        for f in judgement.findings
    ]
    catalogue = judgement.catalogue
    rules: list[Json] = [rule_text(catalogue, run) for run in judgement.rules]
    event: dict[str, Json] = {
        "kind": "verdict",
        "by": person,
        "verdict": str(judgement.verdict),
        "faults": [
            {"fault": f.subject, "verdict": None if v is None else str(v)}
            for f, v in judgement.faults
        ],
        "answers": [found.to_json() for found in judgement.answers],
        "findings": findings,
        "rules": rules,
        "judged_by": dict(digests(catalogue)),
        "policy_sha256": judgement.policy.sha256,
        "judged": list(seqs),
        "statement": list(statement(order, judgement)),
    }
    if not judgement.is_enough and reason is not None:
        event["reason"] = reason
    return event
