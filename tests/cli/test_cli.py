"""The command line: exit statuses, one clear line for every mistake, JSON shapes."""

import hashlib
import io
import json
import re
import subprocess
import sys
from importlib.resources import files
from pathlib import Path

import pytest

from auditkit.cli.commands import COMMANDS
from auditkit.obd.code_table import ANYWHERE, row_of
from auditkit.plugin.loading import load_catalogue
from auditkit.proof.cosignature import cosign, make_cosigner
from auditkit.proof.keys import PrivateKey
from auditkit.proof.receipt import parse_receipt, receipt_address


@pytest.fixture
def log(run):
    assert (
        run("init", "--shop", "Example Yard Garage", "--person", "mechanic-1")[0] == 0
    )
    return run


def test_help_of_every_command_shows_an_example(run):
    assert run("--help")[0] == 0
    for name in COMMANDS:
        status, out, _ = run(name, "--help")
        assert status == 0
        assert "Example: auditkit" in out


QUESTIONS = (
    "Fault reported before the repair (P0401, engine module 7E8)",
    "Part can cause the fault (P0401, engine module 7E8)",
    "Part faulty before the repair (EGR valve)",
    "Vehicle's own test run again (P0401, engine module 7E8)",
    "Vehicle's own test passed (P0401, engine module 7E8)",
    "Fault gone (P0401, engine module 7E8)",
    "No other fault left open",
    "Same vehicle before and after",
    "Order of the steps",
    "Cautions acknowledged in time",
)


def test_check_counts_advice_beside_the_answer(run):
    record = json.loads(Path("RO-1002.json").read_text())
    kinds = [event["kind"] for event in record["events"]]
    place = kinds.index("repair")
    looked = {"kind": "bench_test", "part": "coil-1", "test": "looked at"}
    looked |= {name: record["events"][place][name] for name in ("at", "by")}
    record["events"].insert(place, looked)
    Path("looked.json").write_text(json.dumps(record))
    _, out, _ = run("check", "looked.json")
    assert out.splitlines()[0].endswith(" (1 advice)")
    assert "bench-test-incomplete: advice: the bench test of coil-1 has no " in out


def test_check_says_the_answer_first(run):
    status, out, _ = run("check", "RO-1001.json")
    lines = out.splitlines()
    assert status == 0
    assert lines[0] == (
        "RO-1001.json: proven, as if each step were recorded on time: each question by "
        "the best evidence that it asks for"
    )
    assert "by the log" not in out, "no log holds it"
    told = "Order of the steps: shown, as if each step were recorded on time: "
    assert told in out
    assert lines[1] == (
        "    Repair of P0401 (engine module 7E8; exhaust gas recirculation flow, "
        "or its control): proven."
    )
    for question, line in zip(QUESTIONS, lines[2:], strict=True):
        assert line.startswith(f"    {question}: shown, "), "one line each"
    status, out, _ = run("check", "RO-1002.json")
    assert status == 1
    lines = out.splitlines()
    assert lines[0] == (
        "RO-1002.json: unproven: not shown: part faulty before the repair, vehicle's "
        "own test run again, vehicle's own test passed"
    )
    coil = "    Part faulty before the repair (ignition coil of cylinder 1): not shown"
    assert f"{coil}\n" in out, "why stands below, once"
    assert out.count("coil-1 was worked on without a bench test") == 1
    test = "    Vehicle's own test passed (P0301, engine module 7E8): waiting, a later"
    assert test in out
    place = lines.index(
        "RO-1002.json: part-not-shown-at-fault: coil-1 was worked on without a bench "
        "test of it before"
    )
    assert lines[place + 1].startswith("    what to do: test the old part if")
    status, out, _ = run("check", "RO-1003.json")
    assert status == 1
    assert out.startswith("RO-1003.json: contradicted")
    told = "Fault gone (P0442, engine module 7E8): the evidence speaks against it\n"
    assert told in out


@pytest.mark.parametrize(
    ("order", "least", "status"),
    [
        ("RO-1001", "proven", 0),
        ("RO-1004", "vouched", 0),
        ("RO-1004", "proven", 1),
        ("RO-1005", "vouched", 1),
    ],
)
def test_check_ends_by_what_the_policy_asks(run, order, least, status):
    Path("p.toml").write_text(f'format = "auditkit/policy@1"\nleast = "{least}"\n')
    assert run("check", f"{order}.json", "--policy", "p.toml")[0] == status


def test_check_json(run):
    status, out, _ = run("check", "RO-1002.json", "--format", "json")
    found = json.loads(out)
    assert (status, found["repair_order"], found["verdict"]) == (
        1,
        "RO-1002",
        "unproven",
    )
    assert set(found) == {
        *("repair_order", "verdict", "waiting", "faults", "answers", "findings")
    }
    assert found["faults"] == [
        {"fault": "P0301@7E8", "verdict": "unproven", "set_aside": None}
    ]
    assert [(a["question"], a["answer"]) for a in found["answers"]] == [
        ("fault-known", "shown"),
        ("part-explains", "shown"),
        ("part-at-fault", "not-shown"),
        ("test-reran", "waiting"),
        ("test-passed", "waiting"),
        ("fault-gone", "shown"),
        ("nothing-else", "shown"),
        ("same-vehicle", "shown"),
        ("order-of-time", "shown"),
        ("hazards-met", "shown"),
    ]
    for answer in found["answers"]:
        assert set(answer) == {
            *("question", "subject", "answer", "strength", "because", "what_to_do"),
            "events",
        }
        assert bool(answer["strength"]) is (answer["answer"] == "shown")
        assert bool(answer["what_to_do"]) is (answer["answer"] != "shown")
    for finding in found["findings"]:
        assert set(finding) == {
            *("rule", "severity", "message", "event", "what_to_do", "question")
        }
        assert finding["severity"] in ("blocking", "advisory")
    _, out, _ = run("check", "RO-1001.json", "RO-1003.json", "--format", "json")
    assert [f["verdict"] for f in json.loads(out)] == ["proven", "contradicted"]


