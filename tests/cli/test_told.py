"""What the commands tell is whole, true, told once, and says what can still be done."""

import json
from pathlib import Path

import pytest


@pytest.fixture
def log(run):
    assert (
        run("init", "--shop", "Example Yard Garage", "--person", "mechanic-1")[0] == 0
    )
    return run


def test_a_record_that_is_kept_open_is_told_what_it_lacks(log):
    status, out, _ = log("record", "RO-1005.json", "--keep-open")
    lines = out.splitlines()
    assert status == 0
    assert lines[0] == "RO-1005.json: RO-1005: open: entries 2 to 14 written"
    assert lines[1].startswith("RO-1005.json: unproven, waiting: ")
    place = lines.index(
        "RO-1005.json: no-monitor-result: the self-test for P0302 has not run: value "
        "and limits are zero"
    )
    assert lines[place + 1] == (
        "    what to do: drive until the monitor has run, then capture again"
    )
    _, out, _ = log("record", "RO-1002.json", "--keep-open", "--format", "json")
    told = {found["rule"] for found in json.loads(out)["findings"]}
    assert "part-not-shown-at-fault" in told


def test_a_value_without_a_limit_is_never_told_as_passed(run):
    # ISO 15031-5:2006 7.6.1: limit words at the ends of the number range limit nothing.
    text = "> 0601\n7E8 10 0A 46 A2 0C 24 00 03\n7E8 21 00 00 FF FF 00 00 00\n"
    Path("one.txt").write_text(text)
    _, out, _ = run("decode", "one.txt")
    said = "count 3, no limit given"
    assert (
        f"self-test A2/0C (misfire, cylinder 1) can neither pass nor fail: {said}"
        in out
    )
    _, out, _ = run("decode", "one.txt", "--format", "json")
    (test,) = json.loads(out)["self_tests"]
    assert test["outcome"] == "no-limit"
    Path("two.txt").write_text(text.replace("00 03", "00 04"))
    _, out, _ = run("compare", "one.txt", "two.txt")
    assert f"after   {said.replace('3', '4')}: neither passed nor failed" in out
    assert "passed:" not in out


def test_a_code_that_stood_in_two_lists_counts_once(run):
    stored, none = "7E8 04 43 01 04 01", "7E8 02 43 00"
    held = f"> 03\n{stored}\n> 0A\n7E8 04 4A 01 04 01\n"
    Path("before.txt").write_text(held)
    Path("gone.txt").write_text(f"> 03\n{none}\n> 0A\n7E8 02 4A 00\n")
    _, out, _ = run("compare", "before.txt", "gone.txt")
    assert "fault codes: 1 gone, 0 new, 0 stayed." in out
    assert "Code gone: P0401 (7E8; was stored, permanent)" in out
    Path("less.txt").write_text(held.replace(stored, none))
    _, out, _ = run("compare", "before.txt", "less.txt")
    assert "fault codes: 0 gone, 0 new, 1 stayed." in out
    assert "Code stayed: P0401 (7E8; still permanent; no longer stored)" in out
    _, out, _ = run("compare", "gone.txt", "before.txt")
    assert "fault codes: 0 gone, 1 new, 0 stayed." in out


@pytest.mark.parametrize(
    ("permanent", "why"),
    [
        ("", "not asked, or not answered by any module"),
        ("> 0A\n7E9 02 4A 00\n", "no answer"),
        ("> 0A\n7E8 03 7F 0A 11\n", "refused"),
        ("> 0A\n7E8 04 4A 02 04 01\n", "answered, could not be read"),
        ("> 0A\n7E8 05 4A 02 04 01\n", "answered, could not be read"),
        ("> 0A\n7E8 10 08 4A 03 04 01 04 02\n", "answered, could not be read"),
    ],
)
def test_a_code_is_not_gone_where_its_list_was_not_read_again(run, permanent, why):
    """Of a list that a module did not give, nothing can be said."""
    stored, none = "7E8 04 43 01 04 01", "7E8 02 43 00"
    Path("before.txt").write_text(f"> 03\n{stored}\n> 0A\n7E8 04 4A 01 04 01\n")
    Path("after.txt").write_text(f"> 03\n{none}\n{permanent}")
    _, out, _ = run("compare", "before.txt", "after.txt")
    assert "fault codes: 0 gone, 0 new, 0 stayed, 1 not read again." in out
    told = f"was stored, permanent; no longer stored; permanent: {why}"
    assert f"Code not read again: P0401 (7E8; {told})" in out
    _, out, _ = run("compare", "before.txt", "after.txt", "--format", "json")
    codes = json.loads(out)["codes"]
    assert [c["kind"] for c in codes["gone"]] == ["confirmed"]
    assert codes["not_read"] == [
        {"code": "P0401", "kind": "permanent", "responder": "7E8", "why": why}
    ]
    Path("still.txt").write_text(f"> 03\n{stored}\n{permanent}")
    _, out, _ = run("compare", "before.txt", "still.txt")
    assert f"Code stayed: P0401 (7E8; still stored; permanent: {why})" in out


