"""A module that asks to wait has refused nothing: its answer follows."""

import pytest

from auditkit.obd import decode


@pytest.mark.parametrize(
    "text",
    [
        # ISO 15031-5:2006 Tables 190 to 193, as in test_worked_examples.
        "7F 09 78\n49 06 01 98 12 34 76",
        # ISO 14229-1: 78 is "response pending" for every service (from memory).
        "7E8 03 7F 22 78 AA AA AA AA\n7E8 04 62 F4 0D 00 AA AA AA",
    ],
)
def test_an_answer_that_was_pending_is_no_refusal(text):
    readout = decode(text)
    assert readout.refused == frozenset()
    assert ": 78 " in readout.notes[0]
    assert readout.problems == ()
    assert "refused" not in readout.notes[0]


def test_a_refusal_stays_one():
    readout = decode("7F 09 12")
    assert readout.refused == {("-", "09")}
    assert "service 09 refused: 12" in readout.notes[0]