def test_record_show_list_packet_verify(log):
    status, out, _ = log("record", "RO-1001.json")
    assert (status, "entries 2 to 14 written" in out) == (0, True)
    status, out, _ = log("record", "RO-1001.json")
    assert (status, "nothing written" in out) == (0, True)
    status, out, _ = log("list")
    assert out.startswith("RO-1001  vouched  12 events  entries 2 to 14  ")
    status, out, _ = log("show", "RO-1001")
    told = "vouched: it rests on the shop's word for: order of the steps"
    assert out.startswith(f"Repair order RO-1001 is {told}")
    assert "Recorded late: 12 of 12 steps were recorded more than 24 h after" in out
    assert "faulty: end pressure 6.52 +/- 0.75 inHg (vacuum)" in out
    assert "it should be at least 15.0 inHg" in out
    assert (
        "self-test 31/81 (EGR bank 1) passed: 6.12 kPa, minimum 3.50, maximum none"
        in out
    )
    assert log("packet", "RO-1001", "--out", "p.json")[0] == 0
    status, out, _ = log("verify", "p.json")
    assert (status, out.startswith(f"p.json: judged here: {told}")) == (0, True)
    assert "record unaltered" in out
    fingerprint = json.loads(log("key", "show", "--format", "json")[1])["log_key"]
    assert log("verify", "p.json", "--key", fingerprint)[0] == 0
    assert log("verify", "p.json", "--key", "A" * 43)[0] == 1
    status, out, _ = log("verify", "shop.auditlog", "--format", "json")
    found = json.loads(out)
    assert (status, found["verified"], found["entries"]) == (0, True, 15)
    assert set(found["checkpoint"]) == {"origin", "size", "root"}
    assert found["problems"] == []


def test_pages_are_written_once_and_the_checker_names_its_digest(log):
    assert log("record", "RO-1001.json")[0] == 0
    assert log("packet", "RO-1001", "--page", "RO-1001.html")[0] == 0
    assert "auditkit/packet@1" in Path("RO-1001.html").read_text()
    status, out, _ = log("checker", "--out", "check.html")
    digest = hashlib.sha256(Path("check.html").read_bytes()).hexdigest()
    assert (status, digest in out) == (0, True)
    assert log("checker", "--out", "check.html")[0] == 2, "never over a file"


def test_record_says_why_it_is_not_proven(log):
    """The demo's order is old: today it is recorded late."""
    status, out, _ = log("record", "RO-1001.json")
    lines = out.splitlines()
    assert (status, lines[0].startswith("RO-1001.json: RO-1001: vouched: ")) == (
        0,
        True,
    )
    assert (
        lines[1] == "    vouched: it rests on the shop's word for: order of the steps"
    )
    assert lines[2] == (
        "    12 of 12 steps were recorded more than 24 h after the time that they claim"
    )
    _, out, _ = log("check", "RO-1001.json", "--log", "shop.auditlog")
    assert "as if" not in out, "the log holds it"


def test_what_another_signed_is_told_by_who_records_and_by_who_reads(log):
    text = Path("RO-1001.json").read_text()
    text = text.replace('"by": "mechanic-1"', '"by": "mechanic-2"')
    Path("other.json").write_text(text)
    status, out, _ = log("record", "other.json")
    assert status == 0
    assert "part faulty before the repair" in out
    assert "cautions acknowledged in time" in out
    assert log("packet", "RO-1001", "--out", "p.json")[0] == 0
    status, out, _ = log("verify", "p.json")
    assert status == 0
    assert "the shop signed vouched: that agrees" in out
    assert "on mechanic-1's word for mechanic-2 (bench test of egr-valve)" in out
    assert "Recorded by mechanic-1 for mechanic-2, who did not sign: opening" in out
    assert "that mechanic-2 did this, mechanic-1 says." in out


def test_record_is_refused_where_something_blocks(log):
    status, out, _ = log("record", "RO-1001.json", "RO-1002.json")
    assert status == 1
    assert "Nothing was written" in out
    assert log("list")[1].startswith("shop.auditlog: no repair order yet")
    status, out, _ = log("record", "RO-1002.json", "--unproven", "customer in a hurry")
    assert (status, "unproven: entries" in out) == (0, True)
    assert "Closed all the same: customer in a hurry" in log("show", "RO-1002")[1]


