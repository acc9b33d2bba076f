"""The verdict of each fault and of the order, from the answers."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from auditkit.order import faults
from auditkit.order.events import RepairOrder
from auditkit.order.findings import Verdict
from auditkit.order.questions import ORDER, Answer, Question, State, part_subject

ORDER_OF_VERDICTS = (
    Verdict.CONTRADICTED,
    Verdict.UNPROVEN,
    Verdict.VOUCHED,
    Verdict.PROVEN,
)


def verdict_of_answers(answers: Iterable[Answer]) -> Verdict:
    """Return the verdict that answers make together: the least of them.

    What a policy does not ask is never better than vouched; three questions have to be
    asked by every policy.
    """
    return least(map(_verdict, answers))


def _verdict(answer: Answer) -> Verdict:
    question = Question(answer.question)
    if answer.state is State.AGAINST:
        return Verdict.CONTRADICTED
    if answer.state is State.NOT_ASKED:
        return Verdict.UNPROVEN if question.must_be_asked else Verdict.VOUCHED
    if answer.state is not State.SHOWN or answer.strength is None:
        return Verdict.UNPROVEN
    return Verdict.PROVEN if question.is_full(answer.strength) else Verdict.VOUCHED


def least(verdicts: Iterable[Verdict]) -> Verdict:
    """Return the least of several verdicts; proven for none."""
    return min(verdicts, key=ORDER_OF_VERDICTS.index, default=Verdict.PROVEN)


def fault_verdicts(
    order: RepairOrder, answers: Sequence[Answer]
) -> tuple[tuple[faults.Fault, Verdict | None], ...]:
    """Return each fault with its verdict; None for one that was not addressed.

    A fault's verdict is that of its own answers, of those of its causes, and of the two
    questions that are asked of the order's evidence as a whole.
    """
    made: list[tuple[faults.Fault, Verdict | None]] = []
    for fault in faults.faults_of(order):
        if not fault.is_addressed:
            made.append((fault, None))
            continue
        causes = {part_subject(part) for part in fault.causes}
        own = [
            answer
            for answer in answers
            if answer.subject == fault.subject
            or answer.subject in causes
            or answer.question in {Question.SAME_VEHICLE, Question.ORDER_OF_TIME}
        ]
        made.append((fault, verdict_of_answers(own)))
    return tuple(made)


def order_verdict(order: RepairOrder, answers: Sequence[Answer]) -> Verdict:
    """Return the order's verdict: the least of its faults', and of its own questions.

    Where no fault was addressed nothing is proven.
    """
    of_faults = [v for _, v in fault_verdicts(order, answers) if v is not None]
    if not of_faults:
        return Verdict.UNPROVEN
    own = [answer for answer in answers if answer.subject == ORDER]
    return least([*of_faults, verdict_of_answers(own)])
