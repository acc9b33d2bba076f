"""What a statement tells, and in which order. All orders invented."""

import copy
import json
import re
from importlib.resources import files
from itertools import chain

from auditkit.order.event_text import names_of_parts
from auditkit.order.events import Event, RepairOrder
from auditkit.order.policy import parse_policy
from auditkit.order.questions import Question
from auditkit.order.statement import DEFERS, JUDGED_BY, NO_RECORD_SHOWS, statement
from auditkit.order.statement_parts import AFTER, FAULTS, NEVER, OPEN, parted
from auditkit.plugin.loading import load_canon

CANON = load_canon()


def demo(order_id):
    text = (files("auditkit_demo") / f"{order_id}.json").read_text("utf-8")
    return json.loads(text)["events"]


def stated(events, **how):
    order = RepairOrder.fold("RO-1", events, **how)
    return statement(order, CANON.judge(order))


def place_of(events, kind):
    return [event["kind"] for event in events].index(kind)


def test_what_was_tested_good_and_left_in_place_is_told():
    events = demo("RO-1001")
    diagnosis = events[place_of(events, "diagnosis")]
    other = {**diagnosis["suspect_parts"][0], "id": "egr-hose", "name": "EGR hose"}
    diagnosis["suspect_parts"].append(other)
    place = place_of(events, "bench_test")
    good = copy.deepcopy(events[place])
    good["part"] = "egr-hose"
    good["readings"][1]["value"] = "17.9"
    events.insert(place, good)
    assert "Tested good and left in place: EGR hose." in stated(events)
    good["readings"][1]["value"] = "6.5"
    assert not [x for x in stated(events) if x.startswith("Tested good")]


def test_an_attempt_that_did_not_heal_is_told():
    events = demo("RO-1001")
    before = events[place_of(events, "readout")]
    repair = place_of(events, "repair")
    first = {**events[repair], "at": "2026-03-02T09:20:00+01:00"}
    first |= {"started": "2026-03-02T09:18:00+01:00", "action": "cleaned"}
    again = {**before, "at": "2026-03-02T09:40:00+01:00"}
    again["captured"] = again["at"]
    place = place_of(events, "bench_test") + 1
    events[place:place] = [first, again]
    told = "Tried before for P0401: EGR valve cleaned; it did not heal it."
    assert told in stated(events)
    assert told not in stated(demo("RO-1001"))


def test_every_statement_says_what_no_record_shows():
    for number in range(1, 6):
        lines = stated(demo(f"RO-100{number}"))
        assert lines[-2:] == (NO_RECORD_SHOWS, DEFERS)
        assert lines[0].startswith("Repair order RO-1 is ")
        assert lines[1].startswith("Repair of P0")


def test_what_was_recorded_late_is_told_and_rests_on_word():
    events = demo("RO-1001")
    lines = stated(events, recorded=["2026-03-09T08:00:00Z"] * len(events))
    assert "vouched: it rests on the shop's word for: order of the steps" in lines[0]
    (late,) = (line for line in lines if line.startswith("Recorded late: "))
    assert f"{len(events)} of {len(events)} steps" in late


def test_what_is_contradicted_is_named():
    """A good part that was replaced is told as that, not as a fault that is there."""
    events = demo("RO-1001")
    events[place_of(events, "bench_test")]["readings"][1]["value"] = "17.9"
    (first, *_) = stated(events)
    assert first == (
        "Repair order RO-1 is contradicted: EGR valve was worked on although its bench "
        "test shows it good."
    )
    (first, *_) = stated(demo("RO-1003"))
    assert "the evidence says the fault is still there" in first


def test_an_acknowledgement_is_told_as_a_word_by_nature():
    lines = stated(demo("RO-1001"))
    assert lines[0] == (
        "Repair order RO-1 is proven: each question by the best evidence that it asks "
        "for."
    )
    word = (
        "Rests on the shop's word: cautions acknowledged in time, a person's word by "
        "nature."
    )
    assert word in lines


