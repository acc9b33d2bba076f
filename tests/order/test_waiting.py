"""What a later readout may show is waited for, by whichever way can come."""

import pytest
from truth.jobs import record
from truth.named_jobs import AIR

from auditkit.order.answers import Heard, answers_of
from auditkit.order.events import RepairOrder
from auditkit.order.findings import Finding, Severity
from auditkit.order.questions import Question, State

ORDER = RepairOrder.fold("RO-1", record(AIR, "cut")["events"])
LATER, NEVER = True, False


def found(*, way, later):
    return Finding(
        "a-rule",
        Severity.BLOCKING,
        "it is missing",
        None,
        "add it",
        can_come_later=later,
        is_of_one_way=way,
    )


@pytest.mark.parametrize(
    ("question", "ways", "owed", "state"),
    [
        (Question.TEST_PASSED, (LATER,), (), State.WAITING),
        (Question.TEST_PASSED, (LATER, NEVER), (), State.WAITING),
        (Question.TEST_PASSED, (NEVER, NEVER), (), State.NOT_SHOWN),
        (Question.TEST_PASSED, (LATER, NEVER), (NEVER,), State.NOT_SHOWN),
        (Question.TEST_PASSED, (LATER, NEVER), (LATER,), State.WAITING),
        (Question.TEST_PASSED, (), (LATER,), State.WAITING),
        (Question.TEST_PASSED, (), (), State.NOT_SHOWN),
        (Question.FAULT_GONE, (LATER, NEVER), (), State.NOT_SHOWN),
        (Question.FAULT_KNOWN, (LATER,), (), State.NOT_SHOWN),
    ],
)
def test_one_way_that_can_come_is_enough(question, ways, owed, state):
    said = [found(way=True, later=later) for later in ways]
    said += [found(way=False, later=later) for later in owed]
    (answer,) = answers_of(ORDER, {question: Heard([], said)}, lambda _: None)
    assert answer.state is state
