"""Every rule: its page, records that pass it and records that fail it."""

import copy
import re
from dataclasses import replace
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path

import pytest
from case_files import Bases, read_cases
from changed_records import record_of

from auditkit.order.event_text import computed_text
from auditkit.order.events import RepairOrder
from auditkit.order.findings import Shown
from auditkit.order.questions import Question, State
from auditkit.order.rule import HEADINGS
from auditkit.order.schema import validate_record
from auditkit.order.statement import statement
from auditkit.order.strength import Strength
from auditkit.plugin.loading import load_catalogue

HERE = Path(__file__).parent
BASES = Bases(HERE / "bases")
BESIDE = ("elsewhere", "others", "recorded", "signed_by")
RULES = sorted(path.stem for path in HERE.glob("*.toml"))
CATALOGUE = load_catalogue()


@cache
def cases_of(rule):
    return read_cases(HERE / f"{rule}.toml", BASES, ("pass", "fail"), beside=BESIDE)


def other(table):
    """Return another repair order of the same vehicle: its id, base and changes."""
    changes = {name: value for name, value in table.items() if name != "id"}
    record = record_of(BASES.expand(changes, table["id"]))
    assert validate_record(record, CATALOGUE.events) == []
    return RepairOrder.fold(table["id"], record["events"])


def times_of(events, recorded):
    """Return when a log got each event, by what a case says of it."""
    own = [event["at"] for event in events]
    last = max((datetime.fromisoformat(at) for at in own), default=None)
    return {
        "": [],
        "each at its time": own,
        "the cautions last": [
            last.isoformat() if event["kind"] == "caution" else at
            for event, at in zip(events, own, strict=True)
        ],
    }.get(recorded, [recorded] * len(events))


def problems(rule, record, **beside):
    """Beside it stand the members of BESIDE.

    ``recorded`` is when the log got the whole record, or as ``times_of`` says;
    ``signed_by`` signed every entry of it, else whoever did it.
    """
    events, signer = record["events"], beside.get("signed_by")
    order = RepairOrder.fold(
        record["repair_order"],
        events,
        beside.get("elsewhere"),
        recorded=times_of(events, beside.get("recorded", "")),
        signers=[signer] * len(events) if signer else [],
    )
    order = replace(order, others=tuple(map(other, beside.get("others", ()))))
    return [one for one in said_by(rule, order) if not isinstance(one, Shown)]


def said_by(rule, order):
    found = CATALOGUE.rule(rule)
    return found.check(order, CATALOGUE.parameters(found))


def shown_by(rule, record):
    """Return the one thing that a rule says of a record, which it finds shown."""
    order = RepairOrder.fold(record["repair_order"], record["events"])
    (said,) = said_by(rule, order)
    assert isinstance(said, Shown)
    return said


def suspecting(base, system, **changes):
    """Return a base's record, changed; each part of a diagnosis is of this system."""
    record = record_of(BASES.expand({"base": base, **changes}, base))
    for event in record["events"]:
        for part in event.get("suspect_parts", ()):
            part["system"] = system
    return record


@pytest.mark.parametrize("rule", RULES)
def test_some_questions_are_answered_alone_as_they_are_with_all(rule):
    """Whoever asks what a step would call for runs no rule that speaks of more."""
    hazards = frozenset({Question.HAZARDS_MET})
    for questions in (hazards, frozenset(Question) - hazards):
        for record in (cases_of(rule)[kind][-1].record for kind in ("pass", "fail")):
            order = RepairOrder.fold(record["repair_order"], record["events"])
            whole = CATALOGUE.judge(order)
            part = CATALOGUE.judge_part(order, questions)
            for every, some in (
                (whole.answers, part.answers),
                (whole.findings, part.findings),
            ):
                assert tuple(one for one in every if one.question in questions) == some