def test_what_is_not_asked_does_not_block():
    events = [e for e in demo("RO-1001") if e["kind"] != "caution"]
    order = RepairOrder.fold("RO-1", events)
    text = 'format = "auditkit/policy@1"\nnot_asked = ["hazards-met"]\n'
    lines = statement(order, CANON.judge(order, parse_policy(text)))
    told = "WARNING hot-exhaust (hot surfaces) was not acknowledged"
    assert any(x.startswith(f"Found, though not asked: {told}") for x in lines)
    assert len([x for x in lines if "cautions acknowledged in time" in x.lower()]) == 1
    assert not any(": not shown" in x for x in lines)
    (missing,) = (x for x in stated(events) if ": not shown: " in x and told in x)
    assert missing.startswith("Cautions acknowledged in time: not shown: ")


def test_what_speaks_against_comes_first_then_what_is_missing_with_what_to_do():
    lines = stated(demo("RO-1003"))
    against = "Fault gone (P0442, engine module 7E8): the evidence speaks against it: "
    place = [x.startswith(against) for x in lines].index(True)
    assert lines[place + 1].startswith("  what to do: ")
    rests = [x.startswith("Rests on ") for x in lines].index(True)
    assert place < rests
    lines = stated(demo("RO-1002"))
    (missing,) = (x for x in lines if x.startswith("Part faulty before the repair"))
    assert missing.startswith(
        "Part faulty before the repair (ignition coil of cylinder 1): not shown: "
    )
    assert lines.index(missing) < [x.startswith("Rests on ") for x in lines].index(True)


def test_nothing_is_said_twice():
    for number in range(1, 6):
        lines = stated(demo(f"RO-100{number}"))
        assert len(set(lines)) == len(lines)
        tests = [re.findall(r"self-test ([0-9A-F]{2}/[0-9A-F]{2})", x) for x in lines]
        for words, numbers in zip(lines, tests, strict=True):
            if words.startswith("Vehicle's own test passed: "):
                assert not any(n in other for n in numbers for other in tests), words


def test_no_id_of_a_program_stands_in_a_statement():
    """Ids of questions and rules are for JSON; people read words."""
    ids = {str(q) for q in Question} | {rule.name for rule in CANON.rules}
    for number in range(1, 6):
        for line in stated(demo(f"RO-100{number}")):
            assert not [one for one in ids if "-" in one and one in line], line
            assert "@" not in line


def called(*parts):
    each = [{"id": name, "name": known_as} for name, known_as in parts]
    return names_of_parts([Event(0, {"suspect_parts": [one]}) for one in each])


def test_a_name_that_does_not_say_which_part_is_meant_stands_with_its_id():
    assert called(("a", "purge valve"), ("b", "cap")) == {
        "a": "purge valve",
        "b": "cap",
    }
    of_two = called(("a", "Purge valve"), ("b", "purge valve"))
    assert of_two == {"a": "Purge valve (a)", "b": "purge valve (b)"}
    assert called(("a", "b"), ("b", "cap"))["a"] == "b (a)"
    assert called(("a", "purge valve"), ("a", "cap")) == {"a": "cap (a)"}
    assert called(("a", "cap"), ("a", "cap"), ("b", "b")) == {"a": "cap", "b": "b"}


def test_a_part_that_is_called_otherwise_later_keeps_its_id_in_the_statement():
    events = demo("RO-1001")
    again = copy.deepcopy(events[place_of(events, "diagnosis")])
    part = again["suspect_parts"][0]
    part["name"] = "throttle body"
    events.insert(place_of(events, "code_clear"), again)
    told = " ".join(stated(events))
    assert f"Bench test of throttle body ({part['id']})" in told


def test_each_line_of_a_statement_stands_once_below_its_heading():
    for order_id in ("RO-1001", "RO-1002", "RO-1003", "RO-1004", "RO-1005"):
        lines = stated(demo(order_id))[1:]
        found = parted(lines)
        assert sorted(chain(*found.values())) == sorted(lines)
        assert all(line.startswith("Repair of ") for line in found[FAULTS])
        assert found[NEVER] == [NO_RECORD_SHOWS, DEFERS]
        assert (OPEN in found) is (order_id not in ("RO-1001", "RO-1004"))
        told = [line for line in lines if "own self-test" in line]
        assert found.get(AFTER, []) == told
    less = f"{JUDGED_BY}hazards-met is not asked."
    back = ["Fault gone (P0401): the evidence speaks against it: x", " under it"]
    assert parted([*back, less]) == {FAULTS: [less], OPEN: back}
