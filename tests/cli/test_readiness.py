"""``readiness`` takes a readout, a record or a packet, and prints the record."""

import json
from importlib.util import find_spec
from pathlib import Path

import pytest
from conftest import CHROMIUM, PASSPHRASE, forced, judge, small_record
from vehicles import Vehicle

LOOKED = ("--lamp", "lit", "--lamp-running", "dark")


@pytest.fixture
def ready(run):
    """Return the command line, in a folder with a readout of a ready vehicle."""
    Path("ready.txt").write_text(Vehicle().readout())
    return run


def test_a_record_and_its_packet_answer_alike_and_tell_what_they_know(run):
    run("init", "--shop", "Example Yard Garage", "--person", "mechanic-1")
    assert run("record", "RO-1001.json")[0] == 0
    assert run("packet", "RO-1001", "--out", "p.json")[0] == 0
    asked = ("--rules", "california", *LOOKED, "--format", "json")
    one, two = (
        json.loads(run("readiness", name, *asked)[1])
        for name in ("RO-1001.json", "p.json")
    )
    assert one["taken"].pop("sha256") != two["taken"].pop("sha256")
    assert one["taken"].pop("place").startswith("RO-1001.json: readout 2 of 2")
    assert two["taken"].pop("place").startswith("p.json: readout 2 of 2")
    assert one == two
    assert one["taken"]["captured"] == "2026-03-03T08:10:00+01:00"
    assert (one["day"], one["day_known"]) == (
        "2026-03-03",
        "as the readout was captured",
    )
    assert one["vehicle"]["vin_written"] == one["vehicle"]["vin_read"]
    assert not one["vehicle"]["vin_differs"]
    assert {a["answer"] for a in one["answers"]} == {"accept"}


def test_which_readout_of_a_record_is_asked_can_be_said(run):
    asked = ("--rules", "federal", "--lamp", "lit", "--format", "json")
    before = json.loads(run("readiness", "RO-1001.json", "--which", "1", *asked)[1])
    assert before["taken"]["place"].startswith("RO-1001.json: readout 1 of 2")
    assert {a["answer"] for a in before["answers"]} == {"fail"}
    status, _, err = run("readiness", "RO-1001.json", "--which", "3", *asked)
    assert status == 2
    assert "--which: RO-1001.json holds 2 readouts, and no number 3" in err
    assert run("readiness", "readout.txt", "--which", "0", *asked)[0] == 2


def test_a_typed_readout_is_answered_and_marked(run):
    """RO-1004 has no monitors typed: that is missing, and nothing is "none"."""
    asked = ("readiness", "RO-1004.json", "--rules", "federal", "--lamp", "lit")
    status, out, _ = run(*asked)
    assert (status, "cannot be answered yet" in out.splitlines()[0]) == (1, True)
    assert "what to do: type the monitors of the engine module as displayed" in out
    assert "    readiness: not typed\n" in out
    assert "    permanent codes: not typed\n" in out
    assert "    stored codes: none\n" in out
    assert "mark: typed from a display by a person" in out
    assert "not asked" not in out
    record = json.loads(Path("RO-1004.json").read_text())
    last = [e for e in record["events"] if e["kind"] == "readout"][-1]
    last["typed"]["modules"][0]["monitors"] = [
        {"monitor": "catalyst", "state": "complete"}
    ]
    Path("RO-1004.json").write_text(json.dumps(record))
    status, out, _ = run(*asked)
    assert (status, "    monitors complete: catalyst\n" in out) == (0, True)


def test_asked_and_no_answer_is_a_readout_and_an_empty_file_is_none(run):
    Path("silent.txt").write_text("> 0101\nNO DATA\n> 03\nNO DATA\n")
    asked = ("--model-year", "2012", "--rules", "california")
    status, out, _ = run("readiness", "silent.txt", *asked)
    assert (status, "would fail" in out.splitlines()[0]) == (1, True)
    assert "! no module answered anything [16 CCR 3340.42.2(c)(6)]" in out
    status, out, _ = run("readiness", "silent.txt", *asked[:3], "federal")
    assert (status, "look at the connector, and ask again" in out) == (1, True)
    Path("empty.txt").write_text("\n")
    status, _, err = run("readiness", "empty.txt", *asked)
    assert (status, "no answer of a vehicle was found" in err) == (2, True)


