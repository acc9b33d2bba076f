"""The one next step, asked at each point of honest jobs and of the demo's repairs."""

import json
from dataclasses import replace
from importlib.resources import files

import pytest
import sampling
import truth.families
import truth.lone_families  # noqa: F401  both fill the table of families
from truth.bogus import all_bogus, made
from truth.jobs import CATALOGUE, JOBS, PICTURES, build, record

from auditkit.bay.due_step import Rank
from auditkit.bay.next_step import next_step
from auditkit.bay.so_far import SuspectState, so_far
from auditkit.bay.told import (
    argument_lines,
    changed_lines,
    state_text,
    step_lines,
    to_json,
)
from auditkit.order.events import RepairOrder
from auditkit.order.questions import Question
from auditkit.order.record import parse_record

OTHER_WAYS = {
    "code_clear": "an honest job that is never cleared",
    "road_test": "the customer drove, or a result was typed apart from its readout",
    "bench_test": "measuring again is one way of several for a watched code",
    "readout": "a vehicle without a VIN shows who it is by a photograph",
    "repair": "an order that ends with the diagnosis",
    "close": "vouched already, and a typed result still came",
}
"""A next step that an honest job may never take -> why it needs none."""


def stood(events, upto=None):
    """Return an order so far after some of its events, recorded as they happened."""
    given = events[:upto]
    recorded = [event["at"] for event in given]
    order = RepairOrder.fold("RO-1", given, recorded=recorded, pictures=PICTURES)
    return so_far(order, CATALOGUE.judge(order))


def step_after(events, upto=None):
    found = stood(events, upto)
    last = events[: upto or len(events)][-1]
    coming = events[upto] if upto and upto < len(events) else last
    at = coming.get("started", coming["at"])
    return next_step(found, at=at, by=coming["by"])


def demo(name):
    source = files("auditkit_demo") / f"{name}.json"
    return list(parse_record(source.read_bytes(), CATALOGUE, where=name).events)


def test_the_next_step_of_an_honest_job_is_one_that_it_takes():
    """Each job of ``tests/truth/honest.toml`` was written before this was."""
    asked = elsewhere = 0
    for name in sampling.sampled(list(JOBS), 12, "next steps"):
        for way in ("raw", "screen"):
            events = record(name, way)["events"]
            for upto in range(1, len(events) + 1):
                step = step_after(events, upto)
                todo = step.then or step
                coming = {event["kind"] for event in events[upto:]} or {"close"}
                asked += 1
                if todo.kind not in coming:
                    elsewhere += 1
                    assert todo.kind in OTHER_WAYS, (name, way, upto, step.sentence)
    assert asked > 20 * sampling.count(12, len(JOBS))
    assert elsewhere < asked / 5, "else it leads elsewhere than honest work goes"


@pytest.mark.parametrize("way", ["raw", "screen"])
def test_an_honest_job_that_is_whole_is_closed_next(way):
    names = sampling.sampled(list(JOBS), 20, f"whole jobs {way}")
    kinds = {name: step_after(record(name, way)["events"]).kind for name in names}
    assert {n for n, kind in kinds.items() if kind != "close"} == {
        n for n in names if JOBS[n].get("diagnosis_only")
    }, "who was told what to repair may still repair it"


EGR = [
    ("opening", Rank.FAULT_KNOWN, "readout"),
    ("readout", Rank.SUSPECTS, "diagnosis"),
    ("diagnosis", Rank.PART_AT_FAULT, "caution"),
    ("caution", Rank.PART_AT_FAULT, "caution"),
    ("caution", Rank.PART_AT_FAULT, "caution"),
    ("caution", Rank.PART_AT_FAULT, "bench_test"),
    ("bench_test", Rank.REPAIR, "repair"),
    ("repair", Rank.CLEAR, "code_clear"),
    ("code_clear", Rank.DRIVE, "caution"),
    ("caution", Rank.DRIVE, "road_test"),
    ("road_test", Rank.READOUT, "readout"),
    ("readout", Rank.CLOSE, "close"),
]


