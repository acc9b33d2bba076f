"""A shop with a screen alone: typed readouts fill every question, and end vouched."""

import copy

import pytest

from auditkit.order.events import Event, RepairOrder
from auditkit.order.schema import validate_event
from auditkit.order.self_test_evidence import readout_of
from auditkit.plugin.loading import load_catalogue

CATALOGUE = load_catalogue()
VIN = "0ZZTB1A18CA000123"


def km(value):
    return {"value": value, "unit": "km"}


def readout(at, stored, value, counts, *, lamp):
    """Return a readout typed from a display; all invented."""
    return {
        "kind": "readout",
        "at": at,
        "by": "mechanic-1",
        "captured": at,
        "tool": "hand-held display (invented)",
        "typed": {
            "vin": VIN,
            "modules": [
                {
                    "module": "7E8",
                    "stored": stored,
                    "pending": [],
                    "not_shown": ["permanent"],
                    "lamp": lamp,
                    "count": len(stored),
                    "self_tests": [
                        {
                            "monitor": "EGR flow",
                            "mid": "31",
                            "tid": "81",
                            "value": {"value": value, "unit": "kPa"},
                            "minimum": {"value": "3.50", "unit": "kPa"},
                        }
                    ],
                }
            ],
            "counts": counts,
        },
    }


EVENTS = [
    {
        "kind": "opening",
        "at": "2026-03-02T08:05:00+01:00",
        "by": "mechanic-1",
        "shop": "Example Yard Garage (invented)",
        "vehicle": {
            "vin": VIN,
            "model_year": 2012,
            "ignition": "spark",
            "odometer": km("184210"),
            "description": "delivery van",
        },
        "customer": {"name": "Customer One (invented)", "contact": "none"},
        "complaint": "lamp on",
    },
    readout(
        "2026-03-02T08:20:00+01:00",
        ["P0401"],
        "2.14",
        {"distance": km("900")},
        lamp=True,
    ),
    {
        "kind": "diagnosis",
        "at": "2026-03-02T08:40:00+01:00",
        "by": "mechanic-1",
        "codes": ["P0401"],
        "suspect_parts": [
            {
                "id": "egr-valve",
                "name": "EGR valve",
                "system": "egr",
                "where": ["engine-bay"],
                "codes": ["P0401"],
            }
        ],
        "reasoning": "flow below its limit",
    },
    {
        "kind": "bench_test",
        "at": "2026-03-02T09:00:00+01:00",
        "by": "mechanic-1",
        "part": "egr-valve",
        "test": "diaphragm by hand pump",
        "setup": "removed",
        "finding": {"seen": "the vacuum falls to nothing at once", "is_fault": True},
    },
    {
        "kind": "repair",
        "at": "2026-03-02T09:40:00+01:00",
        "by": "mechanic-1",
        "part": "egr-valve",
        "action": "replaced",
    },
    {
        "kind": "code_clear",
        "at": "2026-03-02T09:50:00+01:00",
        "by": "mechanic-1",
        "tool": "hand-held display (invented)",
    },
    readout(
        "2026-03-02T15:00:00+01:00", [], "6.12", {"distance": km("62")}, lamp=False
    ),
]


def judged(events):
    for event in events:
        assert validate_event(event, CATALOGUE.events) == [], event["kind"]
    return CATALOGUE.judge(RepairOrder.fold("RO-1", events))


def answers(events):
    return {
        str(a.question): (str(a.state), a.strength and str(a.strength))
        for a in judged(events).answers
    }


def test_a_screen_alone_fills_every_question_and_is_typed():
    found = answers(EVENTS)
    hazards = found.pop("hazards-met")
    assert hazards[0] == "not-shown", "no caution was acknowledged here"
    assert found == {
        "fault-known": ("shown", "typed"),
        "part-explains": ("shown", "table"),
        "part-at-fault": ("shown", "typed"),
        "test-reran": ("shown", "typed"),
        "test-passed": ("shown", "typed"),
        "fault-gone": ("shown", "typed"),
        "nothing-else": ("shown", "typed"),
        "same-vehicle": ("shown", "typed"),
        "order-of-time": ("shown", "logged"),
    }
    ((_, verdict),) = judged(EVENTS).faults
    assert verdict == "vouched"


@pytest.mark.parametrize(
    ("change", "question", "state"),
    [
        (lambda t: t["modules"][0].update(stored=["P0401"]), "fault-gone", "against"),
        (lambda t: t["modules"][0].pop("stored"), "fault-gone", "waiting"),
        (lambda t: t["modules"][0].update(module="7E9"), "fault-gone", "waiting"),
        (lambda t: t["modules"][0].update(lamp=True), "fault-gone", "waiting"),
        (lambda t: t["modules"][0].update(count=2), "fault-gone", "waiting"),
        (lambda t: t["modules"][0].pop("self_tests"), "test-passed", "waiting"),
        (lambda t: t.pop("vin"), "same-vehicle", "waiting"),
        (
            lambda t: t["modules"][0]["self_tests"][0]["value"].update(value="2.90"),
            "test-passed",
            "against",
        ),
        (
            lambda t: t["modules"][0]["self_tests"][0].pop("minimum"),
            "test-passed",
            "waiting",
        ),
        (
            lambda t: t["modules"][0]["self_tests"][0].update(mid="21"),
            "test-passed",
            "waiting",
        ),
        (
            lambda t: t["modules"][0].update(pending=["P0420"]),
            "nothing-else",
            "not-shown",
        ),
    ],
)
def test_one_line_typed_otherwise_and_its_question_falls(change, question, state):
    events = copy.deepcopy(EVENTS)
    change(events[-1]["typed"])
    assert answers(events)[question][0] == state


def test_none_is_told_only_where_none_was_displayed():
    seen = readout_of(Event(0, EVENTS[-1]))
    assert seen.has_answered("7E8", "03")
    assert not seen.has_answered("7E8", "0A"), "this display does not show them"


@pytest.mark.parametrize(
    "lacking", [{"raw": "> 03", "typed": None}, {"raw": None, "typed": None}]
)
def test_a_readout_is_raw_or_typed(lacking):
    event = {k: v for k, v in EVENTS[-1].items() if k != "typed"}
    event.update({k: v for k, v in lacking.items() if v is not None})
    told = validate_event(event, CATALOGUE.events)
    assert told


@pytest.mark.parametrize(
    ("states", "supported", "complete"),
    [
        (["complete", "complete"], True, True),
        (["complete", "not-complete"], True, None),
        (["not-complete", "complete"], True, None),
        (["not-supported", "complete"], True, None),
        (["not-supported", "not-supported"], False, None),
    ],
)
def test_a_monitor_by_its_id_and_in_words_is_one(states, supported, complete):
    told = copy.deepcopy(EVENTS[1])
    told["typed"]["modules"][0]["monitors"] = [
        {"monitor": name, "state": state}
        for name, state in zip(("egr-vvt", "EGR and/or VVT"), states, strict=True)
    ]
    assert validate_event(told, CATALOGUE.events) == []
    (found,) = readout_of(Event(1, told)).monitors
    assert (found.monitor, found.supported, found.complete) == (
        "egr-vvt",
        supported,
        complete,
    )
