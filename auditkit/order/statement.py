"""The verdict in plain words: the answer, then why, then what to do next.

Written into the verdict entry when a repair order is closed, and so signed.
It never holds text that the default policy withholds.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from auditkit.errors import InputError
from auditkit.obd.code_table import row_of
from auditkit.obd.responders import module_in_words
from auditkit.order.answer_text import (
    OPEN,
    TO_DO,
    asked,
    open_lines,
    question_in_words,
    subject_in_words,
)
from auditkit.order.choice_words import in_words
from auditkit.order.event_text import (
    computed_text,
    event_name,
    limit_text,
    method_in_words,
    self_test_text,
)
from auditkit.order.events import Event, RepairOrder
from auditkit.order.faults import Fault, other_work
from auditkit.order.findings import Verdict
from auditkit.order.in_brief import (
    brief_answer,
    brief_findings,
    brief_lines,
    brief_text,
)
from auditkit.order.on_behalf import on_behalf_lines
from auditkit.order.questions import Answer, Question, State
from auditkit.order.self_test_evidence import readout_of
from auditkit.order.strength import Strength
from auditkit.text.display_text import first_large, plural, printable
from auditkit.text.values import displayed

if TYPE_CHECKING:
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
WEIGHTS = {
    "blocking": "Missing: ",
    "advisory": "Advice: ",
    "not asked, found": "Found, though not asked: ",
}
"""What a finding does to the verdict -> how the line that tells it begins."""
SHOWN_BY: Mapping[str, str] = {
    question: f"{first_large(question.phrase)}: "
    for question in (Question.TEST_PASSED, Question.SAME_VEHICLE)
}
"""Question -> how the line begins that says by what it is shown."""
_SELF_TEST = re.compile(r"self-test [0-9A-F]{2}/[0-9A-F]{2}")


def statement(
    order: RepairOrder, judgement: Judgement, most: int | None = None
) -> tuple[str, ...]:
    """Return the lines that state the verdict and what it rests on.

    First the verdict, fault by fault with what was set aside; then what the policy asks
    less, what speaks against the repair and what is missing, with what to do; then what
    rests on what, what was recorded late, other work, and what was found and done. With
    ``most`` at most so many of each are told, and the rest is counted.
    """
    lines = _verdicts(order.id, judgement)
    if judgement.departures:
        told = "; ".join(judgement.departures)
        lines.append(f"{JUDGED_BY}{told}.")
    given = [brief_answer(found, most) for found in judgement.answers]
    lines += open_lines(given, judgement.part_names)
    lines += _own_findings(judgement, most)
    lines += _rests_on(judgement)
    lines += brief_lines(_late(judgement), most, "lines")
    lines += brief_lines(list(on_behalf_lines(order)), most, "lines")
    if work := other_work(order):
        names = ", ".join(dict.fromkeys(_part(e, judgement) for e in work))
        said = f"Other work, not judged: {names}."
        lines.append(said if most is None else brief_text(said))
    for what, many in (
        ("attempts", _tried(order, judgement)),
        ("bench tests", [_bench(e, judgement) for e in order.of("bench_test")]),
        ("repairs", [_repair(e, judgement) for e in order.of("repair")]),
        ("corrections", [_corrected(order, e) for e in order.of("amendment")]),
    ):
        lines += brief_lines(many, most, what)
    tests = _self_tests(order)
    how = _shown_how(judgement, " ".join(tests))
    lines += brief_lines([*tests, *how], most, "results")
    lines.append(NO_RECORD_SHOWS)
    lines.append(DEFERS)
    return _printed(lines)


def answers_stated(order_id: str, judgement: Judgement) -> tuple[str, ...]:
    """Return the lines of a statement that say no more than the answers do.

    Whoever has told the answers, with their reasons, needs none of them.
    """
    return _printed(
        [
            *_verdicts(order_id, judgement),
            *open_lines(judgement.answers, judgement.part_names),
            *_rests_on(judgement),
            *_late(judgement),
            *_shown_how(judgement, ""),
        ]
    )


def _printed(lines: Iterable[str]) -> tuple[str, ...]:
    """Return lines as a receipt holds them, one for each."""
    return tuple(printable(line.replace("\n", " ")) for line in lines)


def _verdicts(order_id: str, judgement: Judgement) -> list[str]:
    return [
        f"Repair order {order_id} is {verdict_text(judgement)}.",
        *(fault_line(fault, verdict) for fault, verdict in judgement.faults),
    ]


def _late(judgement: Judgement) -> list[str]:
    late = late_text(judgement)
    return [f"Recorded late: {late}."] if late else []


def fault_line(fault: Fault, verdict: Verdict | None) -> str:
    """Return a fault in one line: its code, what it means, its verdict."""
    meaning = row_of(fault.code).meaning
    named = subject_in_words(fault.subject, {})
    if fault.set_aside is not None:
        by = f", agreed by {fault.set_aside.agreed_by}" * bool(
            fault.set_aside.agreed_by
        )
        why = in_words("reason", fault.set_aside.reason)
        return f"{named} ({meaning}) set aside: {why}{by}."
    if verdict is None:
        return f"{named} ({meaning}): named, and no part was worked on for it."
    code, _, module = fault.subject.partition("@")
    where = f"{module_in_words(module)}; " if module else ""
    return f"Repair of {code} ({where}{meaning}): {verdict}."


_GROUPS = (
    ("the vehicle's own data, kept here", frozenset({Strength.VEHICLE})),
    ("measurements that only the shop saw", frozenset({Strength.MEASURED})),
    (
        "the shop's word",
        frozenset(
            {
                Strength.PHOTOGRAPHED,
                Strength.TYPED,
                Strength.WORD,
                Strength.SECOND_HAND,
            }
        ),
    ),
)


def _rests_on(judgement: Judgement) -> list[str]:
    """Return what each answer that is shown rests on, a line for each kind."""
    shown = [a for a in judgement.answers if a.state is State.SHOWN]
    several = len({a.subject for a in shown if Question(a.question).of_faults}) > 1
    lines: list[str] = []
    for name, strengths in _GROUPS:
        told = dict.fromkeys(
            _named(a, judgement.part_names, with_subject=several)
            for a in shown
            if a.strength in strengths
        )
        if told:
            lines.append(f"Rests on {name}: {'; '.join(told)}.")
    return lines


def _named(found: Answer, names: Mapping[str, str], *, with_subject: bool) -> str:
    """Return a question in words, with its subject and how weak its answer is."""
    of_part = found.question == Question.PART_AT_FAULT
    said = question_in_words(found.question)
    if of_part or with_subject:
        said = asked(found, names)
    weak = {Strength.PHOTOGRAPHED, Strength.TYPED}
    if found.strength in weak and found.question == Question.ORDER_OF_TIME:
        said += ", written down later"
    elif found.strength in weak:
        said += f", {found.strength.in_words}"
    if found.question == Question.HAZARDS_MET and found.state is State.SHOWN:
        second = found.strength is Strength.SECOND_HAND
        nature = "of another" if second else "by nature"
        said += f", a person's word {nature}"
    return said


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
                f"{_part(e, judgement)} {e.text('action')}"
                for e in map(order.events.__getitem__, attempt.repairs)
            )
            lines.append(f"Tried before for {fault.code}: {done}; it did not heal it.")
    if kept := tested_good(order, judgement):
        kept = tuple(judgement.part_names.get(part, part) for part in kept)
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
                outcomes.append("" if found.unchecked else found.outcome.value)
            elif test.object("finding").get("is_fault") is False:
                outcomes.append("good")
        if part not in touched and outcomes and set(outcomes) == {"good"}:
            kept.append(part)
    return tuple(kept)


def _shown_how(judgement: Judgement, told: str) -> list[str]:
    """Return by what the test is shown passed, and by what the vehicle is the same.

    ``told`` is what the statement says already: a self-test in it is not told again.
    """
    return [
        f"{SHOWN_BY[found.question]}{reason}."
        for found in judgement.answers
        if found.question in SHOWN_BY and found.state is State.SHOWN
        for reason in found.because[:1]
        if not any(test in told for test in _SELF_TEST.findall(reason))
    ]


def _own_findings(judgement: Judgement, most: int | None) -> list[str]:
    """Return what rules found beside the answers that are open, with what to do."""
    found = brief_findings(judgement.findings, most)
    told = {why for a in judgement.answers if a.state in OPEN for why in a.because}
    lines: list[str] = []
    for weight, message, what_to_do in dict.fromkeys(
        (judgement.weight(f), f.message, f.what_to_do) for f in found
    ):
        if message not in told:
            lines.append(f"{WEIGHTS[weight]}{message}")
            lines.append(f"{TO_DO}{what_to_do}")
    return lines


def _part(event: Event, judgement: Judgement) -> str:
    """Return the name of the part that an event is of; its id where it has none."""
    return judgement.part_names.get(event.text("part"), event.text("part"))


def _bench(event: Event, judgement: Judgement) -> str:
    part, kinds = _part(event, judgement), judgement.catalogue.bench_tests
    if event.text("method"):
        return (
            f"Bench test of {part} ({method_in_words(kinds, event.text('method'))}) "
            f"by {event.by}: {computed_text(event, kinds)}; {limit_text(event)}."
        )
    result = displayed(dict(event.object("result")))
    shown = str(result) if result else "no measured value"
    return (
        f"Bench test of {part} ({event.text('test')}) by {event.by}: "
        f"{shown}; {limit_text(event)}."
    )


def verdict_text(judgement: Judgement) -> str:
    """Return the verdict in words, and for each but *contradicted* why it is so."""
    by = " by the shop's own policy" if judgement.departures else ""
    if judgement.verdict is Verdict.PROVEN:
        return f"proven{by}: each question by the best evidence that it asks for"
    if judgement.verdict is Verdict.VOUCHED:
        weak = {str(found.question) for found in judgement.rests_on_word}
        names = ", ".join(q.phrase for q in Question if str(q) in weak)
        word = (
            f"it rests on the shop's word for: {names}" if names else "less was asked"
        )
        return f"vouched{by}: {word}"
    if judgement.verdict is Verdict.CONTRADICTED:
        return f"contradicted: {_against(judgement)}"
    return f"unproven{_why_unproven(judgement)}"


_STILL_THERE = frozenset(
    {Question.FAULT_GONE, Question.TEST_RERAN, Question.TEST_PASSED}
)


def _against(judgement: Judgement) -> str:
    """Return what the evidence speaks against, each thing once."""
    said = (
        _against_one(found, judgement.part_names)
        for found in judgement.answers
        if found.state is State.AGAINST
    )
    return "; ".join(dict.fromkeys(said))


def _against_one(found: Answer, names: Mapping[str, str]) -> str:
    if found.question in _STILL_THERE:
        return "the evidence says the fault is still there"
    if found.question == Question.PART_AT_FAULT:
        part = subject_in_words(found.subject, names)
        return f"{part} was worked on although its bench test shows it good"
    return f"the evidence speaks against: {asked(found, names)}"


def _why_unproven(judgement: Judgement) -> str:
    if not any(verdict is not None for _, verdict in judgement.faults):
        if any(fault.set_aside for fault, _ in judgement.faults):
            return ": no fault was addressed"
        return ": no part was worked on for any fault"
    if judgement.is_waiting:
        return ", waiting: a later readout can show what is missing"
    if open_ := dict.fromkeys(
        question_in_words(found.question)
        for found in judgement.answers
        if found.state in {State.NOT_SHOWN, State.WAITING}
    ):
        return f": not shown: {', '.join(open_)}"
    many = plural(len(judgement.blocking), "finding blocks", "findings block")
    return f": {many}"


def _repair(event: Event, judgement: Judgement) -> str:
    part = _part(event, judgement)
    return f"{first_large(part)} was {event.text('action')} by {event.by}."


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
