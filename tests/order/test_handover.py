"""A handover says who goes on, and shows nothing: no answer changes by it."""

import json
from importlib.resources import files

import pytest

from auditkit.order.events import RepairOrder
from auditkit.order.policy import DEFAULT
from auditkit.plugin.loading import load_canon

RECORD = json.loads((files("auditkit_demo") / "RO-1001.json").read_text("utf-8"))
EVENTS = [e for e in RECORD["events"] if e["kind"] not in {"attachment", "amendment"}]


def judged(events):
    order = RepairOrder.fold("RO-1001", events)
    found = load_canon().judge(order, DEFAULT)
    answers = [(a.question, a.subject, a.state, a.strength) for a in found.answers]
    return found.verdict, answers


@pytest.mark.parametrize("place", [1, len(EVENTS) // 2, len(EVENTS)])
def test_a_handover_anywhere_changes_no_answer(place):
    before = EVENTS[place - 1]
    handover = {
        "kind": "handover",
        "at": before["at"],
        "by": before["by"],
        "to": "tech-z",
        "waits": "the gasket",
    }
    told = [*EVENTS[:place], handover, *EVENTS[place:]]
    assert judged(told) == judged(EVENTS)
