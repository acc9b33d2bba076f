"""The questions that a proof answers, and an answer to one of them.

The form is that of an assurance case: claim, argument, evidence (ISO/IEC/IEEE 15026-2,
from memory). Nothing is shown until something shows it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum

from auditkit.order.strength import Strength
from auditkit.text.values import Json


class Question(StrEnum):
    """What has to be answered, in the order in which it is told."""

    FAULT_KNOWN = "fault-known"
    PART_EXPLAINS = "part-explains"
    PART_AT_FAULT = "part-at-fault"
    TEST_RERAN = "test-reran"
    TEST_PASSED = "test-passed"
    FAULT_GONE = "fault-gone"
    NOTHING_ELSE = "nothing-else"
    SAME_VEHICLE = "same-vehicle"
    ORDER_OF_TIME = "order-of-time"
    HAZARDS_MET = "hazards-met"

    @property
    def asks(self) -> str:
        """The question in words."""
        return _WORDS[self]

    @property
    def phrase(self) -> str:
        """The question as a short phrase, such as stands before its answer."""
        return _PHRASES[self]

    @property
    def of_faults(self) -> bool:
        """Whether it is asked of each fault that was addressed.

        ``part-at-fault`` is asked of each part that was worked on as a cause, the rest
        of the order.
        """
        return self in _OF_FAULTS

    @property
    def can_come_later(self) -> bool:
        """Whether a later readout can show it: until then the order may be waiting."""
        return self in _LATER

    @property
    def must_be_asked(self) -> bool:
        """Whether a policy that does not ask it leaves the order unproven."""
        return self in _ALWAYS

    @property
    def is_of_the_work(self) -> bool:
        """Whether it leaves the faults' own verdicts alone."""
        return self in {Question.NOTHING_ELSE, Question.HAZARDS_MET}

    def is_full(self, strength: Strength) -> bool:
        """Return whether this question has nothing stronger than ``strength``."""
        if self is Question.HAZARDS_MET:
            # An acknowledgement is a person's word by nature: that person's own.
            return strength is not Strength.SECOND_HAND
        if self is Question.PART_EXPLAINS:
            return strength is Strength.TABLE
        if self is Question.ORDER_OF_TIME:
            return strength is Strength.LOGGED
        return strength.is_first_hand


_WORDS = {
    Question.FAULT_KNOWN: "Did the vehicle report this fault before the repair?",
    Question.PART_EXPLAINS: "Can this part cause this fault?",
    Question.PART_AT_FAULT: "Was this part at fault before it was worked on?",
    Question.TEST_RERAN: "Did the vehicle's own test run again after the repair?",
    Question.TEST_PASSED: "Did the vehicle's own test pass after the repair?",
    Question.FAULT_GONE: "Is the fault gone from the module that reported it?",
    Question.NOTHING_ELSE: "Is every other fault told, and repaired or set aside?",
    Question.SAME_VEHICLE: "Is it the same vehicle, before and after?",
    Question.ORDER_OF_TIME: "Did it happen in this order?",
    Question.HAZARDS_MET: "Was each hazard acknowledged before its step?",
}
_PHRASES = {
    Question.FAULT_KNOWN: "fault reported before the repair",
    Question.PART_EXPLAINS: "part can cause the fault",
    Question.PART_AT_FAULT: "part faulty before the repair",
    Question.TEST_RERAN: "vehicle's own test run again",
    Question.TEST_PASSED: "vehicle's own test passed",
    Question.FAULT_GONE: "fault gone",
    Question.NOTHING_ELSE: "no other fault left open",
    Question.SAME_VEHICLE: "same vehicle before and after",
    Question.ORDER_OF_TIME: "order of the steps",
    Question.HAZARDS_MET: "cautions acknowledged in time",
}
_OF_FAULTS = frozenset(
    {
        Question.FAULT_KNOWN,
        Question.PART_EXPLAINS,
        Question.TEST_RERAN,
        Question.TEST_PASSED,
        Question.FAULT_GONE,
    }
)
_LATER = frozenset(
    {
        Question.TEST_RERAN,
        Question.TEST_PASSED,
        Question.FAULT_GONE,
        Question.SAME_VEHICLE,
    }
)
_ALWAYS = frozenset({Question.TEST_PASSED, Question.FAULT_GONE, Question.SAME_VEHICLE})

ORDER = "order"
"""The subject of a question that is asked of the repair order as a whole."""


def part_subject(part: str) -> str:
    """Return the subject of a question that is asked of a part."""
    return f"part:{part}"


class State(StrEnum):
    """What an answer says."""

    SHOWN = "shown"
    NOT_SHOWN = "not-shown"
    WAITING = "waiting"
    """Not shown yet, and a later readout can show it."""
    AGAINST = "against"
    NOT_ASKED = "not-asked"
    """The reader's policy does not ask it."""


_OPEN = frozenset({State.NOT_SHOWN, State.WAITING, State.AGAINST})


def is_waiting(states: Iterable[str]) -> bool:
    """Return whether something is open, and a later readout can show all that is."""
    return {state for state in states if state in _OPEN} == {State.WAITING}


def verdict_waits(verdict: Mapping[str, Json]) -> bool:
    """Return whether all that a signed verdict's answers leave open can come later."""
    answers = verdict.get("answers")
    said = answers if isinstance(answers, list) else []
    return is_waiting(str(i.get("answer")) for i in said if isinstance(i, dict))


@dataclass(frozen=True, slots=True)
class Answer:
    """One question's answer about one subject, with what it rests on.

    ``strength`` is None where nothing is shown. ``events`` are places in the record,
    counted from 0; ``because`` a sentence a reason.
    """

    question: str
    subject: str
    state: State
    strength: Strength | None
    because: tuple[str, ...]
    what_to_do: tuple[str, ...]
    events: tuple[int, ...]

    def to_json(self) -> dict[str, Json]:
        """Return the answer as ``--format json`` prints it."""
        return {
            "question": str(self.question),
            "subject": self.subject,
            "answer": str(self.state),
            "strength": None if self.strength is None else str(self.strength),
            "because": list(self.because),
            "what_to_do": list(self.what_to_do),
            "events": list(self.events),
        }