def test_verify_asks_for_the_cosignatures_that_a_reviewer_wants(log):
    assert log("record", "RO-1001.json")[0] == 0
    assert log("packet", "RO-1001", "--out", "p.json")[0] == 0
    assert log("checkpoint", "--out", "own.checkpoint")[0] == 0
    vkey = json.loads(Path("p.json").read_text())["log_key"]
    key = PrivateKey.generate()
    witness = make_cosigner("w.example/1", key.public)
    Path("policy").write_text(f"log {vkey}\nwitness w {witness.vkey}\nquorum w\n")
    wanted = ("--witnesses", "policy")
    status, out, _ = log("verify", "p.json", *wanted)
    assert (status, "given by: nobody" in out) == (1, True)
    assert "nothing shows that this one was altered" in out
    assert "do not rely on it" not in out
    own = Path("own.checkpoint").read_text()
    line = cosign(own.rpartition("\n\n")[0] + "\n", witness.name, key, 1_770_000_000)
    Path("cosigned").write_text(own + line)
    status, out, _ = log("verify", "p.json", "--trust", "cosigned", *wanted)
    assert (status, "cosigned by w; wanted" in out) == (0, True)
    assert log("verify", "shop.auditlog", "--trust", "cosigned", *wanted)[0] == 0
    status, out, _ = log("verify", "shop.auditlog", *wanted)
    assert (status, "witnesses: nobody spoke; wanted: w" in out) == (1, True)


def test_a_packet_must_agree_with_the_receipt(log):
    for order in ("RO-1001", "RO-1003"):
        how = () if order == "RO-1001" else ("--unproven", "a test")
        assert log("record", f"{order}.json", *how)[0] == 0
        assert log("packet", order, "--out", f"{order}.packet")[0] == 0
        assert log("receipt", f"{order}.packet", "--text", f"{order}.receipt")[0] == 0
    given = ("--receipt", "RO-1001.receipt")
    assert log("verify", "RO-1001.packet", *given)[0] == 0
    paper = json.loads(log("verify", "RO-1001.packet", *given, "--format", "json")[1])
    assert "VIN: 0ZZTB1A18CA000123" in paper["paper"]
    receipt = parse_receipt(Path("RO-1001.receipt").read_text())
    page = "https://checker.example/check.html"
    Path("scanned").write_text(receipt_address(page, receipt))
    since = ("packet", "RO-1001", "--since", "scanned", "--out", "later.packet")
    assert log(*since)[0] == 0
    status, out, _ = log("verify", "later.packet", "--receipt", "scanned")
    assert (status, "the receipt agrees" in out) == (0, True)
    status, out, _ = log("verify", "RO-1003.packet", *given)
    assert (status, "the receipt: " in out) == (1, True)
    Path("torn").write_text(Path("RO-1001.receipt").read_text()[:-20])
    assert log("verify", "RO-1001.packet", "--receipt", "torn")[0] == 2
    assert log("verify", "shop.auditlog", *given)[0] == 2


def test_a_readout_of_another_order_is_found_among_files_and_in_the_log(log):
    record = json.loads(Path("RO-1001.json").read_text())
    record["repair_order"] = "RO-2001"
    Path("RO-2001.json").write_text(json.dumps(record))
    status, out, _ = log("check", "RO-1001.json", "RO-2001.json")
    assert (status, out.count("readout-of-another-order")) == (1, 4)
    assert log("record", "RO-1001.json")[0] == 0
    assert log("check", "RO-2001.json")[0] == 0, "nobody named the log"
    status, out, _ = log("check", "--log", "shop.auditlog", "RO-2001.json")
    assert status == 1
    assert "answer for answer one of repair order RO-1001" in out
    status, out, _ = log("record", "RO-2001.json")
    assert (status, "Nothing was written" in out) == (1, True)
    assert log("record", "RO-1001.json")[0] == 0, "an order is not its own copy"


def test_verify_with_an_earlier_checkpoint(log):
    assert log("checkpoint", "--out", "old.checkpoint")[0] == 0
    log("record", "RO-1001.json")
    assert log("verify", "shop.auditlog", "--trust", "old.checkpoint")[0] == 0
    log("checkpoint", "--out", "new.checkpoint")
    Path("new.checkpoint").rename("x")
    log("init", "--shop", "Other", "--person", "mechanic-1", "--log", "other.auditlog")
    status, out, _ = log("verify", "other.auditlog", "--trust", "x")
    assert status == 1
    assert "record NOT verified: " in out


def test_decode(run):
    status, out, _ = run("decode", "readout.txt", "--format", "json")
    found = json.loads(out)
    assert status == 0
    assert found["codes"]["confirmed"] == ["P0401"]
    first = found["self_tests"][0]
    assert (first["mid"], first["tid"], first["uasid"]) == ("31", "81", "17")
    assert (first["value"], first["minimum"], first["unit"]) == ("2.14", "3.50", "kPa")
    assert first["outcome"] == "failed"
    assert first["raw_value"] == 214
    status, out, _ = run("decode", "readout.txt")
    assert "self-test 31/81 (EGR bank 1) failed: 2.14 kPa" in out


@pytest.mark.parametrize(
    "text", ["auditkit/receipt@1\nrepair_order: RO-1\n", "{}", "", "# nothing\n"]
)
def test_decode_refuses_a_file_that_is_no_readout(run, text):
    Path("other").write_text(text)
    status, out, err = run("decode", "other")
    assert (status, out) == (2, "")
    assert err.startswith("auditkit: other: this is no readout")
    assert "packet say, 'auditkit compare FILE' shows" in err
    assert err.count("\n") == 1
    Path("other").write_text(f"{text}\n7E8 03 41 0C 00\n")
    assert run("decode", "other")[0] == 0, "one line of it is an answer"


