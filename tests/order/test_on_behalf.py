"""What one person signed of another's work: told, weaker, and never refused."""

import pytest
from truth.bogus import Draft
from truth.changes import corrected
from truth.named_jobs import EGR

from auditkit.order.on_behalf import on_behalf_lines
from auditkit.order.questions import Question
from auditkit.order.statement import statement
from auditkit.order.strength import Strength


def answered(draft, question):
    found = draft.judged().answers
    (one,) = (a for a in found if a.question == question)
    return one


def signed(d, *kinds, by="manager-1"):
    d.signers = [by if e["kind"] in kinds else e["by"] for e in d.events]
    return d


def test_who_signs_their_own_work_is_as_strong_as_a_record_that_no_log_holds():
    bare, own = Draft(EGR), Draft(EGR)
    own.signers = [e["by"] for e in own.events]
    assert bare.judged().answers == own.judged().answers
    assert list(on_behalf_lines(own.order)) == []


@pytest.mark.parametrize("kinds", [("caution",), ("repair",), ("road_test",)])
def test_a_caution_that_rests_on_another_is_second_hand(kinds):
    """Of the step, too: who signed it says who did it."""
    draft = signed(Draft(EGR), *kinds)
    found = answered(draft, Question.HAZARDS_MET)
    assert found.strength is Strength.SECOND_HAND
    assert "on manager-1's word for mechanic-1 (" in found.because[0]
    judged = draft.judged()
    assert judged.verdict == "vouched"
    assert {v for _, v in judged.faults} == {"proven"}, "the faults are left alone"


def test_a_measurement_that_another_signed_is_typed():
    draft = signed(Draft(EGR), "bench_test")
    assert answered(draft, Question.PART_AT_FAULT).strength is Strength.TYPED


def test_what_the_vehicle_sent_is_as_strong_by_any_hand():
    draft = signed(Draft(EGR), "readout", "opening", "diagnosis", "code_clear")
    assert draft.judged().verdict == "proven"
    (line,) = on_behalf_lines(draft.order)
    assert line.startswith("Recorded by manager-1 for mechanic-1, who did not sign: ")
    assert line.endswith(" and 2 more.")
    assert line in statement(draft.order, draft.judged())


def test_a_record_that_was_handed_over_whole_is_vouched():
    draft = Draft(EGR)
    draft.signers = ["manager-1"] * len(draft.events)
    judged = draft.judged()
    assert judged.verdict == "vouched"
    weak = {str(a.question) for a in judged.rests_on_word}
    assert weak == {"part-at-fault", "hazards-met"}


def test_a_correction_by_another_rests_on_that_one_s_word():
    draft = Draft(EGR)
    old = draft.of("bench_test")[0]
    corrected(draft, old, {**old, "note": "a word more (invented)"}, old["at"])
    place = draft.events.index(old)
    amendment = draft.events.pop()
    draft.events.insert(place + 1, amendment)
    assert answered(draft, Question.PART_AT_FAULT).strength is Strength.MEASURED
    amendment["by"] = "manager-1"
    assert answered(draft, Question.PART_AT_FAULT).strength is Strength.TYPED


def test_an_acknowledgement_is_not_given_to_another_by_a_correction():
    """Who read it signed it; that it was somebody else is who corrected its word."""
    draft = Draft(EGR)
    draft.signers = [e["by"] for e in draft.events]
    for event in draft.events:
        if event["kind"] in {"repair", "bench_test", "road_test"}:
            event["by"] = "mechanic-2"
    assert answered(draft, Question.HAZARDS_MET).strength is None
    for event in draft.of("caution"):
        event["by"] = "mechanic-2"
    assert answered(draft, Question.HAZARDS_MET).strength is Strength.SECOND_HAND
