"""A correction is told with what it corrects, and makes nothing proven."""

import copy
import json
import re
from dataclasses import replace
from decimal import Decimal
from importlib.resources import files
from pathlib import Path

import pytest
import web_corpus
from photo import kept
from sampling import sampled

from auditkit.cli import main
from auditkit.obd.scaling import SelfTestOutcome
from auditkit.obd.services import SelfTest
from auditkit.order.bench_event import result_of
from auditkit.order.corrections import MOST, late_amendments
from auditkit.order.event_text import event_name, numbers_text
from auditkit.order.events import Event, RepairOrder
from auditkit.order.statement import statement
from auditkit.output.bench_lines import bench_lines
from auditkit.output.budget_table import plain, share_text
from auditkit.plugin.loading import load_catalogue
from auditkit.proof.packet import parse_packet
from auditkit.reader.page.tell import step_list
from auditkit.reader.steps import steps_of

CATALOGUE = load_catalogue()
RECORD = json.loads((files("auditkit_demo") / "RO-1001.json").read_text("utf-8"))
KINDS = [event["kind"] for event in RECORD["events"]]
BENCH, REPAIR = KINDS.index("bench_test"), KINDS.index("repair")
LAST = len(KINDS) - 1 - KINDS[::-1].index("readout")
LATER = "2026-03-04T08:00:00+01:00"


def amended(place, worse, why):
    """The demo's proven order with one event worse, then amended to what it was."""
    record = copy.deepcopy(RECORD)
    good = record["events"][place]
    record["events"][place] = worse
    amendment = {
        "kind": "amendment",
        "at": LATER,
        "by": "mechanic-1",
        "corrects": place,
    }
    record["events"].append(amendment | {"why": why, "event": good})
    return record


def failing_readout():
    """The last readout with the self-test's value of before the repair: 2.14 kPa."""
    event = copy.deepcopy(RECORD["events"][LAST])
    event["raw"] = event["raw"].replace("31 81 17 02 64", "31 81 17 00 D6")
    assert event != RECORD["events"][LAST]
    return amended(LAST, event, "wrong file")


def good_reading():
    """The bench test with 17.9 inHg left, where at least 15 is asked."""
    event = copy.deepcopy(RECORD["events"][BENCH])
    (end,) = [r for r in event["readings"] if r["name"] == "end pressure"]
    assert end["value"] == "6.5"
    end["value"] = "17.9"
    return amended(BENCH, event, "misread")


def fold(record):
    return RepairOrder.fold(record["repair_order"], record["events"])


def judge(record):
    return CATALOGUE.judge(fold(record))


