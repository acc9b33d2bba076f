"""What is known of an order is what a fresh reading of it shows, at every step."""

import json
from dataclasses import replace
from importlib.resources import files

import pytest
import sampling
from truth.jobs import CATALOGUE, JOBS, PICTURES, record

from auditkit.bay import known_orders
from auditkit.bay.known_orders import KnownOrders
from auditkit.bay.next_step import next_step
from auditkit.bay.so_far import so_far
from auditkit.order.catalogue import Catalogue
from auditkit.order.events import RepairOrder
from auditkit.order.policy import DEFAULT

EVENTS = json.loads((files("auditkit_demo") / "RO-1001.json").read_text())["events"]
REPAIR = next(n for n, e in enumerate(EVENTS) if e["kind"] == "repair")


def folded(events, order="RO-1", others=(), elsewhere=None):
    """Return an order that was recorded as it happened, of events read anew."""
    read = json.loads(json.dumps(events))
    recorded = [event["at"] for event in read]
    made = RepairOrder.fold(
        order, read, elsewhere, recorded=recorded, pictures=PICTURES
    )
    return replace(made, others=others)


def fresh(order):
    return so_far(order, CATALOGUE.judge(order))


@pytest.fixture
def judged(monkeypatch):
    """Return the orders that were judged whole since."""
    seen, judge = [], Catalogue.judge

    def told(self, order, policy=DEFAULT):
        seen.append(order)
        return judge(self, order, policy)

    monkeypatch.setattr(Catalogue, "judge", told)
    return seen


def same_at_each_step(known, events):
    for upto in range(1, len(events) + 1):
        found = known.so_far(folded(events[:upto]), CATALOGUE, DEFAULT)
        anew = fresh(folded(events[:upto]))
        assert found == anew
        who = {"at": events[upto - 1]["at"], "by": events[upto - 1]["by"]}
        assert next_step(found, **who) == next_step(anew, **who)


def test_each_step_of_an_honest_job_shows_what_a_fresh_reading_shows():
    """One memory for all jobs, under one number: what was known is of other events."""
    known = KnownOrders()
    for name in sampling.sampled(list(JOBS), 6, "known orders"):
        for way in ("raw", "screen"):
            same_at_each_step(known, record(name, way)["events"])


@pytest.mark.parametrize("place", [0, 1, 2, REPAIR - 1, REPAIR])
def test_an_event_that_is_amended_later_counts_as_it_is_corrected(place):
    at = {"at": EVENTS[-1]["at"], "by": EVENTS[-1]["by"]}
    amendment = {
        "kind": "amendment",
        **at,
        "corrects": place,
        "why": "a test",
        "event": {**EVENTS[place], "note": "as it was (invented)", "part": "other"},
    }
    same_at_each_step(KnownOrders(), [*EVENTS, amendment, *EVENTS[-1:]])


def test_a_state_is_judged_once(judged):
    known = KnownOrders()
    first = known.so_far(folded(EVENTS[:4]), CATALOGUE, DEFAULT)
    assert known.so_far(folded(EVENTS[:4]), CATALOGUE, DEFAULT) is first
    assert len(judged) == 1
    grown = known.so_far(folded(EVENTS[:5]), CATALOGUE, DEFAULT)
    assert len(judged) == 2
    assert grown.order.events[:4] == first.order.events
    for before, now in zip(first.order.events, grown.order.events, strict=False):
        assert before is now, "else what was computed of it is computed again"


@pytest.mark.parametrize(
    "more",
    [
        {"elsewhere": {"0" * 64: "RO-9"}},
        {"others": (folded(EVENTS[:3], "RO-9"),)},
    ],
)
def test_what_lies_beside_an_order_is_judged_too(judged, more):
    known = KnownOrders()
    known.so_far(folded(EVENTS), CATALOGUE, DEFAULT)
    found = known.so_far(folded(EVENTS, **more), CATALOGUE, DEFAULT)
    assert len(judged) == 2
    assert found == fresh(folded(EVENTS, **more))


def test_another_policy_judges_anew(judged):
    known = KnownOrders()
    known.so_far(folded(EVENTS), CATALOGUE, DEFAULT)
    other = replace(DEFAULT, sha256="0" * 64)
    assert known.so_far(folded(EVENTS), CATALOGUE, other).judgement.policy is other
    assert len(judged) == 2


def test_its_memory_is_bounded(judged, monkeypatch):
    monkeypatch.setattr(known_orders, "_MOST", 2)
    known = KnownOrders()
    for order in ("RO-1", "RO-2", "RO-3", "RO-3", "RO-2", "RO-1"):
        known.so_far(folded(EVENTS[:2], order), CATALOGUE, DEFAULT)
    assert [order.id for order in judged] == ["RO-1", "RO-2", "RO-3", "RO-1"]