def test_a_code_of_service_19_is_gone_where_that_was_answered_again(run):
    # ISO 14229-1 11.3 (from memory): 59 02, the bits kept, then code and status.
    held = "> 1902FF\n7E8 07 59 02 FF 04 01 00 08\n"
    Path("before.txt").write_text(held)
    Path("gone.txt").write_text("> 1902FF\n7E8 03 59 02 FF\n")
    _, out, _ = run("compare", "before.txt", "gone.txt")
    assert "fault codes: 1 gone, 0 new, 0 stayed." in out
    Path("other.txt").write_text("> 03\n7E8 02 43 00\n")
    _, out, _ = run("compare", "before.txt", "other.txt")
    assert "fault codes: 0 gone, 0 new, 0 stayed, 1 not read again." in out


def test_a_waiting_order_is_listed_as_waiting(log):
    for name in ("RO-1002.json", "RO-1005.json"):
        assert log("record", name, "--unproven", "customer in a hurry")[0] == 0
    _, out, _ = log("list")
    assert [line.split("  ")[1] for line in out.splitlines()] == [
        "unproven",
        "unproven, waiting",
    ]
    _, out, _ = log("list", "--format", "json")
    assert [order["waiting"] for order in json.loads(out)] == [False, True]


def test_a_typed_readout_tells_what_was_asked_and_that_nothing_was_displayed(log):
    record = json.loads(Path("RO-1004.json").read_text())
    typed = [e for e in record["events"] if e["kind"] == "readout"][-1]["typed"]
    typed["modules"][0]["self_tests"] = []
    typed["modules"][0]["monitors"] = [
        {"monitor": "catalyst", "state": "not-complete"},
        {"monitor": "misfire", "state": "complete"},
    ]
    Path("clean.json").write_text(json.dumps(record))
    assert log("record", "clean.json", "--keep-open")[0] == 0
    _, out, _ = log("show", "RO-1004")
    assert (
        "7E8 displayed: stored codes: none displayed; pending codes: none displayed; "
        "engine lamp: off; codes counted: 0; readiness: catalyst NOT complete, misfire "
        "complete; self-tests: none displayed; calibrations: DEMO-OXY-0003; not shown "
        "by this display: permanent codes"
    ) in out
    assert "displayed besides: VIN 0ZZTB1A1XCA000141; distance since codes were" in out


def test_why_not_run_uses_what_was_typed_of_monitors_and_says_so(run):
    _, out, _ = run("why-not-run", "RO-1004.json")
    assert "is typed, and without readiness: type the monitors as displayed" in out
    record = json.loads(Path("RO-1004.json").read_text())
    typed = [e for e in record["events"] if e["kind"] == "readout"][-1]["typed"]
    monitors = typed["modules"][0]["monitors"] = [
        {"monitor": "Evaporative System", "state": "not-complete"},
        {"monitor": "EGR/VVT", "state": "complete"},
    ]
    Path("typed.json").write_text(json.dumps(record))
    status, out, _ = run("why-not-run", "typed.json")
    assert status == 1
    said = "Not complete since codes were cleared, as typed from a display: "
    assert out.startswith(f"{said}evaporative system.\n")
    assert "this driving cycle says was not typed" in out
    assert "PID 41" not in out
    assert out.count("\nFor evaporative system: ") == 4, "its own conditions"
    assert json.loads(run("why-not-run", "typed.json", "--format", "json")[1])["typed"]
    monitors[0]["state"] = "complete"
    Path("typed.json").write_text(json.dumps(record))
    status, out, _ = run("why-not-run", "typed.json")
    assert (status, "complete since codes were cleared, as typed" in out) == (0, True)


