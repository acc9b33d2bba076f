"""A plugin of each sort, through every command that touches what it brings.

``hose_shop`` is installed beside our own plugins, by its metadata, as pip would leave
it. All of it is invented.
"""

import hashlib
import importlib
import io
import json
import re
import shutil
import sys
from base64 import urlsafe_b64decode
from importlib.resources import files
from pathlib import Path
from typing import NamedTuple
from xml.etree import ElementTree as ET

import pytest
from conftest import PASSPHRASE
from vehicles import Vehicle

from auditkit.cli import main
from auditkit.plugin.loading import load_catalogue
from auditkit.reader import read_packet

HERE = Path(__file__).parent
POINTS = """[auditkit]
hose_shop = hose_shop
[auditkit.commands]
hoses = hose_shop:hoses_command
"""
TEXT = (
    "CAUTION: an invented hose under pressure whips. The vehicle maker's procedure, "
    "local codes and licensed practice come first."
)
COMPUTED = "stretch 5.000 +/- 0.105 % (k = 2)"
"""420 over 400, less 1. By hand: what each reading has of its own is a step of 0.5 mm,
0.144 mm as a rectangular distribution; the rule's error is one for both, and nearly
leaves the ratio. 0.144 mm times the root of (1/400)^2 + (420/400^2)^2 is 0.0523 %."""
POLICY = """format = "auditkit/policy@1"
withhold = ["hose_check.maker", "opening.customer.name"]
"""


def event(kind, at, **members):
    at = f"2026-03-02T{at}:00+01:00"
    return {"kind": kind, "at": at, "by": "mechanic-1", **members}


ACKNOWLEDGED = event(
    "caution",
    "10:05",
    caution="hose-under-pressure",
    version=3,
    text_sha256=hashlib.sha256(TEXT.encode()).hexdigest(),
    step={"kind": "hose_check"},
    preconditions={"pressure in the hose": {"value": "0", "unit": "kPa"}},
)
CHECKED = event(
    "hose_check",
    "10:10",
    hose="purge-hose",
    age=4,
    length={"value": "0.40", "unit": "m"},
    maker="Maker One (invented)",
)
CONSIDERED = event(
    "caution",
    "10:12",
    caution="other-hazards",
    version=1,
    text_sha256=load_catalogue().cautions["other-hazards"].sha256,
    step={"kind": "bench_test", "part": "purge-hose"},
    preconditions={
        "hazards considered": "none: a hose without pressure on the bench",
        "protection": "it is empty and open at both ends",
    },
)
TESTED = event(
    "bench_test",
    "10:15",
    part="purge-hose",
    setup="removed",
    test="stretch under load",
    method="hose-stretch",
    readings=[
        {"name": "length at rest", "value": "400.0", "unit": "mm"},
        {"name": "length under load", "value": "420.0", "unit": "mm"},
    ],
    instruments=[{"id": "rule-1"}],
    limit={"maximum": "3", "unit": "%", "source": "invented service information"},
)
CALIBRATED = {"calibrated_on": "2026-01-12", "due": "2027-01-12"}
RULE_1 = {
    "unit": "mm",
    "low": "0",
    "high": "1000",
    "resolution": "0.5",
    "absolute": "0.3",
    **CALIBRATED,
}
FIRST = 7  # the place of the acknowledgement, before the repair of the demo's order


def record(**changed):
    """Return the demo's proven order with what the plugin knows, as text."""
    made = json.loads((files("auditkit_demo") / "RO-1001.json").read_text("utf-8"))
    made["events"][FIRST:FIRST] = [
        ACKNOWLEDGED,
        {**CHECKED, **changed},
        CONSIDERED,
        TESTED,
    ]
    return json.dumps(made)


class Done(NamedTuple):
    status: int
    out: str
    err: str


@pytest.fixture(scope="module")
def patch():
    with pytest.MonkeyPatch.context() as patched:
        yield patched


@pytest.fixture(scope="module")
def shop(tmp_path_factory, patch):
    """Return a folder in which the plugin is installed, with a record and a log."""
    site, folder = tmp_path_factory.mktemp("site"), tmp_path_factory.mktemp("shop")
    shutil.copy(HERE / "hose_shop.py", site)
    described = site / "hose_shop-1.dist-info"
    described.mkdir()
    (described / "METADATA").write_text("Name: hose-shop\nVersion: 1\n")
    (described / "entry_points.txt").write_text(POINTS)
    patch.syspath_prepend(site)
    patch.chdir(folder)
    patch.setenv("AUDITKIT_PASSPHRASE", PASSPHRASE.decode())
    patch.setenv("AUDITKIT_INSTRUMENTS", "register.json")
    register = json.loads((files("auditkit_demo") / "instruments.json").read_text())
    register["instruments"].append(
        {
            "id": "rule-1",
            "description": "steel rule (invented)",
            **{n: v for n, v in RULE_1.items() if n not in CALIBRATED},
            "calibrations": [{"on": "2026-01-12", "due": "2027-01-12"}],
        }
    )
    Path("register.json").write_text(json.dumps(register))
    Path("RO.json").write_text(record())
    Path("policy.toml").write_text(POLICY)
    yield folder
    sys.modules.pop("hose_shop", None)
    rules_are_loaded_anew()


