"""Sets of forty lies and ten honest jobs, all with the expectation written first."""

import pytest
import sampling

from auditkit.order.schema import validate_record
from truth import (
    eighteenth_fifty,
    eleventh_fifty,
    fifteenth_fifty,
    fourteenth_fifty,
    nineteenth_fifty,
    seventeenth_fifty,
    sixteenth_fifty,
    tenth_fifty,
    thirteenth_fifty,
    twelfth_fifty,
    twentieth_fifty,
    twenty_first_fifty,
    twenty_second_fifty,
)
from truth.changes import CLEVER
from truth.jobs import CATALOGUE, FILE, JOBS
from truth.own_jobs import changed
from truth.test_fifties import has_fallen

SETS = (
    tenth_fifty,
    eleventh_fifty,
    twelfth_fifty,
    thirteenth_fifty,
    fourteenth_fifty,
    fifteenth_fifty,
    sixteenth_fifty,
    seventeenth_fifty,
    eighteenth_fifty,
    nineteenth_fifty,
    twentieth_fifty,
    twenty_first_fifty,
    twenty_second_fifty,
)
LIES = [lie for one in SETS for lie in one.LIES]
LEFT = [lie for one in SETS for lie in one.LEFT]
"""Lies that come out as the truth does: why no rule is made stands beside each."""
HONEST = [job for one in SETS for job in one.HONEST]


@pytest.mark.parametrize("one", SETS)
def test_there_are_forty_lies_and_ten_honest_jobs(one):
    lies = [*one.LIES, *one.LEFT]
    names = {name for name, *_ in (*lies, *one.HONEST)}
    assert (len(names), len(lies), len(one.HONEST)) == (50, 40, 10)
    assert sum(kind == CLEVER for _, _, _, _, kind, *_ in lies) >= 20
    assert all(change.__doc__ for *_, change in lies)
    assert all(falls for _, _, falls, *_ in lies)


def judged(job, way, change):
    draft = changed(job, way, change)
    assert validate_record(draft.record, CATALOGUE.events) == []
    found = draft.judged()
    assert not [f for f in found.findings if "crashed" in f.message]
    return found


@pytest.mark.parametrize(
    "one", sampling.sampled(LIES, len(LIES), "lies", 4), ids=lambda one: one[0]
)
def test_lie_is_not_proven_and_says_why(one):
    _, job, falls, typed, _, way, change = one
    found = judged(job, way, change)
    assert found.verdict in {"unproven", "contradicted", *(["vouched"] * typed)}
    assert [a for a in found.answers if a.question in falls and has_fallen(a, typed)]


@pytest.mark.parametrize("one", LEFT, ids=lambda one: one[0])
def test_lie_that_is_left_comes_out_as_is_known(one):
    _, job, _, _, _, way, change = one
    expected = JOBS[job].get("expect", {}).get(way, FILE["defaults"][way])
    assert judged(job, way, change).verdict == expected


@pytest.mark.parametrize("one", HONEST, ids=lambda one: one[0])
def test_honest_job_comes_out_as_expected(one):
    _, job, way, change, verdict, waiting = one
    found = judged(job, way, change)
    assert (found.verdict, found.is_waiting) == (verdict, waiting)