@pytest.fixture
def here(tmp_path, monkeypatch):
    """Work in an empty folder, with a passphrase for the shop's keys."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("AUDITKIT_PASSPHRASE", "a passphrase for tests")


AFTER_THE_FACT = [
    pytest.param(failing_readout, LAST, "evidence-amended", id="readout"),
    pytest.param(good_reading, BENCH, "good-part-replaced", id="bench test"),
]


@pytest.mark.parametrize(("make", "place", "rule"), AFTER_THE_FACT)
def test_late_correction_gives_nothing(make, place, rule):
    assert judge(RECORD).verdict == "proven"
    record = make()
    without = judge({**record, "events": record["events"][:-1]})
    assert without.verdict == "contradicted"
    judged = judge(record)
    assert judged.verdict == "contradicted"
    assert (rule, place) in [(f.rule, f.event) for f in judged.blocking]
    assert [(str(f.subject), v) for f, v in judged.faults] == [
        (str(f.subject), v) for f, v in without.faults
    ]


def answer(judged, question):
    (found,) = [a for a in judged.answers if a.question == question]
    return found


def test_late_correction_that_would_give_says_that_it_counts_as_recorded():
    found = answer(judge(good_reading()), "part-at-fault")
    assert found.state == "against"
    assert all(
        why.startswith("as recorded (bench test of egr-valve): ")
        for why in found.because
    )


def test_correction_recorded_before_the_repair_and_dated_after_it_is_late():
    record = good_reading()
    amendment = record["events"].pop()
    record["events"].insert(BENCH + 1, amendment)
    assert late_amendments(fold(record)) == (BENCH + 1,)
    assert judge(record).verdict == "contradicted"


@pytest.mark.parametrize(("recorded", "is_late"), [(None, False), (LATER, True)])
def test_correction_that_was_recorded_late_is_late_whatever_its_date(recorded, is_late):
    """It stands before the repair and is dated so; the log had it two days later."""
    record = good_reading()
    amendment = record["events"].pop() | {"at": record["events"][BENCH]["at"]}
    record["events"].insert(BENCH + 1, amendment)
    times = [recorded or event["at"] for event in record["events"]]
    order = RepairOrder.fold("RO-1001", record["events"], recorded=times)
    assert late_amendments(order) == ((BENCH + 1,) if is_late else ())


def test_late_correction_takes_away():
    """The faulty reading of the proven order is amended to a good one, later."""
    record = good_reading()
    typo, amendment = record["events"][BENCH], record["events"][-1]
    record["events"][BENCH], amendment["event"] = amendment["event"], typo
    found = answer(judge(record), "part-at-fault")
    assert found.state == "against"
    assert found.because[0].startswith("as corrected late (bench test of egr-valve): ")


def test_late_correction_to_and_fro_takes_away_all_the_same():
    record = good_reading()
    typo, amendment = record["events"][BENCH], record["events"].pop()
    good, record["events"][BENCH] = amendment["event"], amendment["event"]
    for event in (typo, good):
        record["events"].append({**amendment, "event": event})
    found = answer(judge(record), "part-at-fault")
    assert found.state == "against"
    assert found.because[0].startswith("as first corrected (bench test of egr-valve): ")


def test_late_correction_that_changes_no_answer_is_only_told():
    """Of a bench test that its part number was mistyped: nothing rests on that."""
    event = copy.deepcopy(RECORD["events"][REPAIR])
    event["part_number"] = "EX-EGR-2 (invented)"
    judged = judge(amended(REPAIR, event, "number misread"))
    assert judged.verdict == "proven"
    assert judged.answers == judge(RECORD).answers


def test_fault_code_exchanged_late_leaves_both_to_be_shown():
    record = copy.deepcopy(RECORD)
    record["events"] = amended(KINDS.index("diagnosis"), other_code(), "x")["events"]
    place = KINDS.index("diagnosis")
    right = record["events"][-1]["event"]
    record["events"][-1]["event"], record["events"][place] = other_code(), right
    judged = judge(record)
    subjects = {a.subject for a in judged.answers}
    assert {"P0401@7E8", "P0171"} <= subjects, subjects
    assert judged.verdict == "unproven"


def test_too_many_late_corrections_are_not_followed():
    record = amended(0, copy.deepcopy(RECORD["events"][0]), "x")
    record["events"] += [record["events"][-1]] * MOST
    judged = judge(record)
    assert answer(judged, "order-of-time").state == "not-shown"
    assert judged.verdict == "unproven"
    assert all(v == "unproven" for _, v in judged.faults)
    record["events"].pop()
    assert judge(record).verdict == "proven"


@pytest.mark.parametrize("again", [0, 1])
def test_correction_of_a_road_test_is_late_once_a_readout_stands_on_it(again):
    """Before the readout it replaces; after it, both are held against each other."""
    place = KINDS.index("road_test")
    record = copy.deepcopy(RECORD)
    amendment = {"kind": "amendment", "at": RECORD["events"][place]["at"], "by": "x"}
    amendment |= {"corrects": place, "why": "x", "event": RECORD["events"][place]}
    record["events"].insert(LAST + again, amendment)
    # Its date, too, lies before the readout's.
    late = late_amendments(fold(record))
    assert late == ((LAST + 1,) if again else ())


def other_code():
    """The diagnosis with a fault code to which no failed self-test belongs."""
    event = copy.deepcopy(RECORD["events"][KINDS.index("diagnosis")])
    event["codes"] = event["suspect_parts"][0]["codes"] = ["P0171"]
    return event


@pytest.mark.parametrize("at", ["2026-03-02T08:06:00+01:00", LATER])
@pytest.mark.parametrize("again", [False, True], ids=["at the end", "then a pass"])
def test_no_amendment_makes_a_contradicted_order_anything_else(at, again):
    """Every event is amended to every other of the order, and a few made for it.

    A sample of those pairs is, where samples are.
    """
    record = failing_readout()
    events = record["events"][:-1]
    passed = copy.deepcopy(RECORD["events"][LAST])
    passed["at"] = passed["captured"] = "2026-03-03T09:10:00+01:00"
    passed["raw"] = passed["raw"].replace("02 64", "02 65")
    then = [passed] if again else []
    assert judge({**record, "events": events + then}).verdict == "contradicted"
    repair = {**RECORD["events"][REPAIR], "at": "2026-03-03T08:30:00+01:00"}
    made = (*RECORD["events"], other_code(), repair)
    every = [(place, event) for place in range(len(events)) for event in made]
    for place, event in sampled(every, len(every), f"amendments {at} {again}"):
        amendment = {"kind": "amendment", "at": at, "by": "mechanic-1", "why": "x"}
        amendment |= {"corrects": place, "event": event}
        judged = judge({**record, "events": [*events, amendment, *then]})
        assert judged.verdict == "contradicted", (place, event)


@pytest.mark.parametrize(("make", "place", "rule"), AFTER_THE_FACT)
def test_check_says_which_evidence_was_amended(make, place, rule, here, capsys):
    record = make()
    Path("amended.json").write_text(json.dumps(record))
    with pytest.raises(SystemExit) as end:
        main(["check", "amended.json"])
    out = capsys.readouterr().out
    assert end.value.code == 1
    assert out.startswith("amended.json: contradicted: ")
    assert f"as recorded ({event_name(fold(record).events[place])}): " in out
    assert rule in out


def test_repair_record_without_an_opening_is_unproven():
    record = copy.deepcopy(RECORD)
    del record["events"][0]
    judged = judge(record)
    assert judged.verdict == "unproven"
    (found,) = [f for f in judged.blocking if f.rule == "vehicle-not-identified"]
    assert found.message.startswith("no opening is recorded")


def amendment_of(place, event, at):
    made = {"kind": "amendment", "at": at, "by": "mechanic-1", "corrects": place}
    return {**made, "why": "typed wrongly", "event": event}


def reading_amended(name, value, at="2026-03-02T09:20:00+01:00"):
    """The demo with one reading typed otherwise and put right before the repair."""
    record = copy.deepcopy(RECORD)
    right = copy.deepcopy(record["events"][BENCH])
    (reading,) = (r for r in record["events"][BENCH]["readings"] if r["name"] == name)
    reading["value"] = value
    record["events"].insert(BENCH + 1, amendment_of(BENCH, right, at))
    return record


def test_mistyped_reading_amended_before_the_part_was_touched_is_fine():
    """The part was as faulty by the digits that were turned."""
    record = reading_amended("end pressure", "5.6")
    judged = judge(record)
    assert judged.verdict == "proven"
    said = statement(fold(record), judged)
    assert (
        "Corrected after it was recorded: bench test of egr-valve, by mechanic-1, "
        "because: typed wrongly." in said
    )


def test_correction_that_makes_a_test_faulty_leaves_it_typed():
    """As first written it began below where it ended: it decided nothing."""
    judged = judge(reading_amended("start pressure", "1.80"))
    found = answer(judged, "part-at-fault")
    assert (judged.verdict, found.strength) == ("vouched", "typed")
    (why,) = found.because
    assert "start pressure first written 1.80 inHg" in why


def good_taken_back(*tests):
    """The demo with a good test that was corrected to faulty, and made anew.

    Each of ``tests`` is what differs from the demo's own.
    """
    record = reading_amended("end pressure", "18.0")
    for minute, change in reversed([*enumerate(tests, 25)]):
        again = copy.deepcopy(RECORD["events"][BENCH]) | change
        again["at"] = f"2026-03-02T09:{minute}:00+01:00"
        record["events"].insert(BENCH + 2, again)
    return record


GAUGE, *MORE = RECORD["events"][BENCH]["instruments"]
OTHER_GAUGE = {"instruments": [{**GAUGE, "id": "gauge-2"}, *MORE]}


def test_good_test_corrected_to_faulty_stays_part_of_the_story():
    """Whoever measures it again has it good and faulty, whatever an amendment says."""
    for tests, said in (((), ""), (({},), "; and faulty"), (({}, {}), "; and faulty")):
        judged = judge(good_taken_back(*tests))
        found = answer(judged, "part-at-fault")
        assert (judged.verdict, found.state) == ("unproven", "not-shown")
        (why,) = found.because
        assert "end pressure first written 18.0 inHg, corrected to 6.5 inHg" in why
        assert ("; and faulty when it was measured again" in why) is bool(said)


def test_two_instruments_bear_out_that_a_good_test_was_mistyped():
    judged = judge(good_taken_back({}, OTHER_GAUGE))
    found = answer(judged, "part-at-fault")
    assert (judged.verdict, found.strength) == ("vouched", "typed")
    (why,) = found.because
    assert "first written 18.0 inHg, corrected to 6.5 inHg" in why
    assert why.endswith("2 tests after it say otherwise, by different instruments")


@pytest.mark.parametrize(
    ("at", "of", "state"),
    [
        (2, BENCH, "shown"),
        (3, BENCH, "shown"),
        (-1, BENCH, "not-shown"),
        (2, BENCH - 1, "not-shown"),
    ],
)
def test_a_photograph_bears_out_that_a_good_test_was_mistyped(at, of, state):
    """Of that very test, before the part was worked on."""
    record = good_taken_back({})
    place = BENCH + at if at > 0 else len(record["events"])
    beside = record["events"][min(place, len(record["events"]) - 1)]["at"]
    picture = kept() | {"at": beside, "of": of}
    record["events"].insert(place, picture)
    seen = {picture["sha256"]: ""}
    order = RepairOrder.fold(record["repair_order"], record["events"], pictures=seen)
    found = answer(CATALOGUE.judge(order), "part-at-fault")
    assert found.state == state
    if state == "shown":
        assert found.strength == "typed"
        assert "a photograph of it lies beside it" in found.because[0]


def test_good_test_moved_to_another_part_after_a_faulty_one_takes_that_along():
    record = copy.deepcopy(RECORD)
    good = good_reading()["events"][BENCH]
    moved = amendment_of(BENCH, {**good, "part": "spare"}, "2026-03-02T09:30:00+01:00")
    record["events"][BENCH : BENCH + 1] = [good, record["events"][BENCH], moved]
    found = answer(judge(record), "part-at-fault")
    assert found.state == "not-shown"
    assert "part first written egr-valve, corrected to spare" in found.because[0]


@pytest.mark.parametrize(
    ("amend", "before"),
    [
        pytest.param(
            {"instruments": []}, ("shown", "typed"), id="instruments left out"
        ),
        pytest.param({"of": "known-good"}, ("not-shown", None), id="another piece"),
        pytest.param({"part": "spare"}, ("not-shown", None), id="another part"),
    ],
)
def test_what_a_correction_gave_a_bench_test_is_no_measurement(amend, before):
    record = copy.deepcopy(RECORD)
    right = record["events"][BENCH]
    record["events"][BENCH] = {**right, **amend}
    early = amendment_of(BENCH, right, "2026-03-02T09:20:00+01:00")
    alone = answer(judge(record), "part-at-fault")
    assert (alone.state, alone.strength) == before
    record["events"].insert(BENCH + 1, early)
    found = answer(judge(record), "part-at-fault")
    assert (found.state, found.strength) == ("shown", "typed")


def test_correction_that_takes_a_check_away_leaves_a_good_part_good():
    """Good by an instrument in check; that it was in none is said afterwards."""
    record = copy.deepcopy(RECORD)
    good = record["events"][BENCH]
    (end,) = [r for r in good["readings"] if r["name"] == "end pressure"]
    end["value"] = "17.9"
    assert answer(judge(record), "part-at-fault").state == "against"
    bare = {**good, "instruments": [{"id": "gauge-3"}]}
    early = amendment_of(BENCH, bare, "2026-03-02T09:20:00+01:00")
    record["events"].insert(BENCH + 1, early)
    assert answer(judge(record), "part-at-fault").state == "against"


@pytest.mark.parametrize(("place", "is_late"), [(BENCH, False), (BENCH + 1, True)])
def test_correction_of_a_caution_is_late_once_a_step_was_done_under_it(place, is_late):
    """A surface of 90 degC is too hot; once the test is done, 34 comes too late."""
    record = copy.deepcopy(RECORD)
    caution = KINDS.index("caution")
    right = copy.deepcopy(record["events"][caution])
    record["events"][caution]["preconditions"]["surface temperature"]["value"] = "90"
    at = record["events"][place - 1]["at"]
    record["events"].insert(place, amendment_of(caution, right, at))
    assert late_amendments(fold(record)) == ((place,) if is_late else ())
    judged = judge(record)
    assert judged.verdict == ("unproven" if is_late else "proven")
    state = answer(judged, "hazards-met").state
    assert state == ("not-shown" if is_late else "shown")


@pytest.mark.parametrize(("clock", "is_late"), [("09:55", False), ("10:20", True)])
def test_correction_is_late_from_when_the_repair_started(clock, is_late):
    record = reading_amended("end pressure", "5.6", f"2026-03-02T{clock}:00+01:00")
    repair = record["events"][REPAIR + 1]
    assert repair["started"] < "2026-03-02T10:20" < repair["at"]
    assert late_amendments(fold(record)) == ((BENCH + 1,) if is_late else ())


def test_statement_has_a_line_for_each_amendment():
    record = good_reading()
    opening = copy.deepcopy(record["events"][0])
    amendment = {"kind": "amendment", "at": LATER, "by": "mechanic-1", "corrects": 0}
    record["events"].append(amendment | {"why": "plate misread", "event": opening})
    said = statement(fold(record), judge(record))
    assert said[0].startswith("Repair order RO-1001 is contradicted: EGR valve was ")
    start = "Corrected after it was recorded: "
    assert [line.removeprefix(start) for line in said if line.startswith(start)] == [
        "bench test of egr-valve, by mechanic-1, because: misread.",
        "opening, by mechanic-1, because: plate misread.",
    ]


@pytest.fixture
def log(here, capsys):
    """Return a function that runs the command line beside a log with one order."""
    Path("amended.json").write_text(json.dumps(good_reading()))

    def call(*arguments):
        with pytest.raises(SystemExit) as end:
            main(list(arguments))
        assert end.value.code == 0
        return capsys.readouterr().out

    call("init", "--shop", "Example Yard Garage", "--person", "mechanic-1")
    call("record", "amended.json", "--unproven", "a reading was corrected late")
    return call


def test_show_names_the_entry_and_the_corrected_values(log):
    out = log("show", "RO-1001")
    bench, amendment = 2 + BENCH, 2 + len(KINDS)
    lines = out.splitlines()
    at = next(i for i, line in enumerate(lines) if line.split()[:1] == [str(bench)])
    assert "good: end pressure 17.9" in lines[at]
    assert lines[at + 1].strip() == f"corrected later, by entry {amendment}"
    at = next(i for i, line in enumerate(lines) if line.split()[:1] == [str(amendment)])
    assert lines[at].endswith(
        f"amendment: correction of entry {bench} (bench test of EGR valve), because: "
        "misread"
    )
    assert lines[at + 1].strip().startswith("corrected to: bench test of EGR valve: ")
    assert "faulty: end pressure 6.52" in lines[at + 1]


def test_no_text_of_a_shop_makes_a_line_of_its_own(log):
    record = good_reading()
    for event in record["events"]:
        for part in event.get("suspect_parts", ()):
            part["name"] = "valve\n   99  proven"
    record["repair_order"] = "RO-2"
    Path("forged.json").write_text(json.dumps(record))
    log("record", "forged.json", "--keep-open")
    for command in ("show", "status"):
        lines = log(command, "RO-2").splitlines()
        assert any("valve    99  proven" in line for line in lines), command
        assert not [line for line in lines if line.lstrip().startswith("99")], command


def text_of(node):
    if isinstance(node, str):
        return node
    return "\n".join(map(text_of, node.inner))


def steps(packet):
    """Return the story's steps as a page shows them, one after the other, by entry."""
    own = steps_of(parse_packet(packet))
    told = step_list(own, CATALOGUE.bench_tests).inner
    numbers = [s.payload.seq for s in own if s.payload.repair_order is not None]
    return dict(zip(numbers, map(text_of, told), strict=True))


