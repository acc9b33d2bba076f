"""Answers in words for people: what was asked, of what, what is said, how strongly.

What speaks against the repair comes first, then what is missing, with what to do, then
what is shown. Pure.
"""

from __future__ import annotations

import re
from collections.abc import Container, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from auditkit.obd.responders import module_in_words
from auditkit.order.questions import ORDER, Answer, Question, State, part_subject
from auditkit.order.strength import Strength
from auditkit.text.display_text import first_large

TO_DO = "  what to do: "
"""What a line begins with that says what to do about the line before it."""


OPEN = frozenset({State.AGAINST, State.NOT_SHOWN, State.WAITING})
"""What an answer says that stands between an order and its proof."""
_STATES = {
    State.SHOWN: "shown",
    State.NOT_SHOWN: "not shown",
    State.WAITING: "waiting, a later readout can show it",
    State.AGAINST: "the evidence speaks against it",
    State.NOT_ASKED: "not asked",
}
_GROUPS = (
    ("What speaks against the repair", (State.AGAINST,)),
    ("What is missing", (State.NOT_SHOWN, State.WAITING)),
    ("What was not asked", (State.NOT_ASKED,)),
    ("What is shown", (State.SHOWN,)),
)

_OPEN_LINE = re.compile(
    f"({'|'.join(first_large(re.escape(q.phrase)) for q in Question)})"
    r"([,;] .*)?( \(.*\))?(; .*)?: "
    f"({'|'.join(said for state, said in _STATES.items() if state in OPEN)})"
)


@dataclass(frozen=True, slots=True)
class AnswersTold:
    """Answers under one heading, a line each; what to do stands under its line."""

    heading: str
    lines: tuple[str, ...]


def question_in_words(question: str) -> str:
    """Return a question as a short phrase; what is none of them as it is."""
    try:
        return Question(question).phrase
    except ValueError:
        return question


def strength_in_words(strength: str, question: str = "") -> str:
    """Return how strong an answer is, in words; what is no strength as it is.

    The order of the steps is no display's: what was written down later is a word.
    """
    if (question, strength) == (Question.ORDER_OF_TIME, Strength.TYPED):
        return "on the shop's word, written down later"
    try:
        return Strength(strength).in_words
    except ValueError:
        return strength


def state_in_words(state: str) -> str:
    """Return what an answer says, in words; what is no answer as it is."""
    try:
        return _STATES[State(state)]
    except ValueError:
        return state


def subject_in_words(subject: str, part_names: Mapping[str, str]) -> str:
    """Return what a question is asked of, as people say it.

    ``part_names`` are the names of parts by id. It is empty for the order as a whole.
    """
    if subject == ORDER:
        return ""
    start = part_subject("")
    if subject.startswith(start):
        part = subject.removeprefix(start)
        return part_names.get(part, part)
    code, _, module = subject.partition("@")
    return f"{code}, {module_in_words(module)}" if module else code


def asked(found: Answer, part_names: Mapping[str, str]) -> str:
    """Return what was asked of what, in words."""
    of = subject_in_words(found.subject, part_names)
    return _of(question_in_words(found.question), of)


def _of(what: str, subject: str) -> str:
    return f"{what} ({subject})" if subject else what


def answer_lines(
    answers: Iterable[Answer],
    part_names: Mapping[str, str],
    *,
    told_apart: Container[str] = (),
    is_logged: bool = True,
) -> tuple[str, ...]:
    """Return a line an answer: question, subject, what is said, how strongly, and why.

    A reason is told once: where all are those of an answer before, that is said. Those
    of an open answer that are ``told_apart`` are left to be told there.
    ``is_logged`` is false for a record that no log holds whole: nothing of it is called
    logged, and of a picture it is not known who else names it.
    """
    lines: list[str] = []
    told: set[str] = set()
    for found in answers:
        apart = told_apart if found.state in OPEN else ()
        because = [reason for reason in found.because if reason not in apart]
        new = [reason for reason in because if reason not in told]
        told.update(new)
        said = new or (["for the same reason"] if because else [])
        one = replace(found, because=tuple(said))
        lines.append(_line((one,), part_names, is_logged=is_logged))
    return tuple(lines)