def test_what_is_given_is_said_where_it_overrides(ready):
    day = ("--date", "2014-06-01", "--reading", "table in use")
    _, out, _ = ready("readiness", "RO-1001.json", "--rules", "california", *day)
    assert "day: 2014-06-01, as it was given; but the readout was captured on" in out
    assert "table in use, given with --reading: asked alone, whatever the day" in out
    given = ("--ignition", "compression", "--rules", "federal", "--lamp", "lit")
    status, out, _ = ready("readiness", "ready.txt", *given)
    assert (status, "cannot be answered yet" in out.splitlines()[0]) == (1, True)
    assert (
        "the ignition is not certain: compression, given with --ignition and spark, as "
        "PID 01 says [no rule: what the readout itself shows]"
    ) in out
    other = ("--vin", "1ABCD23EFGH456789", "--rules", "oregon")
    status, out, _ = ready("readiness", "ready.txt", *other)
    assert (status, "would fail" in out.splitlines()[0]) == (1, True)
    assert "mark: the vehicle gave VIN 0ZZTB1A18CA000123, and 1ABCD23EFGH456789" in out
    _, out, _ = ready("readiness", "RO-1001.json", *other, "--odometer", "7 km")
    assert "VIN 1ABCD23EFGH456789, given with --vin; but 0ZZTB1A18CA000123, as the" in (
        out
    )
    assert "odometer, as a person read it: 7 km" in out


@pytest.mark.parametrize(
    ("option", "value", "told"),
    [
        ("--vin", "123", "'123' has not the form of a VIN; give its 17 characters"),
        ("--date", "soon", "'soon' is no date; write year, month and day"),
        ("--earlier", "catalyst", "'CATALYST' is no fault code; give a code such as"),
        (
            "--reading",
            "mine",
            "no interpretation of the rules federal is called 'mine'",
        ),
        ("--rules", "narnia", "did you mean california? known are california, color"),
        (
            "--rules",
            "zzz",
            "no inspection rules are called 'zzz'; known are california",
        ),
        ("--odometer", "abc", "'abc' is no odometer's reading; write digits and km or"),
        ("--odometer", "120345", "'120345' is no odometer's reading; write digits"),
    ],
)
def test_bad_options_name_themselves(ready, option, value, told):
    status, out, err = ready(
        "readiness", "ready.txt", "--rules", "federal", option, value
    )
    assert (status, out) == (2, "")
    assert err.startswith(f"auditkit: {option}: ")
    assert told in err


def packet_of(closed, catalogue, order_id, *events) -> str:
    """Return a packet of signed events that no schema let pass, as a stranger's."""
    signer = closed.signer("mechanic-1", PASSPHRASE)
    seqs = forced(closed, order_id, events, "mechanic-1", signer)
    verdict = {
        "kind": "verdict",
        "at": "2026-03-02T10:00:00+01:00",
        "by": "mechanic-1",
        "verdict": "proven",
        "findings": [],
        "rules": [],
        "policy_sha256": "0" * 64,
        "statement": [f"Repair order {order_id} is proven."],
        "judged": seqs,
    }
    forced(closed, order_id, [verdict], "mechanic-1", signer)
    # An order of its own brings the checkpoint that covers them.
    record = small_record(f"{order_id}-more")
    judgement = judge(catalogue, record)
    closed.record(record, judgement, passphrase=PASSPHRASE, unproven_reason="a test")
    return closed.packet(order_id)