def test_page_names_the_entry_and_the_corrected_values(log):
    log("packet", "RO-1001", "--out", "p.json")
    found = steps(Path("p.json").read_text())
    bench, amendment = found[2 + BENCH], found[2 + len(KINDS)]
    assert f"Corrected later, by entry {2 + len(KINDS)}." in bench
    assert "end pressure\n17.9\ninHg" in bench
    assert amendment.startswith(f"Correction of entry {2 + BENCH}\n")
    assert "Why\nmisread" in amendment
    assert "Corrected to: Bench test of EGR valve: vacuum hold" in amendment
    assert "end pressure\n6.5\ninHg" in amendment


@pytest.mark.parametrize("corrects", [99, -1, "length", {"a": 1}, None, "__proto__"])
def test_page_tells_an_odd_correction_too(corrects):
    """A packet's maker may sign anything; the story neither fails nor misleads."""
    forge = web_corpus.Forge().enrol()
    forge.add({"kind": "opening"})
    forge.add({"kind": "amendment", "corrects": corrects, "event": "no event"})
    found = steps(forge.verdict().packet())
    (told,) = [text for text in found.values() if text.startswith("Correction of")]
    first = told.split("\n", maxsplit=1)[0]
    assert not re.search(r"entry \d", first), first
    assert not [text for text in found.values() if "Corrected later" in text]


