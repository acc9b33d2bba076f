"""An order so far in lines of text: the argument first, then the next step. Pure."""

from __future__ import annotations

import shlex
from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

from auditkit.bay.so_far import Asked, FaultSoFar, SoFar
from auditkit.obd.code_table import row_of
from auditkit.obd.responders import module_in_words
from auditkit.order.answer_text import (
    TO_DO,
    answer_said,
    question_in_words,
    subject_in_words,
)
from auditkit.order.questions import Question, State
from auditkit.order.statement import fault_line, verdict_text
from auditkit.text.display_text import first_large, plural

if TYPE_CHECKING:
    from auditkit.bay.cautions_due import Due
    from auditkit.bay.due_step import Step
    from auditkit.order.questions import Answer
    from auditkit.text.values import Json


def state_text(found: SoFar, closed: Mapping[str, Json] | None) -> str:
    """Return in a line where an order stands; ``closed`` is its verdict, if it has one.

    A closed order is told by what its evidence says now, with what was signed.
    """
    judgement = found.judgement
    if closed is not None:
        waits = "; it waits for a later readout" if judgement.is_waiting else ""
        return f"closed as {closed.get('verdict')}{waits}"
    if judgement.is_enough or any(a.state is State.AGAINST for a in judgement.answers):
        return f"open; so far {verdict_text(judgement)}"
    asked = [one for fault in found.faults for one in fault.asked] + [*found.asked]
    stands = [one.stands for one in asked]
    shown, missing = stands.count("shown"), stands.count("not-shown")
    told = f"open; {shown} of {plural(len(stands), 'question', 'questions')} shown"
    if missing:
        told += f", {missing} missing now"
    later = stands.count("later")
    return f"{told}, {later} later" if later else told


def argument_lines(found: SoFar) -> list[str]:
    """Return each fault with its questions and suspects, then the order's questions."""
    lines: list[str] = []
    for one in found.faults:
        lines += _fault(found, one)
    lines.append("For the whole order:")
    lines += [f"    {line}" for one in found.asked for line in _asked(found, one)]
    return lines


def _fault(found: SoFar, one: FaultSoFar) -> Iterator[str]:
    fault = one.fault
    code, _, module = fault.subject.partition("@")
    if fault.set_aside is not None:
        yield fault_line(fault, None)
        return
    where = f"{module_in_words(module)}; " if module else ""
    yield f"{code} ({where}{row_of(code).meaning}):"
    if not one.is_named:
        yield "    reported, and no diagnosis speaks of it"
    for asked in one.asked:
        yield from (f"    {line}" for line in _asked(found, asked))
    for number, suspect in enumerate(one.suspects, 1):
        name = suspect.part.name or suspect.part.id
        yield f"    Suspect {number}: {name} ({suspect.part.id}): {suspect.state}"


def _asked(found: SoFar, asked: Asked) -> Iterator[str]:
    yield asked_text(found, asked)
    answer = asked.answer
    if asked.stands == "not-shown" and answer.what_to_do:
        yield f"{TO_DO}{answer.what_to_do[0]}"


def asked_text(found: SoFar, asked: Asked) -> str:
    """Return how a question stands, in a line: what is asked, what is said, and why."""
    answer = asked.answer
    name = question_in_words(answer.question)
    if answer.question == Question.PART_AT_FAULT:
        of = subject_in_words(answer.subject, found.judgement.part_names)
        name = f"{name} ({of})" if of else name
    if asked.later:
        said = f"later, {asked.later}"
    elif asked.stands == "later":
        said = f"later: {'; '.join(answer.because)}"
    elif _lacks_nothing_to_heed(found, answer):
        said = f"none was due: {'; '.join(answer.because)}"
    else:
        said = answer_said(answer)
    return f"{first_large(name)}: {said}"


def _lacks_nothing_to_heed(found: SoFar, answer: Answer) -> bool:
    """Return whether no caution was due and none written: nobody's word is needed."""
    is_asked = answer.question == Question.HAZARDS_MET and answer.state is State.SHOWN
    return is_asked and not found.order.of("caution")


