"""Judging a packet's order again, by this reader's rules; nothing signed counts.

The signed verdict and statement are compared, never believed. What an event says counts
only where this reader's schemas accept it: an event of a core kind that they refuse
closes every question, since it may be the one that speaks against the repair.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from auditkit.order.events import RepairOrder
from auditkit.order.findings import Finding, Severity, Verdict
from auditkit.order.policy import DEFAULT, Policy
from auditkit.order.questions import Answer, State
from auditkit.order.schema import validate_event
from auditkit.order.statement import answer_line, fault_line, verdict_text
from auditkit.order.verdicts import ORDER_OF_VERDICTS, fault_verdicts, order_verdict
from auditkit.proof.check_report import JudgedHere
from auditkit.reader.steps import Step, own_steps, steps_of

if TYPE_CHECKING:
    from auditkit.order.catalogue import Catalogue
    from auditkit.order.judgement import Judgement
    from auditkit.proof.packet import Packet
    from auditkit.text.values import Json


@dataclass(frozen=True, slots=True)
class _Unread:
    """An event that this reader cannot take into account, and why."""

    place: int
    seq: int
    why: str
    is_strange: bool  # a plugin's kind: named, and closes nothing


def judge_again(
    packet: Packet, catalogue: Catalogue, policy: Policy = DEFAULT
) -> tuple[Judgement, JudgedHere]:
    """Return what a packet's evidence says here, and how that compares with its shop's.

    The packet has to have verified: nothing of it is checked here.
    """
    entries = steps_of(packet)
    own = own_steps(entries)
    steps = [step for step in own if step.event.kind != "verdict"]
    unread = list(_unread(steps, catalogue))
    order = RepairOrder.fold(
        packet.repair_order,
        [step.event.data for step in steps],
        recorded=[step.payload.recorded_at for step in steps],
    )
    judgement = catalogue.judge(order, policy)
    if closing := [one for one in unread if not one.is_strange]:
        judgement = _closed(order, judgement, closing)
    signed = [step for step in own if step.event.kind == "verdict"]
    said = str(signed[-1].event.data.get("verdict")) if signed else None
    told = (*_other_shop(order, entries), *_left_out(unread))
    return judgement, _compared(judgement, said, told)


def _left_out(unread: Sequence[_Unread]) -> Iterator[str]:
    for one in unread:
        if one.is_strange:
            yield f"entry {one.seq} is left out: {one.why}"


def _other_shop(order: RepairOrder, entries: Sequence[Step]) -> Iterator[str]:
    """Yield that the record names another shop than the log is of."""
    named = order.opening.text("shop") if order.opening else ""
    for step in entries:
        if step.event.kind == "log_opened":
            own = step.event.text("shop")
            if named and own and named != own:
                yield f"the record names the shop {named!r}; the log is of {own!r}"


def _unread(steps: Sequence[Step], catalogue: Catalogue) -> Iterator[_Unread]:
    for place, step in enumerate(steps):
        kind = step.event.kind
        seq = step.payload.seq
        if kind not in catalogue.events.names:
            yield _Unread(
                place, seq, f"its kind {kind!r} is not read here", is_strange=True
            )
            continue
        hidden = {*step.hidden, *(path for path, _ in step.erased)}
        problems = [
            problem
            for problem in validate_event(dict(step.event.data), catalogue.events)
            if not _is_withheld(problem.pointer, problem.message, hidden)
        ]
        if problems:
            first = problems[0]
            why = f"{first.pointer or 'the event'}: {first.message}"
            yield _Unread(place, seq, why, is_strange=False)


def _is_withheld(pointer: str, message: str, hidden: set[str]) -> bool:
    """Return whether a member that is missing is one that the packet withholds."""
    parent = pointer.strip("/").replace("/", ".")
    return any(
        path.rpartition(".")[0] == parent
        and message == f'"{path.rpartition(".")[2]}" is missing'
        for path in hidden
    )


def _closed(
    order: RepairOrder, judgement: Judgement, unread: Sequence[_Unread]
) -> Judgement:
    """Return a judgement in which nothing is shown, since an event is not read."""
    told = tuple(f"entry {one.seq} is not read here: {one.why}" for one in unread)
    answers = tuple(
        found
        if found.state is State.AGAINST
        else Answer(
            found.question,
            found.subject,
            State.NOT_SHOWN,
            None,
            told,
            ("read it with the version of auditkit that wrote it",),
            tuple(one.place for one in unread),
        )
        for found in judgement.answers
    )
    findings = tuple(
        Finding(
            "event-not-read",
            Severity.BLOCKING,
            line,
            one.place,
            "read it with the version of auditkit that wrote it",
        )
        for line, one in zip(told, unread, strict=True)
    )
    return replace(
        judgement,
        answers=answers,
        faults=fault_verdicts(order, answers),
        verdict=order_verdict(order, answers),
        findings=(*findings, *judgement.findings),
    )


def _compared(
    judgement: Judgement, signed: str | None, told: Sequence[str]
) -> JudgedHere:
    here = judgement.verdict
    known = signed in set(Verdict)
    better = known and ORDER_OF_VERDICTS.index(Verdict(str(signed))) > (
        ORDER_OF_VERDICTS.index(here)
    )
    if not known:
        compared = "the shop signed no verdict that is known here"
    elif signed == here:
        compared = f"the shop signed {signed}: that agrees"
    else:
        compared = f"the shop signed {signed}; the evidence in this packet says {here}"
    lines = [f"judged here: {verdict_text(judgement)}", compared]
    lines += [fault_line(fault, verdict) for fault, verdict in judgement.faults]
    lines += [answer_line(found) for found in judgement.answers]
    lines += told
    lines += [
        f"what to do: {step}"
        for step in dict.fromkeys(
            step for found in judgement.answers for step in found.what_to_do
        )
    ]
    found: dict[str, Json] = dict(judgement.to_json())
    found["signed_verdict"] = signed
    return JudgedHere(str(here), signed, not better, tuple(lines), found)