def rules_are_loaded_anew():
    """Forget what a reader loaded before the plugin came or went."""
    read_packet._rules.cache_clear()


@pytest.fixture
def run(shop, capsys):
    rules_are_loaded_anew()

    def call(*words):
        with pytest.raises(SystemExit) as end:
            main([str(word) for word in words])
        out, err = capsys.readouterr()
        assert "Traceback" not in out + err
        return Done(end.value.code, out, err)

    return call


@pytest.fixture(scope="module")
def sealed(shop):
    """Return the folder with the order recorded, its packet written."""
    for words in (
        ("init", "--shop", "Hose Yard (invented)", "--person", "mechanic-1"),
        ("record", "RO.json", "--policy", "policy.toml"),
        ("packet", "RO-1001", "--out", "RO.packet.json"),
    ):
        with pytest.raises(SystemExit) as end:
            main(list(words))
        assert end.value.code == 0, words
    return shop


@pytest.fixture(scope="module")
def exhibit(sealed):
    """Return the exhibit of the packet."""
    pytest.importorskip("typst")
    pytest.importorskip("pypdf")
    with pytest.raises(SystemExit) as end:
        main(["exhibit", "RO.packet.json", "--out", "RO.pdf"])
    assert end.value.code == 0
    return sealed / "RO.pdf"


def test_check_knows_rule_event_bench_test_and_caution(run):
    done = run("check", "RO.json")
    assert "hose-too-old" in {rule.name for rule in load_catalogue().rules}
    said = "RO.json: proven, as if each step were recorded on time: "
    assert (done.status, said in done.out) == (0, True)
    found = json.loads(run("check", "RO.json", "--format", "json").out)
    assert (found["verdict"], found["findings"]) == ("proven", [])


def test_the_rule_finds_what_it_looks_for(run):
    Path("old.json").write_text(record(age=11))
    done = run("check", "old.json", "--format", "json")
    (finding,) = json.loads(done.out)["findings"]
    assert (done.status, finding["rule"]) == (1, "hose-too-old")
    assert finding["message"] == "purge-hose is 11 years old"
    assert finding["event"] == FIRST + 1
    policy = POLICY + "[rules.hose-too-old.parameters]\nyears = 11\n"
    Path("mild.toml").write_text(policy)
    assert run("check", "old.json", "--policy", "mild.toml").status == 0


def test_our_rules_ask_for_the_plugins_caution(run):
    made = json.loads(record())
    del made["events"][FIRST]
    Path("bold.json").write_text(json.dumps(made))
    done = run("check", "bold.json", "--format", "json")
    (finding,) = json.loads(done.out)["findings"]
    assert finding["rule"] == "caution-not-acknowledged"
    assert "CAUTION hose-under-pressure (hose whips)" in finding["message"]
    made["events"].insert(FIRST, {**ACKNOWLEDGED, "version": 2})
    Path("bold.json").write_text(json.dumps(made))
    assert "caution-text-differs" in run("check", "bold.json").out


def test_what_does_not_fit_the_plugins_schema_is_one_clear_error(run, sealed):
    Path("bad.json").write_text(record(age="4"))
    for command in ("check", "report", "record", "why-not-run"):
        more = ["--out", "never.html"] if command == "report" else []
        done = run(command, "bad.json", *more)
        assert done.status == 2
        assert f"bad.json#/events/{FIRST + 1}/age" in done.err
        assert "write its age in years" in done.err
    assert not Path("never.html").exists()


def test_an_amendment_corrects_an_event_of_the_plugin(run):
    made = json.loads(record(age=11))
    corrected = {**CHECKED, "age": 10}
    amendment = event("amendment", CHECKED["at"][11:16], corrects=FIRST + 1, why="x")
    amendment["event"] = corrected
    made["events"].insert(FIRST + 2, amendment)
    (repair,) = (e for e in made["events"] if e["kind"] == "repair")
    repair["started"] = event("repair", "10:25")["at"]  # what rests on the check
    Path("amended.json").write_text(json.dumps(made))
    assert "hose-too-old" not in run("check", "amended.json").out
    late = json.loads(record(age=11))
    late["events"].append({**amendment, "at": event("amendment", "23:00")["at"]})
    Path("late.json").write_text(json.dumps(late))
    assert "hose-too-old: as recorded (hose check of" in run("check", "late.json").out
    made["events"][FIRST + 2]["event"]["age"] = None
    Path("amended.json").write_text(json.dumps(made))
    place = f"#/events/{FIRST + 2}/event/age"
    assert place in run("check", "amended.json").err