@pytest.mark.parametrize(
    "change",
    [{"captured": "soon"}, {"raw": 3}, {"typed": {"modules": [3]}}, {"captured": None}],
)
def test_a_strangers_odd_readout_is_one_clear_error(run, closed, catalogue, change):
    readout = {
        "kind": "readout",
        "at": "2026-03-02T09:00:00+01:00",
        "by": "mechanic-1",
        "captured": "2026-03-02T09:00:00+01:00",
        "tool": "a tool (invented)",
        "protocol": "CAN",
        "raw": Vehicle().readout(),
    }
    opening = {**small_record().events[0], "vehicle": {"vin": 3, "model_year": "x"}}
    odd = {"kind": "amendment", "corrects": "x"}
    good = packet_of(closed, catalogue, "RO-8", opening, odd, readout)
    Path("good.json").write_text(good)
    status, out, err = run("readiness", "good.json", "--rules", "federal")
    assert (status, err) == (1, "")
    assert "model year 2012, as the VIN that was read says" in out
    bad = {name: v for name, v in {**readout, **change}.items() if v is not None}
    Path("bad.json").write_text(packet_of(closed, catalogue, "RO-9", opening, bad))
    for words in (("readiness", "bad.json"), ("compare", "bad.json")):
        status, out, err = run(*words)
        assert (status, out) == (2, "")
        assert "is no readout as it is read here" in err


def test_an_earlier_visit_counts(ready):
    waiting = Vehicle(status="0007E505").readout()
    Path("waiting.txt").write_text(waiting)
    asked = ("readiness", "waiting.txt", "--rules", "federal", "--lamp", "lit")
    _, out, _ = ready(*asked)
    assert "would be rejected as not ready" in out.splitlines()[0]
    assert "\n    what to do: drive until its monitors are complete" in out
    assert "put right" not in out
    assert "a second visit like this ends in fail: 40 CFR 85.2222(c)" in out
    _, out, _ = ready(*asked, "--earlier", "not-ready")
    assert "would fail" in out.splitlines()[0]


def test_the_page_holds_what_the_text_says_and_is_written_once(ready):
    asked = ("readiness", "ready.txt", "--rules", "california", "--page", "r.html")
    status, out, _ = ready(*asked)
    assert (status, out.splitlines()[-1]) == (1, "r.html: page written")
    page = Path("r.html").read_text()
    for told in ("cannot be answered yet", "0ZZTB1A18CA000123", "monitors complete"):
        assert told in out
        assert told in page
    assert "<script" not in page
    assert "Because:" not in page, "nothing decides it yet"
    dark = ("--lamp", "dark", "--page", "dark.html")
    out = ready(*asked[:4], *dark)[1]
    assert "\n    because the lamp " in out
    told = [line for line in out.splitlines() if line.startswith("    what to do: ")]
    right = "put right what makes it fail, then read the vehicle again"
    assert told[0] == f"    what to do: {right}", "before what else could be known"
    assert f"<h2>What to do</h2><ul><li>{right}</li>" in Path("dark.html").read_text()
    assert "<p>Because:</p><ul><li>the lamp " in Path("dark.html").read_text()
    status, _, err = ready(*asked)
    assert (status, "r.html: this file exists already" in err) == (2, True)


@pytest.mark.skipif(
    not (CHROMIUM and find_spec("axe_playwright_python")),
    reason="playwright, axe-playwright-python or chromium is absent",
)
def test_the_page_prints_on_a4_and_axe_finds_no_fault(ready, browser):
    from axe_playwright_python.sync_playwright import Axe

    rules = [f"--rules={name}" for name in ("california", "federal")]
    ready("readiness", "RO-1001.json", *rules, "--page", "r.html")
    page = browser.new_page(viewport={"width": 687, "height": 1000})
    page.set_content(Path("r.html").read_text())
    assert [rule["id"] for rule in Axe().run(page).response["violations"]] == []
    page.emulate_media(media="print")
    wide = """() => [...document.querySelectorAll('html, th, td, .wide')]
        .filter(e => e.scrollWidth > e.clientWidth + 1).map(e => e.textContent)"""
    assert page.evaluate(wide) == []
    page.emulate_media(media="screen")
    page.set_viewport_size({"width": 390, "height": 800})
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    page.close()


@pytest.fixture
def packet(run):
    """Return the command line, in a folder with the packet of the demo's repair."""
    run("init", "--shop", "Example Yard Garage", "--person", "mechanic-1")
    assert run("record", "RO-1001.json")[0] == 0
    assert run("packet", "RO-1001", "--out", "p.json")[0] == 0
    return run


def raw_of(place):
    events = json.loads(Path("RO-1001.json").read_text())["events"]
    return [e["raw"] for e in events if e["kind"] == "readout"][place]