@pytest.mark.parametrize(
    "command",
    [
        ["decode"],
        ["compare", "readout.txt"],
        ["why-not-run"],
        ["readiness", "--rules", "california"],
        ["readiness", "readout.txt", "--rules", "california", "--beside"],
    ],
    ids=" ".join,
)
def test_a_readout_that_is_too_long_is_told_by_its_file(run, command):
    Path("long").write_text("> 0101\n7E8 06 41 01 81 07 E5 80 00\n" * 30_000)
    status, out, err = run(*command, "long")
    assert (status, out) == (2, "")
    assert err.startswith("auditkit: long: the text is longer than 1048576 bytes; ")
    assert "out of a longer CAN log 'auditkit capture --from-log FILE" in err


METER = "unit=V,low=0,high=20,resolution=0.01,percent_of_reading=0.5,digits=2"
CLAMP = "unit=A,low=0,high=100,resolution=0.1,percent_of_reading=2"


@pytest.mark.parametrize(
    ("drop", "due", "status", "answer"),
    [
        ("1.20", "2999-01-01", 0, "faulty"),
        ("0.10", "2999-01-01", 0, "good"),
        ("0.50", "2999-01-01", 1, "inconclusive"),
        ("1.20", "2020-01-01", 0, "faulty, as typed"),
        ("above 20", "2999-01-01", 0, "faulty"),
        ("below 0.05", "2999-01-01", 0, "good"),
        ("above 0.10", "2999-01-01", 1, "inconclusive"),
        ("above 60", "2999-01-01", 1, "not valid"),
    ],
)
def test_bench_computes_one_test_without_a_log(run, drop, due, status, answer):
    days = f"calibrated_on=2019-01-01,due={due}"
    got, out, _ = run(
        "bench",
        *("--method", "voltage-drop"),
        *("--reading", f"voltage drop={drop} V", "--reading", "load current=12.0 A"),
        *("--condition", "rated current=12 A", "--maximum", "0.50"),
        *("--limit-unit", "V", "--limit-source", "invented for this test"),
        *("--limit-of", "voltage drop at rated current"),
        *("--instrument", f"id=m,{METER},{days}"),
        *("--instrument", f"id=c,{CLAMP},{days}"),
    )
    assert got == status
    assert out.startswith(f"bench: {answer}")
    assert ("17025" in out) is (answer != "not valid")


def test_report_holds_the_items_of_a_test_report_and_loads_nothing(run):
    args = ("report", "RO-1001.json", "--out", "r.html", "--issued", "2026-03-03")
    assert run(*args)[0] == 0
    page = Path("r.html").read_text()
    for item in "bcdefghijklmnop":
        assert f"{item})" in page, f"ISO/IEC 17025:2017 7.8.2.1 {item} (from memory)"
    assert page.count("7.8.6") >= 2
    assert "faulty" in page
    assert "6.52 +/- 0.75 inHg (vacuum)" in page
    assert "<svg" in page
    assert "://" not in page.replace("http://www.w3.org/2000/svg", "")
    assert "default-src 'none'" in page
    assert run(*args)[0] == 2, "never over a file"
    Path("r2.html").unlink(missing_ok=True)
    assert run(*args[:3], "r2.html", *args[4:])[0] == 0
    assert Path("r2.html").read_bytes() == Path("r.html").read_bytes()
    status, _, err = run("report", "RO-1002.json", "--out", "r3.html")
    assert (status, "no bench test to report" in err) == (2, True)


def test_bench_draws_its_picture(run):
    record = json.loads(Path("RO-1001.json").read_text())
    test = next(e for e in record["events"] if e["kind"] == "bench_test")
    Path("test.json").write_text(json.dumps(test))
    assert run("bench", "test.json", "--plot", "test.svg")[0] == 0
    assert Path("test.svg").read_text().startswith("<svg")
    assert run("bench", "test.json", "--plot", "test.svg")[0] == 2, "never over a file"


def test_bench_refuses_what_it_cannot_use_in_one_line(run):
    Path("test.json").write_text('{"kind": "bench_test"}')
    assert run("bench", "test.json")[0] == 2
    status, _, err = run("bench", "--method", "voltage-drop", "--reading", "12 V")
    assert (status, "NAME=VALUE UNIT" in err) == (2, True)
    status, _, err = run("bench", "--method", "guess")
    assert (status, "seal-hold" in err) == (2, True)


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (("--reading", "voltage drop=14,8 V"), "with a point: 14.8"),
        (("--reading", "voltage drop=1,024 V"), "or without the comma: 1024"),
        (("--reading", "voltage drop=14.8"), "has no unit"),
        (("--reading", "voltage drop=-.5 V"), "write -0.5"),
        (("--reading", "voltage drop=OL V"), 'such as "above 40 Mohm"'),
        (("--reading", "voltage drop=.O.L"), 'such as "above 40 Mohm"'),
        (("--condition", "rated current=12,5 A"), "with a point: 12.5"),
        (("--maximum", "0,5"), "with a point: 0.5"),
        (("--instrument", "unit=V,high=14,8"), "with a point: 14.8"),
        (("--reading", "voltage dorp=1 V"), "write 'voltage drop'"),
        (
            ("--condition", "weather=fine"),
            "auditkit bench --method voltage-drop' shows",
        ),
    ],
)
def test_bench_says_how_to_write_what_it_cannot_read(run, given, said):
    status, _, err = run("bench", "--method", "voltage-drop", *given)
    assert (status, said in err) == (2, True), err


