"""Fifty fresh bogus records, written before they were run: none comes out proven."""

import pytest

from auditkit.order.questions import Question, State
from truth.changes import drafted
from truth.fresh import FRESH


def test_there_are_fifty():
    assert len({name for name, *_ in FRESH}) == len(FRESH) == 50


@pytest.mark.parametrize("one", FRESH, ids=lambda one: one[0])
def test_is_not_proven_and_says_why(one):
    _, job, falls, typed, change = one
    found = drafted(job, "raw", change).judged()
    assert found.verdict in {"unproven", "contradicted", *(["vouched"] * typed)}
    assert not [f for f in found.findings if "crashed" in f.message]
    assert [
        a
        for a in found.answers
        if a.question in falls
        and not (a.state is State.SHOWN and Question(a.question).is_full(a.strength))
    ]