def test_what_a_station_reads_is_held_against_the_repairs_packet(packet):
    after = raw_of(-1)
    later = after.replace("41 31 00 26", "41 31 00 56").replace("41 30 03", "41 30 06")
    assert later != after
    Path("today.txt").write_text(later)
    status, out, _ = packet("readiness", "today.txt", "--beside", "p.json")
    assert status == 0
    assert out.startswith(
        "Beside the repair of RO-1001: as far as this readout shows, the repair holds."
    )
    assert "went on since the hand-over" in " ".join(out.split())
    assert "'auditkit verify PACKET --key FINGERPRINT' compares" in " ".join(
        out.split()
    )
    status, out, _ = packet("readiness", "today.txt", "--beside", "RO-1001.json")
    assert status == 0, "a repair record tells it too"
    assert "A repair record is signed by nobody, and is not judged here" in out
    assert "signatures hold" not in out
    asked = ("readiness", "today.txt", "--beside", "RO-1001.json", "--format", "json")
    told = json.loads(packet(*asked)[1])["beside"]
    assert (told["verdict"], told["signed_verdict"]) == (None, None)


def test_a_packet_says_why_a_monitor_has_not_run_as_its_record_does(packet):
    told = packet("why-not-run", "RO-1001.json")
    assert told[0] == 0
    assert packet("why-not-run", "p.json") == told
    assert packet("record", "RO-1005.json", "--unproven", "it waits")[0] == 0
    page = ("--out", "q.json", "--page", "q.html")
    assert packet("packet", "RO-1005", *page)[0] == 0
    told = packet("why-not-run", "RO-1005.json")
    assert (told[0], "Not complete" in told[1]) == (1, True)
    for carried in ("q.json", "q.html"):
        assert packet("why-not-run", carried) == told
    Path("q.json").write_text(Path("q.json").read_text().replace("Misfire", "Missfire"))
    status, out, err = packet("why-not-run", "q.json")
    assert (status, out) == (1, "")
    assert "this packet is not what was signed" in err


def test_the_packets_own_verdict_is_told_as_it_is_judged_here(packet):
    asked = ("readiness", "readout.txt", "--beside", "p.json")
    verify = json.loads(packet("verify", "p.json", "--format", "json")[1])["verdict"]
    out = " ".join(packet(*asked)[1].split())
    assert f"The packet, judged here: {verify}: " in out
    assert f"; the shop signed {verify}: that agrees." in out
    told = json.loads(packet(*asked, "--format", "json")[1])["beside"]
    assert (told["verdict"], told["signed_verdict"]) == (verify, verify)


def test_a_verdict_that_the_evidence_does_not_bear_out_is_told_as_that(
    run, closed, catalogue
):
    events = json.loads(Path("RO-1001.json").read_text())["events"]
    readouts = [e for e in events if e["kind"] == "readout"]
    lie = packet_of(closed, catalogue, "RO-9", small_record().events[0], *readouts)
    Path("lie.json").write_text(lie)
    asked = ("readiness", "readout.txt", "--beside", "lie.json")
    differs = "; the shop signed proven; the evidence in this packet says unproven."
    out = " ".join(run(*asked)[1].split())
    assert "The packet, judged here: unproven: " in out
    assert differs in out
    told = json.loads(run(*asked, "--format", "json")[1])["beside"]
    assert (told["verdict"], told["signed_verdict"]) == ("unproven", "proven")
    run(*asked, "--page", "page.html")
    assert differs in Path("page.html").read_text()


def test_a_fault_that_is_back_beside_the_packet_ends_with_1(packet):
    Path("today.txt").write_text(
        raw_of(-1).replace("7E8 02 47 00 00 00 00 00", "7E8 04 47 01 04 01 00 00")
    )
    asked = ("readiness", "today.txt", "--beside", "p.json")
    status, out, _ = packet(*asked)
    assert status == 1
    assert "a fault that was repaired is back" in out.splitlines()[0]
    assert "not known to be of today" not in out
    assert "P0401 is pending in engine module 7E8" in out
    told = json.loads(packet(*asked, "--format", "json")[1])["beside"]
    assert (told["answer"], told["repair_order"]) == ("fault-back", "RO-1001")
    assert told["hand_over"].startswith("readout 2 of 2 in RO-1001")
    assert packet(*asked, "--page", "page.html")[0] == 1
    page = Path("page.html").read_text()
    answer = "Beside the repair of RO-1001: a fault that was repaired is back."
    assert page.index(answer) < page.index("No rules were asked."), "the answer first"
    assert page.index("own procedure decides") < page.index("The record</h2>")
    assert "find the remaining cause" in page