def test_bench_asks_about_what_an_instrument_cannot_claim(run):
    arguments = (
        *("bench", "--method", "direct-reading", "--reading", "voltage=14.0 V"),
        *("--minimum", "13", "--limit-unit", "V", "--limit-source", "invented"),
        *("--instrument", "id=m,unit=V,low=0,high=20,resolution=0.1,absolute=0.01,"),
    )
    days = "calibrated_on=2019-01-01,due=2999-01-01"
    status, out, _ = run(*arguments[:-1], arguments[-1] + days)
    assert (status, "    ask: m claims +/- 0.01 V" in out) == (0, True)
    _, told, _ = run(*arguments[:-1], arguments[-1] + days, "--format", "json")
    assert "half a digit" in json.loads(told)["doubts"][0]


def test_bench_names_the_methods_that_fit_a_code(run):
    status, out, _ = run("bench", "--for", "p0128")
    lines = out.splitlines()
    assert (status, lines[0].partition(":")[0]) == (0, "P0128")
    assert lines[1:3] == [
        "Everyday tests for this code:",
        "    thermostat [cooling]: switching-point",
    ]
    listed = {line.rpartition(": ")[2] for line in lines if "]: " in line}
    short = [re.match(r"    ([a-z-]+): (.*)", line) for line in lines]
    others = {found[1]: found[2] for found in short if found}
    for parts in others.values():
        listed |= {part.rpartition(" (")[2].rstrip(")") for part in parts.split("; ")}
    assert listed <= set(load_catalogue().bench_tests)
    row = row_of("P0128")
    assert set(re.findall(r"\[([a-z-]+)\]: ", out)) == {row.system}
    everyday = {one for one in row.plausible if row.everyday_parts(one) != ()}
    assert everyday == {"engine-mechanical"}, "no part of the intake with a test"
    assert set(others) == {*everyday, *ANYWHERE}
    for wrong in ("P01", "X0128", "0128", "P4128", "P012G"):
        status, _, err = run("bench", "--for", wrong)
        assert (status, "such as P0128" in err) == (2, True), wrong


def _listed(method, out):
    """Return what a kind's list names, each given a value, in the words of the list."""
    for line in out.splitlines():
        if found := re.match(r'    (must|may) +(--\w+) "(.+)=(.+)": (.+)', line):
            _, option, name, value, kinds = found.groups()
            kind = kinds.partition(";")[0].partition(" or ")[0]
            units = re.search(rf"^units of {kind}: ([^,;\n]+)", out, re.MULTILINE)
            if value == "WORD":
                text = kinds.partition(", ")[0]
            else:
                assert units is not None, (method, kind)
                text = f"1 {units[1]}" + " (gauge)" * (kind == "pressure")
            yield from (option, f"{name}={text}")


def test_bench_accepts_every_word_that_it_lists(run):
    # Each kind is given all that its list names: none of it is refused as unknown,
    # misspelt or of another kind.
    kinds = load_catalogue().bench_tests
    assert len(kinds) > 11
    for method in kinds:
        status, out, _ = run("bench", "--method", method)
        assert (status, out.partition(":")[0]) == (0, method)
        given = [*_listed(method, out)]
        assert given, method
        status, out, err = run("bench", "--method", method, *given)
        assert status in {0, 1}, (method, err)
        for refused in ("is not a unit", "is missing", "is no value", "is not known"):
            assert refused not in out, (method, out)


def test_bench_alone_is_a_short_list_by_system(run):
    status, out, _ = run("bench")
    lines = out.splitlines()
    assert status == 0
    assert len(lines) < 50
    rows = dict(re.split(r"  +", line, maxsplit=1) for line in lines[:-2])
    cooling = "direct-reading, seal-hold, switching-point, temperature-sensor"
    assert rows["cooling"] == cooling
    kinds = {name for row in rows.values() for name in row.split(", ")}
    assert kinds == set(load_catalogue().bench_tests), "each can be found"
    assert "auditkit bench --method seal-hold" in lines[-2]
    assert "auditkit bench --for P0128" in lines[-1]


def test_a_specification_that_cannot_be_is_refused_in_one_line(log):
    record = json.loads(Path("RO-1001.json").read_text())
    test = next(e for e in record["events"] if e["kind"] == "bench_test")
    test["instruments"][0]["specification"]["certificate_k"] = "0"
    Path("RO-1001.json").write_text(json.dumps(record))
    Path("test.json").write_text(json.dumps(test))
    for command in ("record", "check"):
        status, _, err = log(command, "RO-1001.json")
        assert status == 2
        assert "/instruments/0/specification/certificate_k" in err
        assert "above zero" in err
    status, _, err = log("bench", "test.json")
    assert (status, "above zero" in err) == (2, True)


def test_compare_shows_values_limits_and_margin_side_by_side(run):
    events = json.loads(Path("RO-1001.json").read_text())["events"]
    raws = [e["raw"] for e in events if e["kind"] == "readout"]
    Path("before.txt").write_text(raws[0])
    Path("after.txt").write_text(raws[-1])
    status, out, _ = run("compare", "before.txt", "after.txt")
    assert status == 0
    assert out.startswith("2 of 2 self-tests changed; fault codes: 1 gone, 0 new")
    assert "Code gone: P0401 (7E8; was stored, permanent)" in out
    assert "before  2.14 kPa, minimum 3.50, maximum none: failed" in out
    assert "after   6.12 kPa, minimum 3.50, maximum none: passed" in out
    found = json.loads(run("compare", "before.txt", "after.txt", "--format", "json")[1])
    assert found["self_tests"][0]["after"]["margin"] == "0.749"


