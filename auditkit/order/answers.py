"""From what the rules say to the answers: per question and subject.

Nothing is shown until a rule shows it. The strength of a sentence is that of the
weakest event that it cites; of several sentences the strongest counts. What contradicts
is *against*, whatever else is shown.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

from auditkit.order import faults
from auditkit.order.events import RepairOrder
from auditkit.order.findings import Finding, Severity, Shown
from auditkit.order.once import once
from auditkit.order.questions import ORDER, Answer, Question, State, part_subject
from auditkit.order.strength import Strength, strongest, weakest

_BY_ONE_WAY = frozenset({Question.TEST_PASSED, Question.TEST_RERAN})
"""Questions that one way of several shows."""
StrengthOf = Callable[[int], Strength]  # place of an event -> how strongly it shows


@dataclass(frozen=True, slots=True)
class Heard:
    """What the rules of one question said: sentences, and findings."""

    shown: Sequence[Shown]
    findings: Sequence[Finding]


@once
def subjects(order: RepairOrder, question: Question) -> tuple[str, ...]:
    """Return of what a question is asked in this order."""
    if question is Question.PART_AT_FAULT:
        return tuple(part_subject(part) for part in faults.causes(order))
    if question.of_faults:
        return tuple(
            fault.subject
            for fault in faults.addressed(order)
            if question is Question.FAULT_GONE or not fault.points
        )
    return (ORDER,)


def answers_of(
    order: RepairOrder,
    heard: Mapping[Question, Heard],
    strength_of: StrengthOf,
    not_asked: Iterable[Question] = (),
) -> tuple[Answer, ...]:
    """Return an answer to every question of which rules were heard.

    Of every subject that it is asked of.
    """
    skipped = frozenset(not_asked)
    return tuple(
        _unasked(found) if question in skipped else found
        for question in heard
        for subject in subjects(order, question)
        for found in (_answer(question, subject, heard[question], strength_of),)
    )


def _unasked(found: Answer) -> Answer:
    """Return the answer to what a policy does not ask: what speaks against it stays."""
    if found.state is State.AGAINST:
        return found
    return Answer(found.question, found.subject, State.NOT_ASKED, None, (), (), ())


def _answer(
    question: Question, subject: str, heard: Heard, strength_of: StrengthOf
) -> Answer:
    findings = [f for f in heard.findings if f.subject in {"", subject}]
    shown = [s for s in heard.shown if s.subject in {"", subject}]
    against = [f for f in findings if f.contradicts]
    blocking = [f for f in findings if f.severity is Severity.BLOCKING]
    if against or blocking or not shown:
        bad = against or blocking
        state = State.WAITING if _waits(question, bad) else State.NOT_SHOWN
        return Answer(
            question,
            subject,
            State.AGAINST if against else state,
            None,
            tuple(f.message for f in bad) or ("nothing in the record shows it",),
            tuple(dict.fromkeys(f.what_to_do for f in bad)),
            tuple(sorted({f.event for f in bad if f.event is not None})),
        )
    weighed = [(_strength(s, strength_of), s) for s in shown]
    strength = strongest(found for found, _ in weighed)
    best = [s for found, s in weighed if found.rank == strength.rank]
    return Answer(
        question,
        subject,
        State.SHOWN,
        strength,
        tuple(dict.fromkeys(s.sentence for s in best)),
        (),
        tuple(sorted({event for s in best for event in s.events})),
    )


def _waits(question: Question, bad: Sequence[Finding]) -> bool:
    """Return whether a later readout may show it: all of it, or one of several ways."""
    ways = [f for f in bad if f.is_of_one_way and question in _BY_ONE_WAY]
    owed = [f for f in bad if f not in ways]
    return (
        bool(bad)
        and question.can_come_later
        and all(f.can_come_later for f in owed)
        and (not ways or any(f.can_come_later for f in ways))
    )


def _strength(shown: Shown, strength_of: StrengthOf) -> Strength:
    cited = weakest(map(strength_of, shown.events))
    if shown.at_most is None:
        return cited
    if not shown.events:
        return shown.at_most
    return min(cited, shown.at_most, key=lambda one: one.rank)