def handed_over(found: SoFar) -> str:
    """Return who goes on and what waits, until somebody works on it; else nothing.

    A readout, a picture or a correction is no work.
    """
    for event in reversed(found.order.events):
        if event.kind == "handover":
            at, done = event.text("at")[11:16], event.text("done")
            is_done = f" Done: {done}." if done else ""
            return (
                f"{event.by} handed over to {event.text('to')} at {at}.{is_done} "
                f"Waits: {event.text('waits')}."
            )
        if event.kind in _TAKES_ON:
            return ""
    return ""


_TAKES_ON = frozenset(
    {"diagnosis", "caution", "bench_test", "repair", "code_clear", "road_test"}
)


def step_lines(step: Step, order_id: str) -> list[str]:
    """Return the next step: what to do, the command, what else it calls for."""
    command = step.command(order_id)
    lines = [f"Next: {step.sentence}", f"    {shlex.join(command)}"]
    if "--raw" in command:
        by_hand = shlex.join(command[: command.index("--raw")])
        lines.append(f"    with a screen alone, type what it shows: {by_hand}")
    if step.then is not None:
        lines.append(f"    then: {step.then.sentence}")
    for setup, cautions in _by_setup(step.also).items():
        lines.append(f"    if it is tested {setup}, also before it: {cautions}")
    return lines


def hand_out_lines(order_id: str) -> list[str]:
    """Return what a closed order leaves to do: what the customer is given."""
    packet = f"{order_id}.packet.json"
    return [
        "Hand to the customer:",
        f"    {shlex.join(('auditkit', 'packet', order_id, '--out', packet))}",
        "    "
        + shlex.join(
            ("auditkit", "receipt", packet, "--out", f"{order_id}.receipt.pdf")
        ),
    ]


def _by_setup(also: tuple[Due, ...]) -> dict[str, str]:
    """Return way of testing -> the hazards of the cautions that it alone calls for."""
    found: dict[str, list[str]] = {}
    for due in also:
        for setup in due.setups:
            found.setdefault(setup, []).append(due.caution.hazard)
    return {setup: "; ".join(names) for setup, names in found.items()}


def changed_lines(before: SoFar, after: SoFar) -> list[str]:
    """Return each question that a step changed, as it stands now; empty for none."""
    known = set(_all(before))
    return [line for line in _all(after) if line not in known]


def _all(found: SoFar) -> Iterator[str]:
    for one in found.faults:
        for asked in one.asked:
            yield f"{one.fault.code}: {asked_text(found, asked)}"
    yield from (asked_text(found, asked) for asked in found.asked)


def to_json(found: SoFar, step: Step, order_id: str) -> dict[str, Json]:
    """Return an order so far and its next step, as ``status --format json`` has it."""
    return {
        "faults": [
            {
                "fault": one.fault.subject,
                "verdict": None if one.verdict is None else str(one.verdict),
                "set_aside": one.fault.set_aside.reason
                if one.fault.set_aside
                else None,
                "named": one.is_named,
                "questions": [_asked_json(asked) for asked in one.asked],
                "suspects": [
                    {"part": s.part.id, "name": s.part.name, "state": str(s.state)}
                    for s in one.suspects
                ],
            }
            for one in found.faults
        ],
        "questions": [_asked_json(asked) for asked in found.asked],
        "next_step": step_json(step, order_id),
    }


def step_json(step: Step, order_id: str) -> dict[str, Json]:
    """Return a step as JSON."""
    return {
        "kind": step.kind,
        "subject": step.subject,
        "sentence": step.sentence,
        "command": list(step.command(order_id)),
        "then": None if step.then is None else step_json(step.then, order_id),
    }


def _asked_json(asked: Asked) -> dict[str, Json]:
    return {
        **asked.answer.to_json(),
        "stands": asked.stands,
        "later": asked.later or None,
    }
