"""Bogus records and honest twists that were written down before they were judged."""

import pytest
import sampling

from auditkit.order.questions import Question, State
from auditkit.order.schema import validate_record
from truth import (
    eighth_twenty,
    fifth_fifty,
    fifth_twenty,
    fourth_fifty,
    fourth_thirty,
    ninth_fifty,
    second_fifty,
    seventh_thirty,
    sixth_fifty,
    third_fifty,
)
from truth.bogus import Draft
from truth.changes import CLEVER, ODD, drafted
from truth.jobs import CATALOGUE, FILE, JOBS

FIFTIES = (
    second_fifty,
    third_fifty,
    fourth_fifty,
    fifth_fifty,
    sixth_fifty,
    ninth_fifty,
)
EVERY = (*FIFTIES, fourth_thirty, fifth_twenty, seventh_thirty, eighth_twenty)
LIES = [lie for one in EVERY for lie in one.LIES]
TWISTS = [twist for one in EVERY for twist in one.TWISTS]
LEFT = [lie for one in EVERY for lie in getattr(one, "LEFT", ())]
"""Lies that come out as the truth does: why no rule is made stands beside each."""
BLANK = "code-counted-and-blank"
COUNTED, CONTRADICT = "result-not-counted", "counts-since-clear-contradict"
TOLD = {
    "catalyst_test_that_the_vehicle_did_not_count": COUNTED,
    "egr_monitor_never_completed_by_its_own_counter": COUNTED,
    "evap_monitor_never_completed_and_was_not_cleared": COUNTED,
    "catalyst_monitor_is_not_complete": COUNTED,
    "display_says_that_the_egr_test_is_not_complete": COUNTED,
    "one_code_counted_and_a_filler_in_its_place": BLANK,
    "runs_longer_than_since_the_clear": CONTRADICT,
    "sixty_kilometres_in_five_minutes": CONTRADICT,
}
"""Those of them that a rule of advice tells of, whoever reads."""


@pytest.mark.parametrize("fifty", FIFTIES)
def test_there_are_enough_of_each(fifty):
    lies = [*fifty.LIES, *getattr(fifty, "LEFT", ())]
    names = {name for name, *_ in (*lies, *fifty.TWISTS)}
    assert len(names) == len(lies) + len(fifty.TWISTS)
    assert len(lies) >= 49
    assert len(fifty.TWISTS) >= 10
    kinds = [kind for _, _, _, _, kind, *_ in lies]
    assert min(kinds.count(CLEVER), kinds.count(ODD)) >= 10


def has_fallen(answer, is_typed):
    """An answer that is shown has fallen only where *vouched* is accepted."""
    if answer.state is not State.SHOWN:
        return True
    return is_typed and not Question(answer.question).is_full(answer.strength)


@pytest.mark.parametrize(
    "one", sampling.sampled(LIES, len(LIES), "lies", 4), ids=lambda one: one[0]
)
def test_lie_is_not_proven_and_says_why(one):
    _, job, falls, typed, _, way, change = one
    draft = drafted(job, way, change)
    assert validate_record(draft.record, CATALOGUE.events) == []
    found = draft.judged()
    assert found.verdict in {"unproven", "contradicted", *(["vouched"] * typed)}
    assert not [f for f in found.findings if "crashed" in f.message]
    assert [a for a in found.answers if a.question in falls and has_fallen(a, typed)]


@pytest.mark.parametrize("one", TWISTS, ids=lambda one: one[0])
def test_twist_comes_out_as_its_job_does(one):
    _, job, way, change = one
    draft = drafted(job, way, change)
    assert validate_record(draft.record, CATALOGUE.events) == []
    expected = JOBS[job].get("expect", {}).get(way, FILE["defaults"][way])
    assert draft.judged().verdict == expected


@pytest.mark.parametrize("one", LEFT, ids=lambda one: one[0])
def test_lie_that_is_left_comes_out_as_is_known(one):
    name, job, _, _, _, way, change = one
    draft = drafted(job, way, change)
    assert validate_record(draft.record, CATALOGUE.events) == []
    expected = JOBS[job].get("expect", {}).get(way, FILE["defaults"][way])
    judged = draft.judged()
    assert judged.verdict == expected
    told = {found.rule for found in judged.findings}
    assert told & {*TOLD.values()} >= ({TOLD[name]} if name in TOLD else set())


def test_what_is_told_of_a_lie_is_told_of_no_honest_job():
    """Each advice would be worth little if it stood beside every repair."""
    assert TOLD.keys() <= {name for name, *_ in LEFT}
    for name in JOBS:
        for way in ("raw", "screen"):
            found = Draft(name, way).judged().findings
            assert not [f for f in found if f.rule in TOLD.values()], (name, way)