@pytest.mark.parametrize("kind", ["pass", "fail"])
@pytest.mark.parametrize("rule", RULES)
def test_cases(rule, kind):
    """A case is a record; "elsewhere" and "others" tell of other repair orders."""
    for case in cases_of(rule)[kind]:
        record = case.record
        assert validate_record(record, CATALOGUE.events) == [], case.name
        found = problems(rule, record, **case.beside)
        assert bool(found) is (kind == "fail"), (case.name, found)
        questions = {"", *CATALOGUE.rule(rule).questions}
        assert {one.question for one in found} <= questions, case.name
        for problem in found:
            assert problem.message, case.name
            assert problem.what_to_do, case.name
            events = range(len(record["events"]))
            assert problem.event is None or problem.event in events, case.name


@pytest.mark.parametrize("rule", CATALOGUE.rules, ids=lambda r: r.name)
def test_rule_has_its_page_and_both_kinds_of_case(rule):
    assert cases_of(rule.name)["pass"]
    assert cases_of(rule.name)["fail"]
    places = [rule.page.index(f"\n{heading}\n") for heading in HEADINGS]
    assert places == sorted(places)


@pytest.mark.parametrize(
    ("hours", "most"), [(23, Strength.LOGGED), (25, Strength.TYPED)]
)
def test_a_step_of_days_before_the_order_is_open_has_a_typed_time(hours, most):
    record = record_of(BASES["egr-valve"])
    events = record["events"]
    (opening,) = (e for e in events if e["kind"] == "opening")
    (test,) = (e for e in events if e["kind"] == "bench_test")
    early = datetime.fromisoformat(opening["at"]) - timedelta(hours=hours)
    test["at"] = early.isoformat()
    events.sort(key=lambda event: datetime.fromisoformat(event["at"]))
    assert shown_by("times-out-of-order", record).at_most is most


@pytest.mark.parametrize(
    ("system", "most"), [("evap", Strength.WORD), ("wiring", None)]
)
def test_a_kind_of_test_that_is_not_known_for_the_code_is_a_word(system, most):
    """For P0442 and its system the table knows holding and flow, no voltage drop."""
    record = suspecting("purge-valve-bench-tested", system)
    assert shown_by("part-not-shown-at-fault", record).at_most is most


@pytest.mark.parametrize(("is_alone", "most"), [(True, Strength.TYPED), (False, None)])
def test_an_old_part_that_was_measured_when_the_work_was_over_is_typed(is_alone, most):
    """Beside a test made in time it lowers nothing."""
    record = suspecting("purge-valve-bench-tested", "wiring")
    events = record["events"]
    (repair,) = (e for e in events if e["kind"] == "repair")
    test = next(e for e in events if e["kind"] == "bench_test")
    over = datetime.fromisoformat(repair["at"]) + timedelta(minutes=1)
    late = {**test, "of": "old", "at": over.isoformat()}
    events.insert(events.index(repair) + 1, late)
    if is_alone:
        events.remove(test)
    assert shown_by("part-not-shown-at-fault", record).at_most is most


@pytest.mark.parametrize(
    ("first", "then", "most"),
    [
        ("replaced", "relearned", Strength.TYPED),
        ("replaced", "replaced", Strength.TYPED),
        ("cleaned", "replaced", None),
    ],
)
def test_an_old_part_is_out_from_when_it_was_replaced(first, then, most):
    """What is done after that is done to the new one."""
    record = suspecting("purge-valve-bench-tested", "wiring")
    events = record["events"]
    (repair,) = (e for e in events if e["kind"] == "repair")
    test = next(e for e in events if e["kind"] == "bench_test")
    events.remove(test)
    done = datetime.fromisoformat(repair["at"])
    late, later = (
        (done + timedelta(minutes=minutes)).isoformat() for minutes in (1, 2)
    )
    place = events.index(repair) + 1
    events[place:place] = [
        {**test, "of": "old", "at": late},
        {**repair, "action": then, "at": later},
    ]
    repair["action"] = first
    assert shown_by("part-not-shown-at-fault", record).at_most is most