def test_bench_lists_computes_and_draws_the_plugins_kind(run):
    assert "any other           hose-stretch" in run("bench").out
    shown = run("bench", "--method", "hose-stretch").out
    assert shown.startswith("hose-stretch: Stretch of a hose")
    whole = {**TESTED, "instruments": [{"id": "rule-1", "specification": RULE_1}]}
    Path("test.json").write_text(json.dumps(whole))
    done = run("bench", "test.json", "--plot", "stretch.svg")
    assert (done.status, COMPUTED in done.out) == (0, True)
    drawn = ET.fromstring(Path("stretch.svg").read_text())  # noqa: S314  our own
    texts = [e.text for e in drawn.iter() if e.tag.endswith("text")]
    assert "length of the hose, mm" in texts
    assert "at rest, and under load" in texts
    found = json.loads(run("bench", "test.json", "--format", "json").out)
    assert (found["kind"], found["outcome"]) == ("hose-stretch", "faulty")


def test_bench_tells_what_the_plugins_kind_refuses(run):
    done = run(
        *("bench", "--method", "hose-stretch", "--limit-unit", "%", "--maximum", "3"),
        *("--limit-source", "invented", "--reading", "length at rest=0 mm"),
        *("--reading", "length under load=420 mm"),
        *("--instrument", ",".join(f"{n}={v}" for n, v in RULE_1.items()) + ",id=r"),
    )
    assert (done.status, "a hose has a length" in done.out) == (1, True)


def test_report_holds_the_plugins_result_and_picture(run):
    assert run("report", "RO.json", "--out", "bench.html").status == 0
    page = Path("bench.html").read_text()
    assert "Test 2 of 2: purge-hose" in page
    assert COMPUTED in page
    assert "length of the hose, mm" in page
    assert "not computed" not in page


def test_instruments_and_why_not_run_read_beside_it(run):
    done = run("instruments", "register.json", "--on", "2026-03-02")
    assert "rule-1" in done.out
    done = run("why-not-run", "RO.json")
    assert done.status in {0, 1}
    assert not done.err


def test_record_tells_the_plugin_of_each_entry(sealed):
    told = (sealed / "sealed.txt").read_text().splitlines()
    numbers = [int(line.split()[0]) for line in told]
    assert numbers == list(range(2, 2 + 16 + 1))  # events, and the verdict


def test_list_and_show_tell_all_that_was_sealed(run, sealed):
    assert "vouched" in run("list").out  # its times lie months before it was recorded
    out = run("show", "RO-1001").out
    told = "hose check: age 4; hose purge-hose; length 0.40 m; maker Maker One"
    assert told in out
    assert f"purge-hose (stretch of a hose): faulty: {COMPUTED}" in out
    assert "(stretch of a hose) by mechanic-1: faulty: stretch 5.00" in out
    assert "(1 withheld)" in out
    assert "not computed" not in out
    entries = json.loads(run("show", "RO-1001", "--format", "json").out)["entries"]
    (shown,) = (e for e in entries if e["event"]["kind"] == "hose_check")
    assert shown["event"]["maker"] == "Maker One (invented)"


def test_the_signed_statement_says_what_the_rules_judged_by(sealed):
    packet = json.loads((sealed / "RO.packet.json").read_text())
    told = "Bench test of purge-hose (stretch of a hose) by mechanic-1: faulty: "
    (line,) = (one for one in packet["statement"] if "stretch of a hose" in one)
    assert line.startswith(f"{told}{COMPUTED}; it should be at most 3 %")


def test_the_packet_verifies_and_withholds_what_the_policy_names(run, sealed):
    assert run("verify", "RO.packet.json").status == 0
    assert run("verify", "shop.auditlog").status == 0
    assert json.loads(Path("RO.packet.json").read_text())["disclosures"] == []
    done = run("packet", "RO-1001", "--reveal", "maker", "--out", "named.json")
    assert done.status == 0
    (given,) = json.loads(Path("named.json").read_text())["disclosures"]
    text = given["disclosure"] + "=" * (-len(given["disclosure"]) % 4)
    assert json.loads(urlsafe_b64decode(text))[1:] == ["maker", CHECKED["maker"]]
    assert run("verify", "named.json").status == 0


def test_the_receipt_tells_it(run, sealed):
    assert run("receipt", "RO.packet.json", "--text", "RO.receipt").status == 0
    done = run("verify", "RO.packet.json", "--receipt", "RO.receipt")
    assert done.status == 0
    assert "| Work: EGR valve, number EX-EGR-1 (invented): replaced" in done.out