def test_of_a_step_that_is_over_it_is_told_what_can_still_be_done(run):
    """No advice asks for an acknowledgement or a test that would come too late."""
    record = json.loads(Path("RO-1001.json").read_text())
    cautions = [e for e in record["events"] if e["kind"] == "caution"]
    record["events"].remove(cautions[0])
    cautions[1]["preconditions"] = {}
    Path("less.json").write_text(json.dumps(record))
    _, out, _ = run("check", "less.json", "--format", "json")
    findings = json.loads(out)["findings"]
    told = [f["what_to_do"] for f in findings if f["question"] == "hazards-met"]
    assert len(told) > 1
    for what_to_do in told:
        assert what_to_do.startswith("the step is over: if it was ")
        assert " and no log holds the record yet, write " in what_to_do
        assert "; else give that as the reason when the order is closed" in what_to_do
        assert "; before the next such step, " in what_to_do
    _, out, _ = run("check", "RO-1002.json", "--format", "json")
    told = [f for f in json.loads(out)["findings"] if "bench test" in f["message"]]
    (finding,) = told
    assert finding["rule"] == "part-not-shown-at-fault", "it is said once"
    assert finding["what_to_do"].startswith("test the old part if it was kept")


def test_verify_tells_each_thing_once(log):
    assert log("record", "RO-1005.json", "--unproven", "in a hurry")[0] == 0
    assert log("packet", "RO-1005", "--out", "p.json")[0] == 0
    status, out, _ = log("verify", "p.json")
    lines = out.splitlines()
    assert status == 0
    assert lines[0].startswith("p.json: judged here: unproven, waiting")
    assert lines[1] == "    the shop signed unproven: that agrees"
    told = [line.strip(" |") for line in lines]
    assert len(told) == len(set(told))
    why = "the self-test for P0302 has not run: value and limits are zero"
    assert out.count(why) == 1
    assert out.count("what to do: drive until the monitor has run") == 1
    place = lines.index("    what the shop signed, besides what is told above:")
    assert any("was replaced by mechanic-1." in line for line in lines[place:])
    assert "the shop signed this too" not in out, "all of it is found here"
    assert not any("Rests on" in line or "what to do" in line for line in lines[place:])
    assert "Rests on" in log("show", "RO-1005")[1], "it was signed all the same"


def test_check_tells_each_reason_once(run):
    for name in ("RO-1002.json", "RO-1003.json", "RO-1005.json"):
        _, out, _ = run("check", name)
        findings = json.loads(run("check", name, "--format", "json")[1])["findings"]
        assert findings
        for finding in findings:
            assert out.count(finding["message"]) == 1, finding


def test_compare_takes_a_repair_record_or_a_packet(log):
    """The first readout before the repair is held against the last one after it."""
    events = json.loads(Path("RO-1001.json").read_text())["events"]
    raws = [event["raw"] for event in events if event["kind"] == "readout"]
    Path("one.txt").write_text(raws[0])
    Path("two.txt").write_text(raws[-1])
    due = json.loads(log("compare", "one.txt", "two.txt", "--format", "json")[1])
    assert log("record", "RO-1001.json")[0] == 0
    assert log("packet", "RO-1001", "--out", "p.json", "--page", "p.html")[0] == 0
    for name in ("RO-1001.json", "p.json", "p.html"):
        found = json.loads(log("compare", name, "--format", "json")[1])
        assert found.pop("before").startswith("readout 1 of ")
        assert found.pop("after").startswith(f"readout {len(raws)} of {len(raws)}")
        assert found == {k: v for k, v in due.items() if k not in {"before", "after"}}
    status, out, _ = log("compare", "RO-1004.json")
    assert (status, "typed from a display" in out) == (0, True)


def test_compare_says_what_it_lacks(log):
    record = json.loads(Path("RO-1001.json").read_text())
    last = max(i for i, e in enumerate(record["events"]) if e["kind"] == "repair")
    record["events"] = record["events"][: last + 1]
    Path("cut.json").write_text(json.dumps(record))
    status, _, err = log("compare", "cut.json")
    assert status == 2
    assert "cut.json: it has not a readout before the repair and one after it" in err
    status, _, err = log("compare", "readout.txt")
    assert (status, "readout.txt: this is one readout" in err) == (2, True)
    assert log("record", "RO-1001.json")[0] == 0
    packet = log("packet", "RO-1001")[1]
    Path("bad.json").write_text(packet.replace("delivery van", "delivery car"))
    status, _, err = log("compare", "bad.json")
    assert status == 1
    assert "bad.json: this packet is not what was signed" in err