def test_the_shops_own_readout_is_no_readout_of_today(packet):
    for place in (0, -1):
        Path("today.txt").write_text(raw_of(place))
        status, out, _ = packet("readiness", "today.txt", "--beside", "p.json")
        assert status == 1
        assert out.startswith("This file is not known to be of today: ")
        assert "a readout that the shop took, or nothing ran since" in out
        old = "from before the hand-over, and says nothing for or against" in out
        assert old == (place == 0)
        back = [
            line for line in out.splitlines() if "the repaired fault is back" in line
        ]
        asked = "? if it is of today all the same, it says: "
        assert all(line.strip().startswith(asked) for line in back)
        assert len(back) == (place == 0)
        packet(
            "readiness", "today.txt", "--beside", "p.json", "--page", f"{place}.html"
        )
        assert "speaks against the repair" not in Path(f"{place}.html").read_text()
    asked = ("readiness", "today.txt", "--beside", "p.json", "--rules", "federal")
    assert packet(*asked, "--page", "old.html")[1].startswith("This file is not known")
    page = Path("old.html").read_text()
    assert page.index("This file is not known") < page.index("United States, federal")


def test_beside_asks_for_a_repair(packet):
    status, _, err = packet("readiness", "readout.txt", "--beside", "readout.txt")
    assert status == 2
    assert "readout.txt: this is a readout, and tells of no repair" in err
    Path("note.txt").write_text("auditkit/receipt@1\nrepair_order: RO-1001\n")
    status, _, err = packet("readiness", "readout.txt", "--beside", "note.txt")
    assert (status, "note.txt: no repair is in this file; name the packet" in err) == (
        2,
        True,
    )
    altered = Path("p.json").read_text().replace("EX-EGR-1", "EX-EGR-2")
    Path("altered.json").write_text(altered)
    status, _, err = packet("readiness", "readout.txt", "--beside", "altered.json")
    assert status == 1
    assert "this packet is not what was signed" in err


def test_many_readouts_are_held_against_each_other(run):
    folder = Path("records")
    folder.mkdir()
    for number, (vin, far) in enumerate(
        (("0ZZTB1A18CA000123", 2000), ("0ZZTB1A1XCA000124", 2070))
    ):
        text = Vehicle(vin=vin, distance=far).readout()
        (folder / f"{number}.txt").write_text(text)
    assert run("readiness", "records")[:2] == (
        0,
        "2 readouts of 2 VINs: nothing to ask.\n",
    )
    copied = Vehicle(vin="0ZZTB1A15CA000130", distance=2000).readout()
    (folder / "2.txt").write_text(copied)
    status, out, _ = run("readiness", "records")
    assert status == 1
    assert out.startswith("3 readouts of 3 VINs: 1 question.\n? every live and")
    assert f"    {folder / '0.txt'}\n    {folder / '2.txt'}\n    what to do: " in out
    assert "A question accuses nobody" in out
    told = json.loads(run("readiness", "records", "--format", "json")[1])
    (question,) = told["questions"]
    assert question["name"] == "same-answers"
    assert question["readouts"] == [str(folder / "0.txt"), str(folder / "2.txt")]


def test_a_checkpoint_is_no_readout_whatever_its_size_looks_like(run):
    root = "A" * 43 + "="
    Path("at.checkpoint").write_text(f"garage.example/log\n61\n{root}\n\n— a AAAA\n")
    status, out, err = run("readiness", "at.checkpoint")
    assert (status, out) == (2, "")
    assert "at.checkpoint: this is a checkpoint, not a readout; name a readout" in err
    _, out, _ = run("readiness", "readout.txt", "at.checkpoint")
    assert "not read: at.checkpoint: this is a checkpoint" in out


