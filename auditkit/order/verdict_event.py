"""The verdict as the event that closes a repair order, and so is signed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from auditkit.errors import InputError
from auditkit.order.in_brief import brief_answer, brief_findings
from auditkit.order.judged_by import digests, rule_text
from auditkit.order.statement import statement
from auditkit.proof.entry import MAX_ENTRY
from auditkit.text.strict_json import canonical

if TYPE_CHECKING:
    from auditkit.order.events import RepairOrder
    from auditkit.order.judgement import Judgement
    from auditkit.text.values import Json


_ROOM = MAX_ENTRY - 4096  # what else an entry has: names, digests, its signature
ROOMS = (None, 100, 30, 10, 3, 1)
"""How many of each are told in a statement: the first with which it fits an entry."""


def verdict_event(
    order: RepairOrder,
    judgement: Judgement,
    seqs: Sequence[int],
    person: str,
    reason: str | None,
) -> dict[str, Json]:
    """Return the verdict event that closes an order; its time is still to be set.

    Where it would be too large for an entry, what is many in it is told in brief.
    Raises InputError where that is not enough.
    """
    size = 0
    for most in ROOMS:
        event = _written(order, judgement, seqs, person, most)
        if not judgement.is_enough and reason is not None:
            event["reason"] = reason
        size = len(canonical(event).encode())
        if size <= _ROOM:
            return event
    faults = len(judgement.faults)
    raise InputError(
        f"the verdict on {len(order.events)} events and {faults} faults takes {size} "
        f"bytes in brief, and an entry has room for {_ROOM} of them",
        where=order.id,
        what_to_do="leave this order open as it is logged, and record the further work "
        "in a repair order of its own that names this one",
    )


def _written(
    order: RepairOrder,
    judgement: Judgement,
    seqs: Sequence[int],
    person: str,
    most: int | None,
) -> dict[str, Json]:
    """Return the event with at most so many of what is many; None: with all of it."""
    findings: list[Json] = [
        {**f.to_json(), "contradicts": f.contradicts, "subject": f.subject}
        for f in brief_findings(judgement.findings, most)
    ]
    catalogue = judgement.catalogue
    rules: list[Json] = [rule_text(catalogue, run) for run in judgement.rules]
    return {
        "kind": "verdict",
        "by": person,
        "verdict": str(judgement.verdict),
        "faults": [
            {"fault": f.subject, "verdict": None if v is None else str(v)}
            for f, v in judgement.faults
        ],
        "answers": [brief_answer(a, most).to_json() for a in judgement.answers],
        "findings": findings,
        "rules": rules,
        "judged_by": dict(digests(catalogue)),
        "policy_sha256": judgement.policy.sha256,
        "judged": list(seqs),
        "statement": list(statement(order, judgement, most)),
    }