def test_a_proven_repair_is_led_step_by_step():
    events = demo("RO-1001")
    led = []
    for upto, event in enumerate(events, 1):
        step = step_after(events, upto)
        led.append((event["kind"], step.rank, step.kind))
    assert led == EGR


def test_what_comes_after_the_repair_is_later_and_no_failure():
    found = stood(demo("RO-1001"), 3)
    (fault,) = found.faults
    stands = {str(a.answer.question): a.stands for a in fault.asked}
    assert stands == {
        "fault-known": "shown",
        "part-explains": "shown",
        "part-at-fault": "not-shown",
        "test-reran": "later",
        "test-passed": "later",
        "fault-gone": "later",
    }
    lines = argument_lines(found)
    assert "    Vehicle's own test passed: later, after the repair" in lines
    told = "    Same vehicle before and after: later, when the vehicle is read again"
    assert told in lines
    assert "    Suspect 1: EGR valve (egr-valve): untested" in lines
    assert state_text(found, None) == (
        "open; 4 of 10 questions shown, 1 missing now, 5 later"
    )


def test_a_readout_of_another_order_is_told_before_a_part_is_touched():
    events = demo("RO-1001")[:2]
    assert events[-1]["kind"] == "readout"
    order = RepairOrder.fold("RO-1", events, recorded=[e["at"] for e in events])
    (said,) = order.readouts
    stands = []
    for elsewhere in ({}, {said: "RO-7"}):
        one = replace(order, elsewhere=elsewhere)
        found = so_far(one, CATALOGUE.judge(one))
        step = next_step(found, at=events[-1]["at"], by=events[-1]["by"])
        stands.append((found.of(Question.SAME_VEHICLE).stands, step.kind))
    assert stands == [("later", "diagnosis"), ("not-shown", "close")]
    assert "one of repair order RO-7. This order keeps the copy: close" in step.sentence


def test_a_vehicle_that_stood_between_two_readings_may_say_the_same_twice():
    events = demo("RO-1001")
    first, last = (e for e in events if e["kind"] == "readout")
    assert last is events[-1]
    step = step_after(events)
    assert step.kind == "close"
    times = {"at": "2026-03-03T08:12:00+01:00", "captured": "2026-03-03T08:12:00+01:00"}
    assert times["at"] > last["at"]
    assert step_after([*events, {**last, **times}]) == step
    copy = stood([*events, {**first, **times}]).of(Question.ORDER_OF_TIME)
    assert copy.stands == "not-shown"
    assert any("a copy of an earlier one (event 2 of" in b for b in copy.answer.because)


def test_a_step_says_what_it_changed():
    events = demo("RO-1001")
    told = changed_lines(stood(events, 6), stood(events, 7))
    (line,) = [line for line in told if "Part faulty" in line]
    assert line.startswith(
        "P0401: Part faulty before the repair (EGR valve): shown, measured: "
        "egr-valve: end pressure 6.52"
    )


def _tested_good(events):
    good = dict(events[6])
    good["readings"] = [
        {**r, "value": "17.8"} if r["name"] == "end pressure" else r
        for r in good["readings"]
    ]
    return good


def test_a_part_tested_good_is_left_and_the_next_suspect_comes():
    events = demo("RO-1001")[:7]
    good = _tested_good(events)
    diagnosis = dict(events[2])
    hose = {"id": "vacuum-hose", "name": "vacuum hose", "system": "vacuum"}
    diagnosis["suspect_parts"] = [*diagnosis["suspect_parts"], hose]
    two = [*events[:2], diagnosis, *events[3:6], good]
    (fault,) = stood(two).faults
    assert [s.state for s in fault.suspects] == [
        SuspectState.GOOD,
        SuspectState.UNTESTED,
    ]
    step = step_after(two).then
    assert step.subject == "vacuum-hose"
    assert "EGR valve tested good: left in place." in step.sentence
    step = step_after([*events[:6], good])
    assert (step.rank, step.kind) == (Rank.SUSPECTS, "diagnosis")
    assert step.sentence.startswith("Name another part that may cause P0401")


def test_a_repair_that_did_not_heal_leads_to_the_next_suspect():
    step = step_after(demo("RO-1003"))
    assert (step.rank, step.kind) == (Rank.CONTRADICTION, "diagnosis")
    assert step.sentence.startswith("The repair did not heal P0442: ")
    assert "set it aside" not in step.sentence, "what was worked on is not set aside"