def test_readiness_says_the_answer_first_and_defers(run):
    events = json.loads(Path("RO-1001.json").read_text())["events"]
    raws = [e["raw"] for e in events if e["kind"] == "readout"]
    Path("before.txt").write_text(raws[0])
    Path("after.txt").write_text(raws[-1])
    looked = ("--lamp", "lit", "--lamp-running", "dark")
    status, out, err = run("readiness", "after.txt", "--rules", "california", *looked)
    title = "California, inspection rules for the on-board system"
    assert (status, err) == (0, "")
    assert out.startswith(f"{title}: would be accepted, by both interpretations ")
    assert f"\n{title}, regulation: all monitors complete: accept\n" in out
    assert "own procedure decides" in out
    # What nobody looked at is named, and what to do about it stands at once below.
    status, out, _ = run("readiness", "after.txt", "--rules", "california")
    assert (status, out.splitlines()[0]) == (
        1,
        f"{title}: cannot be answered yet, by both interpretations of the rule.",
    )
    assert out.splitlines()[1:3] == [
        "    what to do: look at the lamp with key on and engine off (--lamp)",
        "    what to do: look at the lamp with the engine running (--lamp-running)",
    ]
    page = ("--page", "page.html")
    run("readiness", "after.txt", "--rules", "california", *page)
    written = Path("page.html").read_text("utf-8")
    assert "look at the lamp with the engine running<" in written
    assert "--lamp" not in written
    status, out, _ = run(
        "readiness", "before.txt", "--rules", "federal", "--format", "json"
    )
    assert status == 1
    assert {a["answer"] for a in json.loads(out)["answers"]} == {"fail"}
    _, out, _ = run("readiness", "before.txt", "--rules", "federal")
    first, *why = out.splitlines()
    assert ": would fail, by both interpretations" in first
    assert why[0].startswith("    because the lamp is commanded on by engine module")
    assert not any(line.startswith("    because nobody looked") for line in why)
    assert "without the allowance that a state may grant: fail" in out
    assert "flexibility" not in out
    assert "\n    ? nobody looked whether the lamp lights" in out
    assert "! nobody looked" not in out, "no reason to fail"
    status, out, err = run("readiness", "after.txt")
    assert (status, "--rules takes california, colorado, federal" in err) == (0, True)
    assert out.startswith("The record:\n")
    status, _, err = run("readiness", "nowhere.txt")
    assert (status, err.count("\n")) == (2, 1), "the error alone, no hint before it"
    status, _, err = run("readiness", "after.txt", "--rules", "federl")
    assert (status, "did you mean federal?" in err) == (2, True)
    Path("bare.txt").write_text("7E8 02 43 00")
    status, out, _ = run("readiness", "bare.txt", "--rules", "federal")
    assert (status, "cannot be answered yet" in out.splitlines()[0]) == (1, True)
    assert "    what to do: find out the model year (--model-year)\n" in out
    # A foreign VIN over CAN whose check digit fits by chance: no vehicle of 1981.
    said = bytes([0x49, 2, 1]) + b"W0L000057B2123456"
    frames = [bytes([0x10, len(said)]) + said[:6]]
    frames += [bytes([0x20 + n]) + said[7 * n - 1 :][:7] for n in (1, 2)]
    Path("foreign.txt").write_text("\n".join(f"7E8 {f.hex(' ')}" for f in frames))
    status, out, _ = run("decode", "foreign.txt")
    assert (status, "W0L000057B2123456" in out) == (0, True)
    status, out, _ = run("readiness", "foreign.txt", "--rules", "federal")
    assert (status, "? the model year is not known" in out) == (1, True)


def test_why_not_run_takes_a_readout_or_a_record(run):
    record = json.loads(Path("RO-1001.json").read_text())
    raws = [e["raw"] for e in record["events"] if e["kind"] == "readout"]
    Path("before.txt").write_text(raws[0])
    status, out, _ = run("why-not-run", "before.txt")
    assert status == 1
    assert out.startswith("Not complete since codes were cleared: EGR and/or VVT.")
    status, out, _ = run("why-not-run", "RO-1001.json")
    assert (status, out.count("\n")) == (0, 1)
    drive = next(e for e in record["events"] if e["kind"] == "road_test")
    drive["enabling"] = {"run_time": {"value": "9", "unit": "min"}}
    record["events"] = [*record["events"][:2], drive]
    Path("open.json").write_text(json.dumps(record))
    found = json.loads(run("why-not-run", "open.json", "--format", "json")[1])
    assert found["known"]["run_time"] == "540.0"
    drive["enabling"]["run_time"]["unit"] = "parsec"
    Path("open.json").write_text(json.dumps(record))
    status, _, err = run("why-not-run", "open.json")
    assert (status, "/enabling/run_time" in err) == (2, True)


def test_cautions_are_shown_as_they_are_read(run):
    status, out, _ = run("cautions")
    assert (status, "fuel-vapour" in out) == (0, True)
    status, out, _ = run("cautions", "fuel-vapour")
    assert status == 0
    assert out.startswith("DANGER: ")
    assert "second time" in out
    assert "licensed practice" in out
    status, _, err = run("cautions", "tiger")
    assert (status, "no caution is called 'tiger'; use one of " in err) == (2, True)


