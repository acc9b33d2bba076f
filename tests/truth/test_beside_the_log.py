"""An honest order stays proven beside other orders of its vehicle."""

from dataclasses import replace

import pytest
import sampling

from auditkit.order.events import RepairOrder
from truth.bogus import Draft, bases, move
from truth.jobs import CATALOGUE
from truth.log_families import failed_attempt_elsewhere

JOBS = sampling.sampled(bases(), 8, "jobs beside the log")


def verdict(order, *others):
    return CATALOGUE.judge(replace(order, others=others)).verdict


@pytest.mark.parametrize("name", JOBS)
def test_another_visit_of_the_vehicle_takes_nothing_away(name):
    """The same work, proven, two months before; and one of today that is open."""
    order, earlier = Draft(name).order, Draft(name)
    for event in earlier.events:
        move(event, days=-70)
    started = RepairOrder.fold("RO-2", earlier.of("opening"))
    other = RepairOrder.fold("RO-0", earlier.events)
    assert verdict(order, other, started) == verdict(order) == "proven"


@pytest.mark.parametrize("name", JOBS)
def test_a_second_attempt_that_names_the_first_is_proven(name):
    draft = Draft(name)
    if failed_attempt_elsewhere(draft, None) is False:
        pytest.skip("its readouts cannot hold the code by service 07")
    (first,) = draft.others
    assert verdict(draft.order, first) == "unproven"
    told = [f for f in CATALOGUE.judge(draft.order).findings if first.id in f.message]
    rules = {f.rule for f in told}
    # Its readings are those of the first attempt: where they have digits enough, that
    # is told too, and lowers nothing.
    assert rules - {"values-also-in-another-order"} == {"failed-attempt-not-told"}
    draft.of("diagnosis")[0]["reasoning"] += f" A first attempt, {first.id}, failed."
    assert verdict(draft.order, first) == "proven"