@pytest.mark.parametrize(
    ("changes", "most"),
    [
        ({}, Strength.WORD),
        ({"raw": {"01A6": "7E8 06 41 A6 00 12 5C F0 AA"}}, None),  # 1 km less
        ({"raw": {"0131": "7E8 04 41 31 07 CE AA AA AA"}}, None),  # 2 km less
        ({"raw": {"07": "7E8 04 47 01 04 42 AA AA AA"}}, None),
    ],
)
def test_what_an_earlier_readout_did_not_hold_is_a_word_unless_it_was_driven(
    changes, most
):
    told = {
        "after": {"opening": {"first": "readout-before"}},
        "set": {
            "first": {
                "at": "2026-03-04T08:05:00+01:00",
                "captured": "2026-03-04T08:05:00+01:00",
                "raw": {"03": "7E8 02 43 00 AA AA AA AA AA", **changes.get("raw", {})},
            }
        },
    }
    record = record_of(BASES.expand({"base": "purge-valve", **told}, "earlier"))
    assert shown_by("fault-never-reported", record).at_most is most


@pytest.mark.parametrize(
    ("change", "most"),
    [
        ({}, Strength.TYPED),
        ({"digits": "2", "absolute": "5"}, Strength.TYPED),
        ({"digits": "2"}, None),
        ({"digits": None}, None),
        ({"certificate": "INV-78"}, None),
        ({"high": "200"}, None),
    ],
)
def test_limits_of_error_that_one_meter_states_in_two_ways_are_typed(change, most):
    """Another range, or another calibration, has limits of error of its own.

    What the first test left out is no other limit: it was told the second time.
    """
    record = suspecting("purge-valve-bench-tested", "wiring")
    place = next(n for n, e in enumerate(record["events"]) if e["kind"] == "bench_test")
    first = copy.deepcopy(record["events"][place])
    told = first["instruments"][0]["specification"] | {"digits": "400", **change}
    told = {name: value for name, value in told.items() if value is not None}
    first["instruments"][0]["specification"] = told
    record["events"].insert(place, first)
    assert shown_by("part-not-shown-at-fault", record).at_most is most


def _judged(changes):
    # A voltage drop is a test of its wiring.
    record = suspecting("purge-valve-bench-tested", "wiring", **changes)
    assert validate_record(record, CATALOGUE.events) == []
    order = RepairOrder.fold(record["repair_order"], record["events"])
    judgement = CATALOGUE.judge(order)
    answer = next(
        found
        for found in judgement.answers
        if found.question is Question.PART_AT_FAULT and "purge-valve" in found.subject
    )
    return answer, order


LAPSED = {
    "bench_test": {"instruments": {"0": {"specification": {"due": "2026-01-31"}}}}
}


@pytest.mark.parametrize(
    ("changes", "strength", "said"),
    [
        ({}, Strength.MEASURED, "+/-"),
        ({"set": LAPSED}, Strength.TYPED, "out of calibration"),
        (
            {"remove": ["bench_test.instruments.0.specification"]},
            Strength.TYPED,
            "meter-1 has no specification",
        ),
        (
            {"remove": ["bench_test.instruments.0"]},
            Strength.TYPED,
            "no instrument is named that measures voltage",
        ),
    ],
)
def test_what_an_instrument_not_in_check_read_counts_as_typed(changes, strength, said):
    answer, order = _judged(changes)
    assert answer.state is State.SHOWN
    assert answer.strength is strength
    test = order.of("bench_test")[0]
    words = computed_text(test, CATALOGUE.bench_tests)
    assert said in words
    assert ("+/-" in words) is (strength is Strength.MEASURED)
    assert ("counts as typed" in words) is (strength is Strength.TYPED)


@pytest.mark.parametrize(
    ("lamp", "minutes", "most"),
    [
        ("00 00", None, Strength.WORD),
        ("00 00", "00 05", Strength.WORD),
        ("00 00", "05 00", None),
        ("00 01", "00 05", None),
        (None, "00 05", None),
    ],
)
def test_a_lamp_that_came_on_after_the_vehicle_came_in_is_a_word(lamp, minutes, most):
    """PIDs 21 and 4D: km, and minutes of engine run, with the lamp on; two bytes."""
    record = record_of(BASES["purge-valve"])
    first = next(e for e in record["events"] if e["kind"] == "readout")
    assert "7E8 06 41 01 8" in first["raw"], "its lamp is on"
    for pid, data in (("21", lamp), ("4D", minutes)):
        if data is not None:
            first["raw"] += f"\n> 01{pid}\n7E8 04 41 {pid} {data} AA AA AA\n"
    said = shown_by("fault-never-reported", record)
    assert said.at_most is most
    assert ("younger than the visit" in said.sentence) is (most is Strength.WORD)