@pytest.mark.parametrize(
    "arguments",
    [
        ("compare", "readout.txt", "prose.txt"),
        ("readiness", "prose.txt", "--rules", "federal"),
        ("why-not-run", "prose.txt"),
    ],
)
def test_a_file_without_a_vehicles_answer_is_unusable(run, arguments):
    Path("prose.txt").write_text("the lamp is on\n")
    status, _, err = run(*arguments)
    assert (status, "prose.txt: no answer of a vehicle" in err) == (2, True)


def test_rules(run):
    status, out, _ = run("rules")
    assert status == 0
    assert len(out.splitlines()) == len(load_catalogue().rules)
    page = run("rules", "fault-never-reported")[1]
    assert "What it checks" in page
    source = (files("auditkit_plugins") / "fault_known.py").read_bytes()
    digest = hashlib.sha256(source).hexdigest()
    assert f"SHA-256 of its source, as installed: {digest}\n" in page
    status, _, err = run("rules", "fault-never-report")
    assert status == 2
    assert "did you mean fault-never-reported" in err


def test_keys(log):
    status, out, _ = log("key", "enrol", "tech-a")
    assert (status, "tech-a enrolled as technician by entry 2" in out) == (0, True)
    assert log("key", "enrol", "eyes-1", "--role", "onlooker")[0] == 0
    assert log("key", "enrol", "b", "--role", "boss")[0] == 2
    roles = [line.split()[:2] for line in log("key", "list")[1].splitlines()]
    assert roles == [
        ["mechanic-1", "manager"],
        ["tech-a", "technician"],
        ["eyes-1", "onlooker"],
    ]
    assert log("record", "RO-1001.json")[0] == 2, "two keys lie here: who records?"
    status, _, err = log("record", "RO-1001.json", "--by", "eyes-1")
    assert (status, "'eyes-1' is enrolled as onlooker" in err) == (2, True)
    assert log("record", "RO-1001.json", "--by", "tech-a")[0] == 0
    assert log("key", "revoke", "tech-a", "--reason", "left")[0] == 0
    assert "revoked by entry" in log("key", "list")[1]
    last = ("key", "revoke", "mechanic-1", "--reason", "the shop ends")
    status, _, err = log(*last)
    assert (status, "'mechanic-1' is the last manager" in err) == (2, True)
    assert log(*last, "--last")[0] == 0
    assert log("verify", "shop.auditlog")[0] == 0


MISTAKES = {
    "missing file": (["check", "none.json"], "none.json: there is no such file"),
    "folder": (["check", "."], "this is a folder"),
    "binary": (["check", "binary"], "not UTF-8"),
    "not JSON": (["check", "readout.txt"], "not JSON"),
    "unknown order": (["show", "RO-9"], "no repair order 'RO-9'"),
    "unknown command": (["chek"], "No such command"),
    "unknown option": (["check", "--nope"], "No such option"),
    "neither log nor packet": (
        ["verify", "readout.txt"],
        "this is no packet, and nothing that carries one",
    ),
    "no checkpoint": (
        ["verify", "shop.auditlog", "--trust", "readout.txt"],
        "readout.txt: this is not a checkpoint",
    ),
    "no log": (["list", "--log", "no.auditlog"], "auditkit init"),
    "another database": (["list", "--log", "binary"], "cannot be read as a log"),
    "log taken": (["init", "--shop", "x", "--person", "a"], "never overwritten"),
    "bad person": (["key", "enrol", "Tech A"], "person"),
    "reserved person": (["key", "enrol", "log"], "may not be called"),
    "bad policy": (["check", "RO-1001.json", "--policy", "readout.txt"], "not TOML"),
}


@pytest.mark.parametrize("name", MISTAKES)
def test_mistake_is_one_line_and_status_2(log, name):
    arguments, said = MISTAKES[name]
    Path("binary").write_bytes(bytes(range(256)) * 9)
    status, out, err = log(*arguments)
    assert status == 2
    assert out == ""
    assert said in err
    if "No such" not in said:
        assert len(err.splitlines()) == 1


def test_bad_record_names_file_pointer_and_mend(run):
    record = json.loads(Path("RO-1001.json").read_text())
    record["events"][6]["readings"][0]["value"] = 14
    Path("bad.json").write_text(json.dumps(record))
    status, _, err = run("check", "bad.json")
    assert status == 2
    assert err == (
        "auditkit: bad.json#/events/6/readings/0/value: 14 is a number; write the "
        'digits that were read as text, such as "14.0"\n'
    )


def test_no_passphrase_says_where_to_put_it(log, monkeypatch):
    monkeypatch.delenv("AUDITKIT_PASSPHRASE")
    monkeypatch.setattr("sys.stdin", io.StringIO())
    status, _, err = log("record", "RO-1001.json")
    assert status == 2
    assert "AUDITKIT_PASSPHRASE" in err
    Path("word").write_text("wrong\n")
    status, _, err = log("record", "RO-1001.json", "--passphrase-file", "word")
    assert (status, "does not open with this passphrase" in err) == (2, True)


