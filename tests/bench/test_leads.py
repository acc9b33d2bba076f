"""The resistance of test leads is taken off, and never hides that of the part.

Good leads shorted show less than 0.5 ohm: common practice, no published source.
"""

import pytest
from truth.jobs import CATALOGUE, bench

from auditkit.order.bench_event import result_of
from auditkit.order.events import Event

WHEN = "2026-03-02T09:00:00+01:00"
LIMIT = {"minimum": "20", "maximum": "30", "unit": "ohm"}


def read(value, leads, limit=None):
    test = bench(["winding", value, value, limit or LIMIT], good=True)
    test["readings"].append({"name": "lead resistance", "value": leads, "unit": "ohm"})
    return result_of(Event(0, {"at": WHEN, **test}), CATALOGUE.bench_tests)


@pytest.mark.parametrize(
    ("value", "leads", "outcome"),
    [("25.5", "0.2", "good"), ("40.2", "0.2", "faulty"), ("25.5", "2.5", "good")],
)
def test_leads_are_taken_off(value, leads, outcome):
    assert read(value, leads).outcome == outcome


def test_worn_leads_do_no_harm_beside_a_part_of_many_ohm():
    limit = {"minimum": "5000", "maximum": "20000", "unit": "ohm"}
    assert read("11000", "3.0", limit).outcome == "good"


@pytest.mark.parametrize(("value", "leads"), [("25.5", "12.0"), ("0.9", "0.6")])
def test_leads_that_are_a_tenth_of_what_was_read_measure_nothing(value, leads):
    found = read(value, leads)
    assert found.outcome == "not-valid"
    assert "ohm of" in found.reasons[0]