def self_test(uasid, unit, raw, highest=0xFFFF):
    value, most = Decimal(raw), Decimal(highest)
    name, words = ("7E8", "A2", "0C"), (raw, 0, highest)
    passed = SelfTestOutcome.PASSED
    return SelfTest(*name, uasid, value, Decimal(0), most, unit, passed, *words)


def test_plain_numbers_and_absent_limits_in_words():
    assert numbers_text(self_test("24", "counts", 1)) == "count 1, no limit given"
    limited = self_test("24", "counts", 1, highest=7)
    assert numbers_text(limited) == "count 1, minimum none, maximum 7"
    assert numbers_text(self_test("10", "ms", 3)) == "3 ms, no limit given"


@pytest.mark.parametrize(
    ("share", "said"),
    [
        (0.0, "below 0.1 %"),
        (2e-7, "below 0.1 %"),
        (0.001, "0.1 %"),
        (0.95, "95.0 %"),
        (0.99951, "above 99.9 %"),
        (1.0, "above 99.9 %"),
    ],
)
def test_share_near_an_end_is_told_as_near(share, said):
    assert share_text(share) == said


@pytest.mark.parametrize(
    ("number", "said"),
    [(6.1e-05, "0.000061"), (0.35, "0.35"), (1234.0, "1200"), (0.0, "0"), (12, "12")],
)
def test_number_has_no_exponent(number, said):
    assert plain(number) == said


def test_bench_lines_have_no_exponent_and_no_share_of_zero():
    found = result_of(Event(0, RECORD["events"][BENCH]), CATALOGUE.bench_tests)
    tiny = [replace(c, standard_uncertainty=6.1e-05) for c in found.components]
    lines = bench_lines("x", replace(found, components=tuple(tiny), probability=1e-9))
    text = "\n".join(lines)
    assert "e-05" not in text
    assert "0.000061 inHg" in text
    assert "lies within it: below 0.1 %" in text