def test_policy_changes_the_answer(run):
    Path("p.toml").write_text(
        'format = "auditkit/policy@1"\nnot_asked = ["part-at-fault", "test-reran"]\n'
    )
    status, out, _ = run("check", "RO-1002.json", "--policy", "p.toml")
    assert (status, "unproven, waiting" in out.splitlines()[0]) == (1, True)
    not_asked = "part faulty before the repair, vehicle's own test run again"
    assert f"the policy: not asked: {not_asked}" in out
    record = json.loads(Path("RO-1001.json").read_text())
    kinds = [event["kind"] for event in record["events"]]
    del record["events"][kinds.index("bench_test")]
    Path("untested.json").write_text(json.dumps(record))
    assert run("check", "untested.json")[0] == 1
    status, out, _ = run("check", "untested.json", "--policy", "p.toml")
    said = out.splitlines()[0].split(":")[1].strip()
    assert (status, said) == (
        0,
        "vouched by the shop's own policy, as if each step were recorded on time",
    )


def test_a_policy_may_ask_for_a_stronger_grade_of_evidence(run):
    text = 'format = "auditkit/policy@1"\n[rules.no-monitor-result.parameters]\nleast'
    Path("p.toml").write_text(f'{text} = "counter-rose"\n')
    assert run("check", "--policy", "p.toml", "RO-1001.json")[0] == 0
    Path("p.toml").write_text(f'{text} = "certainly"\n')
    status, _, err = run("check", "--policy", "p.toml", "RO-1001.json")
    assert status == 2
    assert "no-monitor-result.parameters.least" in err
    assert "results-after-clear" in err


def test_runs_as_a_module_and_survives_a_closed_pipe(tmp_path):
    code = f"{sys.executable} -m auditkit rules | head -1"
    done = subprocess.run(
        ["bash", "-c", code], capture_output=True, text=True, cwd=tmp_path, check=False
    )
    assert done.stdout.startswith("answers-differ")
    assert "Traceback" not in done.stderr


def test_a_packet_reaches_back_to_what_a_reader_holds(log):
    assert log("record", "RO-1001.json")[0] == 0
    assert log("checkpoint", "--out", "held.checkpoint")[0] == 0
    assert log("record", "RO-1002.json", "--unproven", "customer in a hurry")[0] == 0
    assert log("key", "enrol", "tech-x")[0] == 0
    assert log("packet", "RO-1002", "--out", "p.json")[0] == 0
    status, out, _ = log("verify", "p.json", "--trust", "held.checkpoint")
    assert (status, "packet ORDER --since FILE" in out) == (1, True)
    words = ("--since", "held.checkpoint", "--out", "q.json")
    assert log("packet", "RO-1002", *words)[0] == 0
    assert log("verify", "q.json", "--trust", "held.checkpoint")[0] == 0
    status, _, err = log("packet", "RO-1002", "--since", "q.json", "--out", "r.json")
    assert (status, "q.json: this is not a checkpoint" in err) == (2, True)
    assert not Path("r.json").exists()


def test_many_packets_are_summed_up(log):
    assert log("record", "RO-1001.json")[0] == 0
    Path("packets").mkdir()
    for number in range(3):
        assert log("packet", "RO-1001", "--out", f"packets/{number}.json")[0] == 0
    status, out, _ = log("verify", "packets")
    assert (status, out.startswith("3 packets: 3 verified\n")) == (0, True)
    assert (
        "note: whose log this is was not checked: compare the log key's fingerprint"
        in out
    )
    key = json.loads(log("key", "show", "--format", "json")[1])["log_key"]
    assert "whose log this is" not in log("verify", "packets", "--key", key)[1]
    (note,) = json.loads(log("verify", "packets", "--format", "json")[1])["notes"]
    assert note.startswith("whose log this is was not checked")
    assert log("verify", "packets/0.json", "packets/1.json", "--key", "A" * 43)[0] == 1
    sound = Path("packets/1.json").read_text()
    Path("packets/1.json").write_text(sound.replace("P0401", "P0402"))
    Path("packets/2.json").write_text("{}\n")
    status, out, _ = log("verify", "packets", "--format", "json")
    found = json.loads(out)
    assert (status, found["packets_verified"]) == (1, 1)
    assert [o["path"] for o in found["not_verified"]] == ["packets/1.json"]
    assert [o["path"] for o in found["unusable"]] == ["packets/2.json"]
    Path("empty").mkdir()
    status, _, err = log("verify", "empty")
    assert (status, "no file ends in .json" in err) == (2, True)
    assert log("verify", "packets", "--skip-signatures")[0] == 2


def test_help_lists_every_command_once_under_who_uses_it(run):
    _, out, _ = run("--help")
    listed = re.findall(r"^  ([a-z][a-z-]*)  ", out, re.MULTILINE)
    assert sorted(listed) == sorted(COMMANDS)
    headings = re.findall(r"^([A-Z][a-z ]*):$", out, re.MULTILINE)
    assert headings == [
        *("Options", "In the bay", "The log", "Readers", "Others"),
    ]
    for gone in ("attest", "stamp", "verifier"):
        status, _, err = run(gone)
        assert (status, f"No such command '{gone}'" in err) == (2, True)


def test_an_option_before_a_command_of_the_checkpoint_is_refused(log):
    assert log("checkpoint", "--out", "c.cp")[0] == 0
    status, _, err = log("checkpoint", "--log", "shop.auditlog", "keep", "c.cp")
    assert status == 2
    assert err == (
        "auditkit: --log: this stands before 'keep', where it counts for nothing; "
        "write it after 'keep', if that takes it\n"
    )
