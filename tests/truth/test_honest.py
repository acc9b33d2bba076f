"""Honest everyday repairs come out as ``honest.toml`` says, which was written first."""

import pytest

from auditkit.order.events import RepairOrder
from auditkit.order.questions import Question
from auditkit.order.schema import validate_record
from truth.jobs import CATALOGUE, FILE, JOBS, PICTURES, WAYS, record
from truth.own_jobs import Own
from truth.twenty_first_fifty import CAP

PATHS = {
    "monitor result": "passed after the repair",
    "code status": "completed and not failed since the clear",
    "permanent code erased": "erased the permanent code",
    "lamp went off": "went off by itself",
    "watched and measured": "the quantity that was faulty is good now",
}
"""Path -> words that only its own rule says of test-passed."""
FIRST_HAND = {"vehicle", "measured"}
NUMBERS = {"typical, from memory", "invented"}


def judged(name, way):
    made = record(name, way)
    assert validate_record(made, CATALOGUE.events) == []
    return CATALOGUE.judge(RepairOrder.fold("RO-1", made["events"], pictures=PICTURES))


@pytest.mark.parametrize("name", JOBS)
@pytest.mark.parametrize("way", WAYS)
def test_verdict(name, way):
    found = judged(name, way)
    job = JOBS[name]
    assert found.verdict == job.get("expect", {}).get(way, FILE["defaults"][way])
    assert found.is_waiting is (way == "cut" and not job.get("diagnosis_only"))


@pytest.mark.parametrize("name", [n for n, job in JOBS.items() if job["path"]])
def test_path_and_strengths_of_raw_data(name):
    job = JOBS[name]
    expected = {**FILE["strengths"]["raw"], **job.get("strengths", {})}
    if job.get("pointer"):
        asked = {q for q in expected if Question(q).of_faults}
    answers = judged(name, "raw").answers
    for answer in answers:
        assert answer.state == "shown", answer
        if answer.question not in expected:
            continue
        strength = str(answer.strength)
        told = "first-hand" if strength in FIRST_HAND else strength
        assert told == expected[answer.question], answer
    if job.get("pointer"):
        own = {a.question for a in answers if a.subject.startswith(job["pointer"])}
        assert own == asked & {"fault-gone"}
    passed = [a for a in answers if a.question == "test-passed"]
    assert len(passed) == len(job["codes"])
    for answer in passed:
        assert any(PATHS[job["path"]] in told for told in answer.because), answer


@pytest.mark.parametrize("name", [n for n, job in JOBS.items() if job["path"]])
@pytest.mark.parametrize("way", ["hand", "screen"])
def test_nothing_typed_is_stronger_than_typed(name, way):
    answers = judged(name, way).answers
    for answer in answers:
        if answer.question == "part-at-fault":
            assert answer.strength == "typed", answer


@pytest.mark.parametrize("days", [{}, {"clear": False, "days": 5}])
@pytest.mark.parametrize("way", ["raw", "hand", "screen"])
def test_permanent_code_that_a_monitor_erases(way, days):
    assert Own({**CAP, **days}, way).judged().verdict == FILE["defaults"][way]


def test_every_job_of_the_list_is_there_and_says_where_its_numbers_come_from():
    assert {job["number"] for job in JOBS.values() if "number" in job} == set(
        range(1, 40)
    )
    assert {job["numbers"] for job in JOBS.values()} == NUMBERS