def _line(
    alike: tuple[Answer, ...], part_names: Mapping[str, str], *, is_logged: bool
) -> str:
    """Return answers in one line that differ in what was asked alone."""
    found = alike[0]
    by: dict[str, list[str]] = {}
    for one in alike:
        of = subject_in_words(one.subject, part_names)
        by.setdefault(of, []).append(question_in_words(one.question))
    names = "; ".join(_of(", ".join(phrases), of) for of, phrases in by.items())
    return f"{first_large(names)}: {answer_said(found, is_logged=is_logged)}"


def answer_said(found: Answer, *, is_logged: bool = True) -> str:
    """Return what an answer says, how strongly, and why, without what was asked.

    ``is_logged`` as for ``answer_lines``.
    """
    said = _STATES[found.state]
    if found.strength is Strength.LOGGED and not is_logged:
        said += ", as if each step were recorded on time"
    elif found.strength is Strength.PHOTOGRAPHED and not is_logged:
        said += ", from a photograph, if no other repair order names the picture"
    elif found.strength is not None:
        said += f", {strength_in_words(found.strength, found.question)}"
    return f"{said}: {'; '.join(found.because)}" if found.because else said


def open_lines(
    answers: Iterable[Answer], part_names: Mapping[str, str]
) -> tuple[str, ...]:
    """Return what speaks against the repair, and what is missing, a line each.

    Under a line stands what to do, each thing to do once.
    """
    open_ = (found for found in answers if found.state in OPEN)
    told = grouped(open_, part_names)
    return tuple(line for group in told for line in group.lines)


def is_open_line(line: str) -> bool:
    """Return whether a line is one of ``open_lines``, and not of what to do."""
    return _OPEN_LINE.match(line) is not None


_CUSTOMER = (
    (State.AGAINST, "ask the shop what it will do about what speaks against it"),
    (
        State.WAITING,
        "drive as usual and come back: a second readout can show what is waiting",
    ),
    (State.NOT_SHOWN, "ask the shop to show what is not shown, or why it cannot"),
)


def to_the_customer(statement: Iterable[str]) -> tuple[str, ...]:
    """Return what a customer can do about what a statement leaves open.

    What it says to do itself is said to the shop.
    """
    lines = [line for line in statement if is_open_line(line)]
    return tuple(
        what_to_do
        for state, what_to_do in _CUSTOMER
        if any(_STATES[state] in line for line in lines)
    )


def customer_line(statement: Iterable[str]) -> str:
    """Return to whom a statement says what to do, and what a customer can; else ''."""
    told = "; ".join(to_the_customer(statement))
    said = "What it says to do, it says to the shop. What a customer can do: "
    return f"{said}{told}." if told else ""


def grouped(
    answers: Iterable[Answer], part_names: Mapping[str, str]
) -> tuple[AnswersTold, ...]:
    """Return answers under headings, first what speaks against the repair."""
    given = tuple(answers)
    to_do: set[str] = set()
    made = (
        AnswersTold(
            heading,
            tuple(_lines([a for a in given if a.state in states], part_names, to_do)),
        )
        for heading, states in _GROUPS
    )
    return tuple(group for group in made if group.lines)


def _lines(
    answers: Iterable[Answer], part_names: Mapping[str, str], to_do: set[str]
) -> Iterator[str]:
    """Yield a line for all answers that say the same, and what to do about it.

    ``to_do`` is what was said already, and grows.
    """
    alike: dict[object, list[Answer]] = {}
    for found in answers:
        said = (found.state, found.strength, found.because, found.what_to_do)
        alike.setdefault(said, []).append(found)
    for those in alike.values():
        yield _line(tuple(those), part_names, is_logged=True)
        for step in those[0].what_to_do:
            if step not in to_do:
                yield f"{TO_DO}{step}"
            to_do.add(step)