def test_the_page_has_no_column_in_which_nothing_stands(ready):
    asked = ("readiness", "ready.txt", "--rules", "federal", "--page")
    assert ready(*asked, "asked.html")[0] == 1
    assert '<th scope="col">What to do</th>' in Path("asked.html").read_text()
    assert ready(*asked, "looked.html", "--lamp", "lit")[0] == 0
    looked = Path("looked.html").read_text()
    assert '<th scope="col">Where it stands</th>' in looked
    assert "What to do" not in looked


def test_of_many_readouts_one_that_cannot_be_read_is_named(run):
    Path("none.txt").write_text("no readout")
    status, out, _ = run("readiness", "readout.txt", "none.txt")
    assert status == 2
    assert "not read: none.txt: no answer of a vehicle was found" in out
    status, _, err = run("readiness", "readout.txt", "RO-1001.json", "--vin", "x" * 17)
    assert (status, "--vin" in err) == (2, True)
    Path("empty").mkdir()
    status, _, err = run("readiness", "empty")
    assert (status, "empty: there is no file in this folder" in err) == (2, True)


def test_a_records_own_readout_given_beside_it_is_asked_about(run):
    status, out, _ = run("readiness", "readout.txt", "RO-1001.json")
    assert status == 1
    assert "is one a copy of another?" in out
    assert "    RO-1001.json: readout 1 of 2 in RO-1001" in out


def test_records_that_were_written_are_held_against_each_other_and_readouts(run):
    """A station keeps what --format json printed, and perhaps no readout."""
    folder = Path("records")
    folder.mkdir()
    vins = ("0ZZTB1A18CA000123", "0ZZTB1A1XCA000124", "0ZZTB1A15CA000130")
    for number, vin in enumerate(vins):
        own = 0 if number != 1 else 70
        made = Vehicle(vin=vin, distance=2000 + own, minutes=3000 + 2 * own)
        Path(f"{number}.txt").write_text(made.readout())
        record = run("readiness", f"{number}.txt", "--format", "json")[1]
        assert json.loads(record)["format"] == "auditkit/pre-test@1"
        (folder / f"{number}.json").write_text(record)
    status, out, _ = run("readiness", "records")
    assert status == 1
    assert out.startswith("3 readouts of 3 VINs: 1 question.")
    assert "every count and value of the record is the same under 2 VINs" in out
    assert "records/0.json\n    records/2.json\n" in out
    status, out, _ = run("readiness", "records/1.json", "2.txt")
    assert (status, "nothing to ask" in out) == (0, True)
    assert run("readiness", "records/0.json", "2.txt")[0] == 1
    whole = json.loads(Path("records/0.json").read_text())
    for name in ("modules", "vehicle"):
        Path("torn.json").write_text(json.dumps({**whole, name: [1]}))
        status, out, _ = run("readiness", "torn.json", "2.txt")
        assert status == 2
        assert "not read: torn.json: this is no whole auditkit/pre-test@1" in out


def test_a_typed_hand_over_counts_too(run):
    """RO-1004's counts were typed off a display, which names no module."""
    record = json.loads(Path("RO-1004.json").read_text())
    last = [e for e in record["events"] if e["kind"] == "readout"][-1]["typed"]
    minutes = int(last["counts"]["minutes"]["value"])
    vehicle = Vehicle(
        vin=last["vin"],
        calibration=last["modules"][0]["calibrations"][0],
        distance=140,
        minutes=minutes + 156,
        warm_ups=5,
        tests={(0x41, 0x81, 0xFD): (200, 0, 400)},
    )
    Path("today.txt").write_text(vehicle.readout())
    asked = ("readiness", "today.txt", "--beside", "RO-1004.json")
    status, out, _ = run(*asked)
    assert status == 0
    assert "156 minutes of engine run since the clear (the vehicle)" in " ".join(
        out.split()
    )
    Path("today.txt").write_text(vehicle.but(minutes=minutes - 10).readout())
    status, out, _ = run(*asked)
    assert (status, "codes were cleared since the hand-over" in out) == (1, True)