def test_the_exhibit_tells_it(run, exhibit):
    import pypdf

    pages = pypdf.PdfReader(exhibit).pages
    said = re.sub(r"\s", "", "".join(page.extract_text() for page in pages))
    for told in ("Event of kind hose_check", "Age", COMPUTED, "hose-under-pressure"):
        assert told.replace(" ", "") in said, told
    assert "notcomputed" not in said
    assert run("exhibit", "--check", exhibit).status == 0


def test_erase_reaches_a_text_of_the_plugins_event(run, sealed, patch):
    for name in ("shop.auditlog", "shop.auditlog.keys"):
        kept = Path(name)
        copy = Path("copy.auditlog" + name.removeprefix("shop.auditlog"))
        (shutil.copytree if kept.is_dir() else shutil.copy)(kept, copy)
    words = ("--path", "maker", "--reason", "asked for", "--log", "copy.auditlog")
    assert run("erase", "RO-1001", *words).status == 0
    out = run("show", "RO-1001", "--log", "copy.auditlog").out
    assert "Maker One" not in out
    assert re.search(r"erased by entry \d+: maker", out)
    assert run("verify", "copy.auditlog").status == 0


def test_readiness_asks_the_plugins_jurisdiction(run):
    Path("after.txt").write_text(Vehicle().readout())
    done = run("readiness", "after.txt", "--rules", "island", "--lamp", "lit")
    assert (done.status, "invented island" in done.out.lower()) == (0, True)
    assert "island" in run("readiness", "after.txt").err


def test_cautions_and_rules_list_what_the_plugin_brings(run):
    listed = run("cautions").out
    assert re.search(
        r"^hose-under-pressure +CAUTION +hose whips$", listed, re.MULTILINE
    )
    assert "fuel-vapour" in listed
    shown = run("cautions", "hose-under-pressure").out
    assert shown.startswith(TEXT)
    assert "pressure in the hose in kPa" in shown
    assert ACKNOWLEDGED["text_sha256"] in shown
    assert "hose-too-old" in run("rules").out
    assert "(blocking, version 1, hose_shop)" in run("rules", "hose-too-old").out


def test_the_plugins_command_runs_and_is_listed(run):
    assert run("hoses").out == "hoses are well\n"
    listed = run("--help").out.partition("\nOf plugins:\n")[2]
    assert "  hoses  Of the plugin hose_shop.\n" in listed


@pytest.fixture
def elsewhere(run, sealed, monkeypatch):
    """Return the command line of a reader who has not the plugin."""
    here = str(Path(sys.modules["hose_shop"].__file__).parent)
    monkeypatch.setattr(sys, "path", [p for p in sys.path if p != here])
    importlib.invalidate_caches()
    rules_are_loaded_anew()
    return run


def test_the_bay_records_the_plugins_event_after_its_caution(run, sealed, monkeypatch):
    vehicle = ("--vin", "0ZZTB1A18CA000123", "--odometer", "9 km", "--vehicle", "van")
    about = (*vehicle, "--ignition", "spark", "--complaint", "a hose leaks")
    assert run("open", "RO-7", *about).status == 0
    check = ("add", "RO-7", "hose_check", "--set", "hose=purge-hose", "--set", "age=4")
    done = run(*check)
    assert done.status == 2
    assert "CAUTION hose-under-pressure (hose whips): not acknowledged" in done.err
    monkeypatch.setattr("sys.stdin", io.StringIO("y\n"))
    asked = ("--before", "hose_check", "--set", "pressure in the hose=0 kPa")
    assert run("add", "RO-7", "caution", *asked).status == 0
    assert run(*check).status == 0
    assert "hose check: age 4; hose purge-hose" in run("status", "RO-7").out
    closed = run("close", "RO-7", "--unproven", "it was looked at, and it is whole")
    assert closed.status == 0
    assert "hose_check" in run("add", "RO-7", "--help").out


def test_who_has_not_the_plugin_is_told_what_is_not_known(elsewhere):
    done = elsewhere("check", "RO.json")
    assert (done.status, '"hose_check" is not a kind of event' in done.err) == (2, True)
    done = elsewhere("verify", "RO.packet.json")
    assert done.status == 1, "what is not read here shows nothing"
    assert "its kind 'hose_check' is not read here" in done.out
    assert "record unaltered" in done.out
    assert elsewhere("verify", "shop.auditlog").status == 0
    out = elsewhere("show", "RO-1001").out
    assert "not computed: no kind of bench test is called 'hose-stretch'" in out
    assert "hose check: age 4; hose purge-hose" in out
    assert elsewhere("hoses").status == 2


def test_an_exhibit_is_not_called_altered_where_the_plugin_is_missing(
    exhibit, elsewhere
):
    done = elsewhere("exhibit", "--check", exhibit)
    assert done.status == 1
    assert "no plugin brings the kind of bench test hose-stretch" in done.err
