"""The verdict in plain words: the answer, then why, then what to do next.

Written into the verdict entry when a repair order is closed, and so signed.
It never holds text that the default policy withholds.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

from auditkit.errors import InputError
from auditkit.obd.code_table import row_of
from auditkit.order.event_text import (
    computed_text,
    event_name,
    limit_text,
    self_test_text,
)
from auditkit.order.events import Event, RepairOrder
from auditkit.order.faults import Fault, other_work
from auditkit.order.findings import Verdict
from auditkit.order.questions import ORDER, Answer, Question, State, part_subject
from auditkit.order.self_test_evidence import readout_of
from auditkit.order.strength import Strength
from auditkit.text.display_text import plural, printable
from auditkit.text.values import Json, displayed

if TYPE_CHECKING:
    from auditkit.bench import TestKind
    from auditkit.order.judgement import Judgement

DEFERS = (
    "This record reminds and computes; the vehicle maker's procedure, local codes "
    "and licensed practice decide."
)
NO_RECORD_SHOWS = (
    "No record of a shop can show that the vehicle sent these bytes (it signs none), "
    "that the part on the bench was this vehicle's, that the new part is what healed "
    "it, or that no other order of this vehicle exists. Ask for the old part, ask for "
    "the log, or take a readout of your own."
)
"""Stands on every statement."""
JUDGED_BY = "Judged by the shop's own policy: "
"""The line that says where a policy asks less than the rules begins so."""


def statement(order: RepairOrder, judgement: Judgement) -> tuple[str, ...]:
    """Return the lines that state the verdict and what it rests on.

    First the verdict, fault by fault with what was set aside; then what the policy asks
    less, what rests on what, what was recorded late, other work; then what was found
    and done, and what is missing, with what to do.
    """
    lines = [f"Repair order {order.id} is {verdict_text(judgement)}."]
    lines += [fault_line(fault, verdict) for fault, verdict in judgement.faults]
    if judgement.departures:
        told = "; ".join(judgement.departures)
        lines.append(f"{JUDGED_BY}{told}.")
    lines += _rests_on(judgement)
    if late := late_text(judgement):
        lines.append(f"Recorded late: {late}.")
    if work := other_work(order):
        names = ", ".join(dict.fromkeys(e.text("part") for e in work))
        lines.append(f"Other work, not judged: {names}.")
    lines += _tried(order, judgement)
    kinds = judgement.catalogue.bench_tests
    lines += [_bench(event, kinds) for event in order.of("bench_test")]
    lines += [_repair(event) for event in order.of("repair")]
    lines += [_corrected(order, event) for event in order.of("amendment")]
    lines += _self_tests(order)
    lines += _shown_how(judgement)
    lines += _not_shown(judgement)
    for weight, rule, message, what_to_do in dict.fromkeys(
        (judgement.weight(f), f.rule, f.message, f.what_to_do)
        for f in judgement.findings
    ):
        lines.append(f"{weight}: {rule}: {message}")
        lines.append(f"  what to do: {what_to_do}")
    lines.append(NO_RECORD_SHOWS)
    lines.append(DEFERS)
    # A receipt holds one line for each.
    return tuple(printable(line.replace("\n", " ")) for line in lines)


def fault_line(fault: Fault, verdict: Verdict | None) -> str:
    """Return a fault in one line: its code, what it means, its verdict."""
    meaning = row_of(fault.code).meaning
    if fault.set_aside is not None:
        by = f", agreed by {fault.set_aside.agreed_by}" * bool(
            fault.set_aside.agreed_by
        )
        return f"{fault.subject} ({meaning}) set aside: {fault.set_aside.reason}{by}."
    if verdict is None:
        return f"{fault.subject} ({meaning}): named, and no part was worked on for it."
    code, _, module = fault.subject.partition("@")
    where = f"module {module}; " * bool(module)
    return f"Repair of {code} ({where}{meaning}): {verdict}."


_GROUPS = (
    ("the vehicle's own bytes, kept here", frozenset({Strength.VEHICLE})),
    ("measurements that only the shop saw", frozenset({Strength.MEASURED})),
    (
        "the shop's word",
        frozenset({Strength.PHOTOGRAPHED, Strength.TYPED, Strength.WORD}),
    ),
)


def _rests_on(judgement: Judgement) -> list[str]:
    """Return what each answer that is shown rests on, a line for each kind."""
    shown = [a for a in judgement.answers if a.state is State.SHOWN]
    several = len({a.subject for a in shown if Question(a.question).of_faults}) > 1
    lines: list[str] = []
    for name, strengths in _GROUPS:
        told = dict.fromkeys(
            _named(a, with_subject=several) for a in shown if a.strength in strengths
        )
        if told:
            lines.append(f"Rests on {name}: {', '.join(told)}.")
    return lines


def _named(found: Answer, *, with_subject: bool) -> str:
    """Return a question by name, with its subject and how weak its answer is."""
    of_part = found.question == Question.PART_AT_FAULT
    of = f" of {subject_text(found.subject)}" if of_part or with_subject else ""
    if found.subject == ORDER:
        of = ""
    weak = {Strength.PHOTOGRAPHED, Strength.TYPED}
    how = f" ({found.strength})" if found.strength in weak else ""
    if found.question == Question.HAZARDS_MET and found.state is State.SHOWN:
        how = " (a person's word by nature)"
    return f"{found.question}{of}{how}"


def subject_text(subject: str) -> str:
    """Return what a question is asked of, in words."""
    return subject.removeprefix(part_subject(""))


def late_text(judgement: Judgement) -> str:
    """Return what was recorded late; empty where nothing was."""
    return "; ".join(
        reason
        for found in judgement.answers
        if found.question == Question.ORDER_OF_TIME
        and found.state is State.SHOWN
        and found.strength is not Strength.LOGGED
        for reason in found.because
    )


def _tried(order: RepairOrder, judgement: Judgement) -> list[str]:
    """Return what was tried before and did not heal it, and what was found good."""
    lines: list[str] = []
    for fault, _ in judgement.faults:
        for attempt in fault.attempts[:-1]:
            done = ", ".join(
                f"{e.text('part')} {e.text('action')}"
                for e in map(order.events.__getitem__, attempt.repairs)
            )
            lines.append(f"Tried before for {fault.code}: {done}; it did not heal it.")
    if kept := tested_good(order, judgement):
        lines.append(f"Tested good and left in place: {', '.join(kept)}.")
    return lines


def tested_good(order: RepairOrder, judgement: Judgement) -> tuple[str, ...]:
    """Return the suspect parts that a bench test shows good and nobody worked on."""
    from auditkit.order.bench_event import result_of

    touched = {event.text("part") for event in order.of("repair")}
    kept: list[str] = []
    for part in dict.fromkeys(one.id for one in order.suspect_parts):
        outcomes: list[str] = []
        for test in order.of("bench_test"):
            if test.text("part") != part or test.text("of") in {"new", "known-good"}:
                continue
            try:
                found = result_of(test, judgement.catalogue.bench_tests)
            except InputError:
                continue  # a rule tells of it
            if found is not None:
                outcomes.append(found.outcome.value)
            elif test.object("finding").get("is_fault") is False:
                outcomes.append("good")
        if part not in touched and outcomes and set(outcomes) == {"good"}:
            kept.append(part)
    return tuple(kept)


def _shown_how(judgement: Judgement) -> list[str]:
    """Return by what the test is shown passed, and by what the vehicle is the same."""
    return [
        f"{found.question}: {reason}."
        for found in judgement.answers
        if found.question in {Question.TEST_PASSED, Question.SAME_VEHICLE}
        and found.state is State.SHOWN
        for reason in found.because[:1]
    ]


def _not_shown(judgement: Judgement) -> list[str]:
    """Return the questions that are open or answered against it, a line a state."""
    lines: list[str] = []
    for state, words in (
        (State.AGAINST, "The evidence speaks against"),
        (State.NOT_SHOWN, "Not shown"),
        (State.WAITING, "Not shown yet, a later readout can show it"),
        (State.NOT_ASKED, "Not asked"),
    ):
        told = dict.fromkeys(
            _named(found, with_subject=True)
            for found in judgement.answers
            if found.state is state
        )
        if told:
            lines.append(f"{words}: {', '.join(told)}.")
    return lines


def answer_line(found: Answer, *, is_logged: bool = True) -> str:
    """Return an answer in one line: question, subject, what is said, how strongly.

    ``is_logged`` is false for a record that no log holds whole: nothing of it is called
    logged, and of a picture it is not known who else names it.
    """
    state = {
        State.SHOWN: f"shown ({found.strength})",
        State.NOT_SHOWN: "not shown",
        State.WAITING: "not shown yet, a later readout can show it",
        State.AGAINST: "AGAINST",
        State.NOT_ASKED: "not asked",
    }[found.state]
    if found.strength is Strength.LOGGED and not is_logged:
        state = "shown (as if each step were recorded on time)"
    if found.strength is Strength.PHOTOGRAPHED and not is_logged:
        state = "shown (photographed, if no other repair order names the picture)"
    why = f": {'; '.join(found.because)}" if found.because else ""
    of = "" if found.subject == ORDER else f" of {subject_text(found.subject)}"
    return f"{found.question}{of}: {state}{why}"


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
    rules: list[Json] = [
        {"name": r.name, "version": r.version, "severity": str(r.severity)}
        for r in judgement.rules
    ]
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
        "policy_sha256": judgement.policy.sha256,
        "judged": list(seqs),
        "statement": list(statement(order, judgement)),
    }
    if not judgement.is_enough and reason is not None:
        event["reason"] = reason
    return event


def _bench(event: Event, kinds: Mapping[str, TestKind]) -> str:
    if event.text("method"):
        return (
            f"Bench test of {event.text('part')} ({event.text('method')}) by "
            f"{event.by}: {computed_text(event, kinds)}; {limit_text(event)}."
        )
    result = displayed(dict(event.object("result")))
    shown = str(result) if result else "no measured value"
    return (
        f"Bench test of {event.text('part')} ({event.text('test')}) by {event.by}: "
        f"{shown}; {limit_text(event)}."
    )


def verdict_text(judgement: Judgement) -> str:
    """Return the verdict in words, and for each but *contradicted* why it is so."""
    by = " by the shop's own policy" if judgement.departures else ""
    if judgement.verdict is Verdict.PROVEN:
        return f"proven{by}: each question by the best evidence that it asks for"
    if judgement.verdict is Verdict.VOUCHED:
        weak = {str(found.question) for found in judgement.rests_on_word}
        names = ", ".join(str(q) for q in Question if str(q) in weak)
        word = f"it rests on the shop's word for {names}" if names else "less was asked"
        return f"vouched{by}: {word}"
    if judgement.verdict is Verdict.CONTRADICTED:
        return f"contradicted: {_against(judgement.answers)}"
    return f"unproven{_why_unproven(judgement)}"


_STILL_THERE = frozenset(
    {Question.FAULT_GONE, Question.TEST_RERAN, Question.TEST_PASSED}
)


def _against(answers: Iterable[Answer]) -> str:
    """Return what the evidence speaks against, each thing once."""
    said = (_against_one(a) for a in answers if a.state is State.AGAINST)
    return "; ".join(dict.fromkeys(said))


def _against_one(found: Answer) -> str:
    if found.question in _STILL_THERE:
        return "the evidence says the fault is still there"
    if found.question == Question.PART_AT_FAULT:
        part = subject_text(found.subject)
        return f"{part} was worked on although its bench test shows it good"
    return f"the evidence speaks against {_named(found, with_subject=True)}"


def _why_unproven(judgement: Judgement) -> str:
    if not any(verdict is not None for _, verdict in judgement.faults):
        if any(fault.set_aside for fault, _ in judgement.faults):
            return ": no fault was addressed"
        return ": no part was worked on for any fault"
    if judgement.is_waiting:
        return ", waiting: a later readout can show what is missing"
    if open_ := dict.fromkeys(
        str(found.question)
        for found in judgement.answers
        if found.state in {State.NOT_SHOWN, State.WAITING}
    ):
        return f": not shown: {', '.join(open_)}"
    many = plural(len(judgement.blocking), "finding blocks", "findings block")
    return f": {many}"


def _repair(event: Event) -> str:
    return f"{event.text('part')} was {event.text('action')} by {event.by}."


def _corrected(order: RepairOrder, amendment: Event) -> str:
    place = amendment.data.get("corrects")
    which = "an event that is not there"
    if isinstance(place, int) and 0 <= place < amendment.index:
        which = event_name(order.events[place])
    return (
        f"Corrected after it was recorded: {which}, by {amendment.by}, because: "
        f"{amendment.text('why')}."
    )


def _self_tests(order: RepairOrder) -> list[str]:
    start = order.proof_starts
    if start is None:
        return []
    readouts = order.after(start, "readout")
    if not readouts:
        return []
    tests = readout_of(readouts[-1]).self_tests
    return [f"After the repair the vehicle's own {self_test_text(t)}." for t in tests]