def test_a_code_that_nobody_speaks_of_is_asked_for_at_last():
    name = next(n for n in JOBS if "P0420 declined" in n)
    events = record(name)["events"]
    silent = [{k: v for k, v in e.items() if k != "set_aside"} for e in events]
    assert step_after(events).kind == "close"
    step = step_after(silent)
    assert (step.rank, step.kind) == (Rank.OTHERS, "diagnosis")
    assert step.sentence.startswith("P0420 is reported and not spoken of")


def test_a_vehicle_that_gives_no_vin_is_led_to_the_photograph_of_it():
    events = record("-: a vehicle without a VIN to read", "raw")["events"]
    bare = [event for event in events if event["kind"] != "attachment"]
    step = step_after(bare)
    assert step.kind == "attachment"
    assert step.command("RO-1")[:5] == ("auditkit", "add", "RO-1", "attachment", "FILE")
    assert "photograph of plate and VIN" in step.sentence


def test_what_can_never_be_shown_does_not_stop_the_rest():
    """RO-1002: nobody tested the coil, and it is gone."""
    events = [
        {**e, "old_part": "scrapped"} if e["kind"] == "repair" else e
        for e in demo("RO-1002")
    ]
    assert step_after(events).then.kind == "road_test"
    assert stood(events).faults[0].of(Question.PART_AT_FAULT).stands == "not-shown"


def test_an_old_part_that_was_kept_is_tested():
    events = [
        {**e, "old_part": "kept"} if e["kind"] == "repair" else e
        for e in demo("RO-1002")
    ]
    step = step_after(events)
    assert (step.then or step).arguments[-1] == "of=old"


def test_the_next_step_is_told_with_its_command():
    lines = step_lines(step_after(demo("RO-1001"), 6), "RO-1001")
    assert lines[0].startswith("Next: Test EGR valve before it is touched")
    assert lines[1] == (
        "    auditkit add RO-1001 bench_test --part egr-valve --method seal-hold"
    )
    assert any(
        "tested running" in line and "exhaust gas poisons" in line for line in lines
    )


def test_a_bogus_record_is_never_told_that_nothing_is_missing():
    """Of each, whole and cut short, something is due, and all of it can be told."""
    every = list(all_bogus())
    chance = sampling.chance("next steps of bogus records")
    asked, tried = 0, sampling.count(25, 400)
    for one in chance.sample(every, tried):
        bogus = made(*one)
        if bogus is None:
            continue
        events = bogus.draft.events
        for upto in (chance.randint(1, len(events)), len(events)):
            found = stood(events, upto)
            step = step_after(events, upto)
            lines = [*argument_lines(found), *step_lines(step, "RO-1")]
            assert all(line.strip() for line in lines)
            json.dumps(to_json(found, step, "RO-1"))
            asked += 1
            if not found.judgement.is_enough:
                assert "Nothing is missing" not in step.sentence, one
    assert asked > tried


def test_a_caution_is_named_as_people_read_it():
    step = step_after(demo("RO-1001"), 3)
    assert step.kind == "caution"
    assert "WARNING, hot surfaces" in step.sentence
    told = " ".join([step.sentence, *step_lines(step, "RO-1001")[2:]])
    for caution in CATALOGUE.cautions.values():
        if "-" in caution.id:
            assert caution.id not in told


def test_what_to_do_is_told_in_words_of_the_trade_and_not_by_names_of_kinds():
    job = JOBS["2: thermostat, watched and measured"]
    events = build(job, "raw")["events"]
    told = [step_after(events, n).sentence for n in range(2, len(events))]
    said = " ".join(told)
    assert ", such as: temperature at which it opens, rising, in a stirred" in said
    assert "by the same test (direct reading against a limit) and the same" in said
    # Not that no self-test is known: what is left to show it by, and what to do.
    assert "Read the vehicle again: P0128: no readout after the repair shows" in said
    assert "drive until the vehicle's counts have gone on" in said
    for kind in CATALOGUE.bench_tests:
        assert "-" not in kind or kind not in said
