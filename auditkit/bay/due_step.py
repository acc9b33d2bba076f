"""A step that is due: what to do next, and what records it. Pure."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import IntEnum
from typing import TYPE_CHECKING

from auditkit.order.questions import Question, State
from auditkit.text.display_text import first_large

if TYPE_CHECKING:
    from auditkit.bay.cautions_due import Due
    from auditkit.bay.so_far import Asked, Suspect


class Rank(IntEnum):
    """Which step comes first."""

    CONTRADICTION = 0
    FAULT_KNOWN = 1
    SUSPECTS = 2
    PART_AT_FAULT = 3
    REPAIR = 4
    MEASURED_AGAIN = 5
    CLEAR = 6
    DRIVE = 7
    READOUT = 8
    OTHERS = 9
    CLOSE = 10


@dataclass(frozen=True, slots=True)
class Step:
    """What to do next, and what records it.

    ``kind`` is the kind of event, or ``close``; ``subject`` the part, the caution or
    the fault code that it is about, empty for the order. ``arguments`` stand behind
    ``auditkit add ORDER``. ``then`` is the step that a caution comes before. ``also``
    are cautions that the step calls for in some ways of doing it only.
    """

    rank: Rank
    kind: str
    subject: str
    sentence: str
    arguments: tuple[str, ...]
    then: Step | None = None
    also: tuple[Due, ...] = ()

    def command(self, order_id: str) -> tuple[str, ...]:
        """Return the words of the command that records it."""
        if self.kind == "close":
            return ("auditkit", "close", order_id)
        return ("auditkit", "add", order_id, *self.arguments)


_KINDS = {
    Question.PART_EXPLAINS: ("diagnosis",),
    Question.PART_AT_FAULT: ("bench_test",),
    Question.NOTHING_ELSE: ("diagnosis",),
    Question.ORDER_OF_TIME: ("amendment", "--of", "ENTRY", "--why", "TEXT"),
}
_READ = ("readout", "--raw", "FILE")


def from_answer(rank: Rank, asked: Asked) -> Step:
    """Return the step that an answer itself asks for."""
    answer = asked.answer
    arguments = _KINDS.get(Question(answer.question), _READ)
    if answer.question == Question.NOTHING_ELSE and answer.state is State.WAITING:
        arguments = _READ
    todo = f" {first_large(answer.what_to_do[0])}." if answer.what_to_do else ""
    return Step(
        rank,
        arguments[0],
        answer.subject,
        f"{first_large(answer.because[0])}.{todo}",
        arguments,
    )


def because(asked: Asked) -> str:
    """Return the first reason of an answer."""
    return asked.answer.because[0] if asked.answer.because else "nothing shows it"


def name_of(suspect: Suspect) -> str:
    """Return a suspect part's name; its id where it has none."""
    return suspect.part.name or suspect.part.id


def listed(names: Iterable[str]) -> str:
    """Return names in one text."""
    return ", ".join(names)
