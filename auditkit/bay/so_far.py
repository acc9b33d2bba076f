"""What the evidence of an order shows so far, question by question. Pure.

The rules ask of a fault only once a part was worked on for it. Before that, they are
asked as if its first suspect were replaced now: what such an order shows of the time
before the repair is shown already, and what comes after it has not come yet.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from auditkit.bay.supposed import with_repair
from auditkit.order.events import RepairOrder, SuspectPart
from auditkit.order.faults import Fault, faults_of
from auditkit.order.findings import Verdict
from auditkit.order.judgement import Judgement
from auditkit.order.part_tests import outcomes_of
from auditkit.order.questions import ORDER, Answer, Question, State, part_subject
from auditkit.order.self_test_evidence import readout_of

_BEFORE = (Question.FAULT_KNOWN, Question.PART_EXPLAINS, Question.PART_AT_FAULT)
_AFTER = (Question.TEST_RERAN, Question.TEST_PASSED, Question.FAULT_GONE)
STILL_THERE = frozenset(_AFTER)
"""Questions whose *against* says that the fault is still there."""
_OF_A_FAULT = frozenset({*_BEFORE, *_AFTER})
_AFTER_REPAIR, _WHEN_READ = "after the repair", "when the vehicle is read again"


class SuspectState(StrEnum):
    """How far a suspect part has come."""

    UNTESTED = "untested"
    UNDECIDED = "tested, and the test decides nothing yet"
    GOOD = "tested good, left in place"
    FAULTY = "tested faulty"
    WORKED_ON = "worked on"
    DID_NOT_HEAL = "worked on, and it did not heal the fault"


@dataclass(frozen=True, slots=True)
class Suspect:
    """A part that a diagnosis suspects for a fault, and how far it has come."""

    part: SuspectPart
    state: SuspectState


@dataclass(frozen=True, slots=True)
class Asked:
    """A question as it stands: its answer, or why its time has not come.

    ``later`` is empty where the answer counts now.
    """

    answer: Answer
    later: str = ""

    @property
    def stands(self) -> str:
        """One of shown, not-shown, later, against, not-asked."""
        if self.later or self.answer.state is State.WAITING:
            return "later"
        return str(self.answer.state)


@dataclass(frozen=True, slots=True)
class FaultSoFar:
    """A fault with its questions and its suspects.

    ``is_named`` is false of a code that a readout reports and no diagnosis names;
    ``is_back`` is true where the evidence says that it is still there after the last
    attempt.
    """

    fault: Fault
    verdict: Verdict | None
    asked: tuple[Asked, ...]
    suspects: tuple[Suspect, ...]
    is_named: bool
    is_back: bool

    @property
    def is_open(self) -> bool:
        """Whether a part is still to be worked on for it."""
        return self.fault.set_aside is None and (
            not self.fault.is_addressed or self.is_back
        )

    def of(self, question: Question) -> Asked | None:
        """Return how a question stands; the first, where it is asked of each cause."""
        return next((a for a in self.asked if a.answer.question == question), None)


@dataclass(frozen=True, slots=True)
class SoFar:
    """An order so far: its faults, and the questions that are asked of it as a whole.

    ``judgement`` is what the order shows as it is.
    """

    order: RepairOrder
    judgement: Judgement
    faults: tuple[FaultSoFar, ...]
    asked: tuple[Asked, ...]

    def of(self, question: Question) -> Asked | None:
        """Return how a question of the order stands."""
        return next((a for a in self.asked if a.answer.question == question), None)


def so_far(order: RepairOrder, judgement: Judgement) -> SoFar:
    """Return what an order shows so far; ``judgement`` is of this order."""
    faults = tuple(_fault(order, judgement, *one) for one in _all(order, judgement))
    return SoFar(order, judgement, faults, tuple(_of_order(order, judgement, faults)))


def _all(
    order: RepairOrder, judgement: Judgement
) -> Iterator[tuple[Fault, Verdict | None, bool]]:
    """Yield the faults that diagnoses name, then the codes that nobody speaks of."""
    for fault, verdict in judgement.faults:
        yield fault, verdict, True
    known = {fault.code for fault in faults_of(order)}
    seen: dict[str, dict[str, None]] = {}
    for event in order.of("readout"):
        for code in readout_of(event).codes:
            if code.text not in known:
                seen.setdefault(code.text, {})[code.responder] = None
    for code_text, who in seen.items():
        yield Fault(code_text, tuple(who), (), (), None), None, False


def _fault(
    order: RepairOrder,
    judgement: Judgement,
    fault: Fault,
    verdict: Verdict | None,
    is_named: bool,  # noqa: FBT001  one of three that _all yields
) -> FaultSoFar:
    own = [a for a in judgement.answers if a.subject == fault.subject]
    is_back = any(a.state is State.AGAINST and a.question in STILL_THERE for a in own)
    suspects = tuple(_suspects(order, judgement, fault, is_back=is_back))
    if fault.set_aside is not None or not is_named:
        asked: tuple[Asked, ...] = ()
    elif fault.is_addressed:
        causes = {part_subject(part) for part in fault.causes}
        asked = tuple(
            Asked(a)
            for a in judgement.answers
            if a.subject == fault.subject or a.subject in causes
        )
    else:
        asked = tuple(_supposed(order, judgement, fault, suspects))
    return FaultSoFar(fault, verdict, asked, suspects, is_named, is_back)


def first_open(suspects: Sequence[Suspect]) -> Suspect | None:
    """Return the suspect to go on with: one found faulty, else the first not good."""
    for states in (
        {SuspectState.FAULTY},
        {SuspectState.UNTESTED, SuspectState.UNDECIDED},
    ):
        for one in suspects:
            if one.state in states:
                return one
    return None


def _suspects(
    order: RepairOrder, judgement: Judgement, fault: Fault, *, is_back: bool
) -> Iterator[Suspect]:
    done = {
        order.events[place].text("part"): number == len(fault.attempts) and not is_back
        for number, attempt in enumerate(fault.attempts, 1)
        for place in attempt.repairs
    }
    seen: set[str] = set()
    # The newest diagnosis says in which order to look; what it leaves out comes after.
    for part in sorted(order.suspect_parts, key=lambda one: -one.event):
        named = part.codes or order.events[part.event].texts("codes")
        if part.id in seen or fault.code not in named:
            continue
        seen.add(part.id)
        if part.id in done:
            healed = done[part.id]
            state = SuspectState.WORKED_ON if healed else SuspectState.DID_NOT_HEAL
        else:
            state = _tested(order, judgement, part.id)
        yield Suspect(order.suspect(part.id) or part, state)


def _tested(order: RepairOrder, judgement: Judgement, part: str) -> SuspectState:
    outcomes = [
        outcomes_of(test, judgement.catalogue.bench_tests) - {""}
        for test in order.of("bench_test")
        if test.text("part") == part and test.text("of") in {"", "old"}
    ]
    if not outcomes:
        return SuspectState.UNTESTED
    said = frozenset().union(*outcomes)
    if said == {"good"}:
        return SuspectState.GOOD
    return SuspectState.FAULTY if said == {"faulty"} else _last(outcomes)


def _last(outcomes: Sequence[frozenset[str]]) -> SuspectState:
    """Return what the last of several tests says that do not agree."""
    is_faulty = outcomes[-1] == {"faulty"} and {"good"} not in outcomes
    return SuspectState.FAULTY if is_faulty else SuspectState.UNDECIDED


def _supposed(
    order: RepairOrder,
    judgement: Judgement,
    fault: Fault,
    suspects: Sequence[Suspect],
) -> Iterator[Asked]:
    """Yield the questions of a fault for which no part was worked on yet."""
    one = first_open(suspects) or (suspects[-1] if suspects else None)
    part = one.part.id if one else ""
    as_if = judgement.catalogue.judge_part(
        with_repair(order, part, fault.code), _OF_A_FAULT, judgement.policy
    )
    subjects = {fault.subject, part_subject(part)}
    for answer in as_if.answers:
        if answer.subject not in subjects:
            continue
        if answer.question not in _BEFORE:
            yield Asked(answer, _AFTER_REPAIR)
        elif one is not None:
            yield Asked(_as_now(answer, one))
        elif answer.question == Question.FAULT_KNOWN:
            yield Asked(answer)
        else:
            yield Asked(answer, "after the diagnosis")


def _as_now(answer: Answer, suspect: Suspect) -> Answer:
    """Return an answer in the words of a time before the repair."""
    if answer.question != Question.PART_AT_FAULT or answer.state is State.SHOWN:
        return answer
    name = suspect.part.name or suspect.part.id
    said = {
        SuspectState.UNTESTED: (
            f"{name} was not tested",
            "test it before you touch it",
        ),
        SuspectState.GOOD: (
            f"{name} was tested good",
            "leave it in place, and name the next suspect",
        ),
    }.get(suspect.state)
    if said is None:
        return answer
    return replace(answer, state=State.NOT_SHOWN, because=said[:1], what_to_do=said[1:])


def _of_order(
    order: RepairOrder, judgement: Judgement, faults: Sequence[FaultSoFar]
) -> Iterator[Asked]:
    is_repaired = order.last_repair is not None
    waits = any(f.is_named and f.is_open for f in faults)
    others = [f for f in faults if not f.is_named]
    for answer in judgement.answers:
        if answer.subject != ORDER:
            continue
        later = ""
        if answer.state in {State.NOT_SHOWN, State.WAITING}:
            # What was recorded already speaks now: such as another order's readout.
            is_late = is_repaired or bool(answer.events)
            if answer.question == Question.SAME_VEHICLE and not is_late:
                later = _WHEN_READ
            elif answer.question == Question.NOTHING_ELSE and waits and not others:
                later = _AFTER_REPAIR
        yield Asked(answer, later)
