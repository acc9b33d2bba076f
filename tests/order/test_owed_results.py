"""A monitor owes a result, but where its vehicle has none and says that it ran.

13 CCR 1968.2(g)(4.5) asks results of some monitors alone (from memory); how a list of
monitors goes on is ISO 15031-5:2006 Table A.1.
"""

import pytest
from truth.bogus import edit, with_bytes
from truth.changes import also_said, told_as
from truth.own_jobs import Own

from auditkit.order.faults import addressed
from auditkit.order.owed_results import owes_result

PURGE = {
    "name": "purge valve stands open",
    "codes": ["P0496"],
    "part": ["purge-valve", "purge valve", "evap"],
    "bench": ["seal-hold", "9.0", "17.9", {"minimum": "17.0", "unit": "inHg"}],
    "days": 3,
    "path": "watched and measured",
}
FIRST, TO_31 = ("0600", "4600C0000001"), ("0620", "462080008000")


@pytest.mark.parametrize(
    ("said", "owes"),
    [
        ([FIRST, TO_31], False),
        ([("0600", "4600C0000000")], False),
        ([], True),
        ([FIRST], True),
        ([TO_31], True),
        ([FIRST, ("0620", "462080008008")], True),
        ([FIRST, TO_31, ("063D", "463D81FD00C8000001F4")], True),
    ],
)
def test_what_its_module_lists_of_its_results_decides(said, owes):
    draft = Own(PURGE, "raw")
    for request, payload in said:
        also_said(draft.after, request, payload)
    order = draft.order
    assert owes_result(order, addressed(order)[0]) is owes


def test_a_monitor_that_has_not_run_owes_one():
    draft = Own(PURGE, "raw")
    for request, payload in (FIRST, TO_31):
        also_said(draft.after, request, payload)
    edit(draft.after, lambda s: with_bytes(s, "0101", bytes.fromhex("0007E504")))
    order = draft.order
    assert owes_result(order, addressed(order)[0])


def test_one_that_was_read_before_is_owed_again():
    draft = Own(PURGE, "raw")
    also_said(draft.before, "063D", "463D81FD0320000001F4")
    for request, payload in (FIRST, TO_31):
        also_said(draft.after, request, payload)
    order = draft.order
    assert owes_result(order, addressed(order)[0])


def test_a_circuit_owes_none():
    draft = Own({**PURGE, "codes": ["P0443"]}, "raw")
    order = draft.order
    assert not owes_result(order, addressed(order)[0])


def test_such_a_repair_is_proven_once_it_is_driven_and_measured():
    draft = Own(PURGE, "raw")
    told_as(draft, "supply limit", value="3.7")
    for readout in draft.of("readout"):
        for request, payload in (FIRST, TO_31):
            also_said(readout, request, payload)
    assert draft.judged().verdict == "proven"
