"""Eight programs use one log at once: there is one order of all that they did.

A history is linearizable (Herlihy and Wing, 1990) where some sequence of its calls
gives the same answers and keeps every call that ended before another began before it.
The numbers of the entries give that sequence, so it need not be searched for.
"""

import random
from dataclasses import replace

import pytest
import sampling
from conftest import PASSPHRASE
from histories import Call, history

PROGRAMS, CALLS = 8, 12
OWN = 2  # entries that a new log holds


def faults(calls):
    """Return what contradicts one sequence of all calls, in words."""
    appends = sorted((c for c in calls if c.what == "append"), key=lambda c: c.answer)
    given = [number for call in appends for number in call.answer]
    found = []
    if given != list(range(OWN, OWN + len(given))):
        found.append("the numbers are not one after the other, each given once")
    # Where each call stands among the entries: an append where it begins, what was
    # read after as many as were shown.
    ends = {OWN, *(call.answer[-1] + 1 for call in appends)}
    placed = [(call.answer[0] + 0.5, call) for call in appends]
    for call in calls:
        if call.what in {"size", "leaves"}:
            placed.append((call.answer[0], call))
            if call.answer[0] not in ends:
                found.append("half of an append was seen")
    for place, call in placed:
        found += [
            f"{call.what} {call.answer} stands before {other.what} {other.answer}"
            for at, other in placed
            if place < at and other.ended < call.begun
        ]
    for call in calls:
        if call.what == "order":
            own = [
                a for a in appends if a.program == call.program and a.ended < call.begun
            ]
            if call.answer[0] != sum(len(a.answer) for a in own):
                found.append("a program did not see what it wrote itself")
    return found


@pytest.fixture
def path(ledger):
    ledger.close()
    return ledger.store.path


def test_eight_programs_agree_on_one_order(path):
    rounds = sampling.count(1, 40)
    seen = []
    for number in range(rounds):
        calls = history(path, PASSPHRASE, PROGRAMS, CALLS, f"{sampling.SEED} {number}")
        assert len(calls) == PROGRAMS * CALLS
        # An order of its own for each program of each round.
        seen += [replace(c, program=c.program + PROGRAMS * number) for c in calls]
    assert faults(seen) == []
    overlaps = sum(
        a.begun < b.ended and b.begun < a.ended and a.program < b.program
        for a in seen
        for b in seen
    )
    assert overlaps > rounds * PROGRAMS, "they did not run at once"


def test_a_history_that_no_sequence_explains_is_found():
    def call(what, begun, ended, *answer):
        return Call(0, what, begun, ended, answer)

    honest = [
        call("append", 0, 10, 2, 3),
        call("size", 1, 4, 2),
        call("append", 12, 20, 4),
        call("size", 21, 22, 5),
        call("order", 23, 24, 3),
    ]
    assert faults(honest) == []
    chance = random.Random(1)
    chance.shuffle(honest)
    assert faults(honest) == []
    for lie in (
        [call("append", 0, 1, 2), call("append", 2, 3, 2)],
        [call("append", 0, 1, 2), call("append", 2, 3, 4)],
        [call("append", 0, 1, 3), call("append", 2, 3, 2)],
        [call("append", 0, 1, 2), call("size", 2, 3, 2)],
        [call("append", 5, 6, 2), call("leaves", 2, 3, 3)],
        [call("append", 0, 9, 2, 3), call("size", 2, 3, 3)],
        [call("append", 0, 9, 2), call("size", 1, 2, 3), call("size", 3, 4, 2)],
        [call("append", 0, 1, 2), call("order", 2, 3, 0)],
    ):
        assert faults(lie), lie