@pytest.mark.parametrize("name", list(BASES))
def test_each_base_is_a_record_and_is_used(name):
    assert validate_record(record_of(BASES[name]), CATALOGUE.events) == []
    files = [*HERE.glob("*.toml"), *HERE.glob("bases/*.toml")]
    assert any(f'\nbase = "{name}"\n' in "\n" + f.read_text() for f in files)


def test_the_example_for_developers_is_a_file_of_cases(tmp_path):
    text = (HERE.parent.parent / "DEVELOPERS.md").read_text("utf-8")
    (example,) = re.findall(r"```toml\n(.*?)```", text, re.DOTALL)
    (tmp_path / "example.toml").write_text(example)
    cases = read_cases(tmp_path / "example.toml", BASES, ("pass", "fail"))
    for kind, (case,) in cases.items():
        found = problems("counts-since-clear-contradict", case.record)
        assert bool(found) is (kind == "fail"), found


def test_every_case_belongs_to_a_rule():
    assert set(RULES) == {rule.name for rule in CATALOGUE.rules}


def test_events_may_hold_nothing_that_rules_ask_for():
    """A record of bare events makes no rule crash."""
    kinds = (
        "opening",
        "readout",
        "diagnosis",
        "caution",
        "bench_test",
        "repair",
        "code_clear",
        "road_test",
        "self_test",
        "amendment",
    )
    bare = [
        {
            "kind": k,
            "at": "2026-03-02T08:00:00Z",
            "by": "a",
            "captured": "2026-03-02T08:00:00Z",
        }
        for k in kinds * 2
    ]
    judged = CATALOGUE.judge(RepairOrder.fold("RO-1", bare))
    assert judged.verdict == "unproven"
    assert not [f for f in judged.findings if "crashed" in f.message]


@pytest.mark.parametrize(("speed", "most"), [("00 00", Strength.WORD), ("1C 20", None)])
def test_a_misfire_whose_frame_was_kept_at_rest_is_a_word(speed, most):
    """Frame of P0301, with PID 0C in quarters of a revolution a minute."""
    record = record_of(BASES["ignition-coil-not-rerun"])
    first = next(e for e in record["events"] if e["kind"] == "readout")
    first["raw"] = f"""> 03
7E8 04 43 01 03 01 AA AA AA
> 020200
7E8 05 42 02 00 03 01 AA AA
> 020C00
7E8 05 42 0C 00 {speed} AA AA
"""
    assert shown_by("fault-never-reported", record).at_most is most


def test_steps_recorded_at_once_are_told_and_lower_nothing():
    record = cases_of("steps-recorded-at-once")["fail"][1].record
    events = record["events"]
    own = [event["at"] for event in events]
    noon = [max(at, "2026-03-04T12:00:00+01:00") for at in own]
    judged = []
    for recorded in (own, noon):
        order = RepairOrder.fold("RO-1", events, recorded=recorded)
        judged.append(CATALOGUE.judge(order))
        told = [line for line in statement(order, judged[-1]) if "s apart" in line]
        assert len(told) == (recorded is noon)
    assert told[0] == (
        "Advice: the caution of 2026-03-04T08:50:00+01:00 and the repair after it: "
        "said to lie 10 min apart, recorded 0 s apart"
    )
    assert judged[0].verdict == judged[1].verdict
    weighed = [[(a.state, a.strength) for a in one.answers] for one in judged]
    assert weighed[0] == weighed[1]
    said = [one.answers[-1].because[0] for one in judged]
    assert "when the step had begun" not in said[0]
    assert said[1].endswith(
        "all recorded when the step had begun: before it by the shop's word"
    )
