"""Whole repairs from the terminal, each step recorded when it happens."""

import io
import json
import re
import time
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from photo import photo

from auditkit.cli import acknowledge, add, ask, in_bay
from auditkit.log.ledger import Ledger
from auditkit.proof.check_packet import verify_packet

START = datetime.fromisoformat("2026-03-02T07:30:00+01:00")
SOURCE = "vehicle maker's service information (invented for this test)"


class Clock:
    """A clock that a test sets; it goes on by three seconds whenever it is read."""

    def __init__(self):
        self.now = START

    def __call__(self):
        self.now += timedelta(seconds=3)
        return self.now

    def set(self, clock, day=0):
        hour, minute = map(int, clock.split(":"))
        self.now = START.replace(hour=hour, minute=minute) + timedelta(days=day)


@pytest.fixture
def shop(run, monkeypatch):
    """Return what runs a command at a time of a day: status, output, errors."""
    monkeypatch.setenv("TZ", "TST-1")  # POSIX: an hour ahead of UTC
    time.tzset()
    clock = Clock()
    monkeypatch.setattr(in_bay, "now", clock)
    create = Ledger.create.__func__
    monkeypatch.setattr(
        Ledger,
        "create",
        classmethod(lambda cls, *a, **k: create(cls, *a, **{**k, "clock": clock})),
    )
    garage = "Example Yard Garage (invented)"
    assert run("init", "--shop", garage, "--person", "mechanic-1")[0] == 0
    Path("instruments.json").write_text(json.dumps(REGISTER))

    def call(at, *arguments, answers="", day=0):
        clock.set(at, day)
        monkeypatch.setattr("sys.stdin", io.StringIO(answers))
        return run(*arguments)

    yield call
    monkeypatch.undo()
    time.tzset()


def specified(name, unit, high, resolution, error):
    return {
        "id": name,
        "description": f"{name} (invented)",
        "unit": unit,
        "low": "-20" if unit == "degC" else "0",
        "high": high,
        "resolution": resolution,
        "absolute": error,
        "calibrations": [{"on": "2026-01-12", "due": "2027-01-12"}],
    }


REGISTER = {
    "format": "auditkit/instruments@1",
    "instruments": [
        specified("gauge-3", "inHg (vacuum)", "30", "0.5", "0.6"),
        specified("thermometer-1", "degC", "120", "0.1", "0.5"),
    ],
}


def events(name, kind):
    record = json.loads(Path(f"{name}.json").read_text())
    return [event for event in record["events"] if event["kind"] == kind]


def raw(name):
    """Write the raw texts of a demo's readouts to files; return their names."""
    names = []
    for number, event in enumerate(events(name, "readout"), 1):
        names.append(f"{name}-{number}.txt")
        Path(names[-1]).write_text(event["raw"])
    return names


def good(result):
    status, out, err = result
    assert status == 0, err
    return out


def said(**pairs):
    """Return --set options: ``a__b`` is the path a.b."""
    given = []
    for name, value in pairs.items():
        given += ["--set", f"{name.replace('__', '.')}={value}"]
    return given


VAN = [
    *("--vehicle", "delivery van, 2.0 litre", "--odometer", "184210 km"),
    *("--complaint", "The engine lamp is on.", "--customer", "Customer One (invented)"),
    *("--tool", "text adapter (invented)"),
]
VALVE = said(
    codes="P0401",
    suspect_parts__0__id="egr-valve",
    suspect_parts__0__name="EGR valve",
    suspect_parts__0__system="egr",
    suspect_parts__0__where="engine-bay",
    reasoning="flow below its limit, and the passages are clear",
)
BEFORE_TEST = [
    *("--set", "surface temperature=34 degC"),
    *("--set", "supply limit=25 inHg (vacuum)"),
    *("--set", "relief=a hand pump, whose strokes reach 25 inHg at most"),
    *("--set", "eye protection=safety glasses are worn"),
    *("--set", "coolant circuit=it stays closed; this valve has no cooler"),
]
BEFORE_DRIVE = [
    *("--set", "who watches=nobody; the adapter records alone"),
    *("--set", "driver and vehicle=licence, plates and insurance are in order"),
    *("--set", "brakes=tried twice at walking pace in the yard"),
]


def held(end):
    """Return the arguments of a vacuum hold that ends at ``end`` inHg."""
    readings = {
        "start pressure": "18.0 inHg",
        "end pressure": f"{end} inHg",
        "start temperature": "19.0 degC",
        "end temperature": "19.2 degC",
    }
    conditions = {
        "hold time": "60 s",
        "uncertainty of hold time": "0.5 s",
        "barometer": "98.2 kPa",
        "uncertainty of barometer": "0.3 kPa",
        "pressure reference": "vacuum",
    }
    given = [f"--reading={name}={value}" for name, value in readings.items()]
    given += [f"--condition={name}={value}" for name, value in conditions.items()]
    given += ["--instrument=gauge-3", "--instrument=thermometer-1"]
    given += ["--setup=removed"]
    given += ["--minimum=15.0", "--limit-unit=inHg", "--limit-of=end pressure"]
    return [*given, f"--limit-source={SOURCE}"]


def egr_until_driven(shop):
    """Record a P0401 as it happens, until the drive after the repair."""
    before, after = raw("RO-1001")
    good(shop("08:20", "open", "RO-1", "--raw", before, *VAN))
    good(shop("08:40", "add", "RO-1", "diagnosis", *VALVE))
    good(shop("09:00", "add", "RO-1", "caution", *BEFORE_TEST, answers="y\ny\ny\n"))
    hold = ("--part", "egr-valve", "--method", "seal-hold", *held("6.5"))
    test = good(shop("09:15", "add", "RO-1", "bench_test", *hold))
    work = said(action="replaced", part_number="EX-EGR-1", started="09:30")
    good(shop("10:30", "add", "RO-1", "repair", "--part", "egr-valve", *work))
    good(shop("10:45", "add", "RO-1", "code_clear"))
    good(shop("10:50", "add", "RO-1", "caution", *BEFORE_DRIVE, answers="y\n"))
    drive = said(start="11:00", distance="27 km", conditions="warm, steady 80 km/h")
    good(shop("11:40", "add", "RO-1", "road_test", *drive))
    return test, after


def test_a_repair_recorded_as_it_happens_is_proven(shop):
    test, after = egr_until_driven(shop)
    lines = test.splitlines()
    assert lines[0] == "egr-valve: faulty: outside its limit beyond the uncertainty"
    (changed,) = [line for line in lines if line.startswith("P0401: ")]
    assert changed.startswith("P0401: Part faulty before the repair (EGR valve): shown")
    assert lines[-2] == "Next: EGR valve is shown at fault: repair or replace it."
    assert "uncertainty budget" not in test, "that is for the report page"
    text = Path(after).read_text()
    read = good(
        shop("08:10", "add", "RO-1", "readout", "--raw", "-", answers=text, day=1)
    )
    assert "Codes were cleared in between:" in read
    assert "P0401: Fault gone: shown, from the vehicle's own data" in read
    assert read.splitlines()[-2] == "Next: Nothing is missing: it is proven. Close it."
    closed = good(shop("08:12", "close", "RO-1", day=1))
    assert closed.startswith("RO-1: proven: each question by the best evidence")
    assert "    auditkit packet RO-1 --out RO-1.packet.json" in closed
    good(shop("08:13", "packet", "RO-1", "--out", "p.json", day=1))
    told = good(shop("08:14", "verify", "p.json", "--least", "proven", day=1))
    assert "judged here: proven" in told
    report = verify_packet(Path("p.json").read_text())
    assert report.verified
    good(shop("08:15", "verify", "shop.auditlog", day=1))
    good(shop("08:16", "list", day=1))


def test_at_a_terminal_the_shops_only_instruments_are_taken_by_enter(shop, monkeypatch):
    """A hold without its thermometer is typed: nobody thinks of it unless asked."""
    before, _ = raw("RO-1001")
    good(shop("08:20", "open", "RO-1", "--raw", before, *VAN))
    good(shop("08:40", "add", "RO-1", "diagnosis", *VALVE))
    good(shop("09:00", "add", "RO-1", "caution", *BEFORE_TEST, answers="y\ny\ny\n"))
    monkeypatch.setattr(ask, "at_terminal", lambda: True)
    steered = ["", "1", "1", "1"]  # part, old one, off the vehicle, what fits it first
    read = ["18.0 inHg (vacuum)", "6.5 inHg (vacuum)", "60 s", "19.0 degC", "19.2 degC"]
    limit = ["98.2 kPa", "1", "15.0", "", "", SOURCE]  # in inHg, as it was read
    instruments = [""] * 5  # one more? gauge-3; one more? thermometer-1; no more
    given = ("uncertainty of hold time=0.5 s", "uncertainty of barometer=0.3 kPa")
    known = [part for one in given for part in ("--set", f"conditions.{one}")]
    lines = [*steered, *read, *limit, *instruments, ""]
    out = good(
        shop(
            *("09:15", "add", "RO-1", "bench_test", *known),
            answers="".join(f"{line}\n" for line in lines),
        )
    )
    assert "P0401: Part faulty before the repair (EGR valve): shown, measured" in out
    assert "minimum 15.0 inHg, from" in out


def test_a_test_that_decides_nothing_says_what_would_settle_it(shop):
    before, _ = raw("RO-1001")
    good(shop("08:20", "open", "RO-1", "--raw", before, *VAN))
    good(shop("08:40", "add", "RO-1", "diagnosis", *VALVE))
    good(shop("09:00", "add", "RO-1", "caution", *BEFORE_TEST, answers="y\ny\ny\n"))
    hold = ("--part", "egr-valve", "--method", "seal-hold", *held("14.6"))
    out = good(shop("09:15", "add", "RO-1", "bench_test", *hold))
    assert out.startswith("egr-valve: inconclusive: ")
    assert "    what to do: " in out
    told = "Next: The test so far decides nothing. Test EGR valve again before it is "
    assert told in out
    assert told in good(shop("09:20", "status", "RO-1")), "its cautions are in force"


def test_an_order_closed_without_a_repair_reads_as_closed(shop):
    before, _ = raw("RO-1001")
    good(shop("08:20", "open", "RO-1", "--raw", before, *VAN))
    good(shop("08:40", "add", "RO-1", "diagnosis", *VALVE))
    told = good(shop("08:45", "status", "RO-1"))
    assert "later, after the repair" in told
    assert "test it before you touch it" in told
    good(shop("09:00", "close", "RO-1", "--unproven", "the customer took it away"))
    told = good(shop("09:05", "status", "RO-1"))
    assert "RO-1: delivery van, 2.0 litre: closed as unproven\n" in told
    assert "Fault reported before the repair: shown" in told
    assert "Vehicle's own test passed: not shown: nothing was repaired" in told
    assert "later" not in told
    assert "What to do" not in told
    assert "    auditkit close RO-1\n" in told
    given = json.loads(good(shop("09:06", "status", "RO-1", "--format", "json")))
    answers = [*given["questions"], *given["faults"][0]["questions"]]
    assert {one["stands"] for one in answers} == {"shown", "not-shown"}


def test_a_checkpoint_is_signed_with_each_step(shop):
    egr_until_driven(shop)
    with Ledger.open(Path("shop.auditlog")) as ledger:
        size, _ = ledger.store.head()
        stated = ledger.checkpoint().splitlines()[1]
    assert stated == str(size)


def test_times_and_digests_are_the_machines(shop):
    egr_until_driven(shop)
    with Ledger.open(Path("shop.auditlog")) as ledger:
        lines = ledger.show("RO-1").lines
    for line in lines:
        late = datetime.fromisoformat(line.recorded_at) - datetime.fromisoformat(
            line.event["at"]
        )
        assert timedelta(0) <= late < timedelta(minutes=2), line.event
    caution = next(one.event for one in lines if one.event["kind"] == "caution")
    assert len(caution["text_sha256"]) == 64
    assert lines[0].event["shop"] == "Example Yard Garage (invented)"
    assert lines[0].event["vehicle"]["vin"] == "0ZZTB1A18CA000123", "by the readout"


def test_a_waiting_order_is_completed_by_a_second_readout(shop):
    _, after = egr_until_driven(shop)
    status, out, _ = shop("11:50", "close", "RO-1")
    assert status == 1
    assert "Nothing was written: it stays open." in out
    reason = ("--unproven", "the customer drives it first")
    closed = good(shop("11:55", "close", "RO-1", *reason))
    assert closed.startswith("RO-1: unproven, waiting:")
    assert "It waits: Read the vehicle again" in closed
    assert "auditkit add RO-1 readout --raw FILE" in closed
    assert "RO-1" in good(shop("12:00", "status"))
    status, _, err = shop("12:00", "open", "RO-1")
    assert status == 2
    assert "closed as unproven" in err
    assert "second readout" in err
    out = good(shop("08:10", "add", "RO-1", "readout", "--raw", after, day=3))
    assert "It was closed as unproven: 'auditkit close RO-1' closes it anew" in out
    assert good(shop("08:12", "close", "RO-1", day=3)).startswith("RO-1: proven")
    status, _, err = shop("08:20", "add", "RO-1", "code_clear", day=3)
    assert (status, "closed as proven; open another order" in err) == (2, True)


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (("--raw", "before.txt"), "--tool: nothing says what it was read with"),
        (("--tool", "text adapter (invented)"), "--raw: no readout is given"),
    ],
)
def test_what_open_lacks_of_a_readout_is_said_before_the_key_is_unlocked(
    shop, monkeypatch, given, said
):
    monkeypatch.setenv("AUDITKIT_PASSPHRASE", "another than the key's")
    status, _, err = shop("08:20", "open", "RO-1", *given)
    assert (status, said in err) == (2, True)


def test_a_step_without_its_cautions_is_refused_and_says_what_to_do(shop):
    before, _ = raw("RO-1001")
    good(shop("08:20", "open", "RO-1", "--raw", before, *VAN))
    good(shop("08:40", "add", "RO-1", "diagnosis", *VALVE))
    hold = ("--part", "egr-valve", "--method", "seal-hold", *held("6.5"))
    status, out, err = shop("09:15", "add", "RO-1", "bench_test", *hold)
    assert (status, out) == (2, "")
    for name in ("hot-exhaust", "hot-coolant", "pressurised-part"):
        assert f"WARNING {name} " in err
    (told,) = re.findall("'auditkit add RO-1 caution ([^']*)'", err)
    assert told.endswith(" --before bench_test --part egr-valve")
    named = {"hot-exhaust", "hot-coolant", "pressurised-part"}
    assert named <= {*told.split(" --")[0].split()}
    running = [text.replace("removed", "running") for text in hold]
    _, _, err = shop("09:15", "add", "RO-1", "bench_test", *running)
    assert "exhaust-gas" in err
    (command,) = re.findall("'auditkit (add RO-1 caution[^']*)'", err)
    _, _, shown = shop("09:15", *command.split(), answers="n\n")
    assert "not answered: preconditions." in shown, "it leads to those cautions"
    assert shown.startswith("1 of ")
    refused = shop("09:16", "add", "RO-1", "caution", *BEFORE_TEST, answers="n\n")
    assert (refused[0], "it was not acknowledged" in refused[2]) == (2, True)
    hot = [*BEFORE_TEST, "--set", "surface temperature=96 degC"]
    status, _, err = shop(
        "09:16", "add", "RO-1", "caution", "hot-exhaust", *hot[-2:], answers="y\n"
    )
    assert status == 2
    assert "not called safe with surface temperature 96 degC" in err
    status, _, err = shop(
        "09:17", "add", "RO-1", "caution", "hot-exhaust", answers="y\n"
    )
    assert (status, "not answered: preconditions.surface temperature" in err) == (
        2,
        True,
    )
    told = good(shop("09:20", "add", "RO-1", "bench_test", *hold, "--unacknowledged"))
    assert "Cautions acknowledged in time: not shown" in told
    assert "Part faulty before the repair (EGR valve): shown, measured" in told


def test_at_a_terminal_a_caution_stands_long_enough_to_be_read(shop, monkeypatch):
    """20 characters a second, 15 s at most (our choice); the clock goes on by 3 s."""
    before, _ = raw("RO-1001")
    good(shop("08:20", "open", "RO-1", "--raw", before, *VAN))
    good(shop("08:40", "add", "RO-1", "diagnosis", *VALVE))
    for module in (acknowledge, ask):
        monkeypatch.setattr(module, "at_terminal", lambda: True)
    hot = ("hot-exhaust", "--before", "bench_test", "--part", "egr-valve")
    answers = "34 degC\n\n" + "y\n" * 9
    status, out, err = shop("09:00", "add", "RO-1", "caution", *hot, answers=answers)
    assert status == 0
    asked = err.count("I have read of hot surfaces, and it is so")
    assert asked == err.count("Read it whole, then answer.") + 1 > 2
    assert "WARNING: exhaust" in err, "a result may be piped on"
    assert "WARNING: exhaust" not in out


def test_danger_is_asked_twice(shop):
    (before, *_) = raw("RO-1003")
    good(shop("08:20", "open", "RO-3", "--raw", before, *VAN))
    cap = said(
        codes="P0442",
        suspect_parts__0__id="filler-cap",
        suspect_parts__0__name="fuel filler cap",
        suspect_parts__0__system="evap",
        reasoning="its seal is cracked",
    )
    good(shop("08:40", "add", "RO-3", "diagnosis", *cap))
    (fuel,) = {
        json.dumps(e["preconditions"])
        for e in events("RO-1003", "caution")
        if e["caution"] == "fuel-vapour"
    }
    asked = []
    for name, value in json.loads(fuel).items():
        text = value if isinstance(value, str) else f"{value['value']} {value['unit']}"
        asked += ["--set", f"{name}={text}"]
    about = ("fuel-vapour", "--before", "bench_test", "--part", "filler-cap", *asked)
    status, _, err = shop("09:00", "add", "RO-3", "caution", *about, answers="y\n")
    assert (status, "it was not acknowledged" in err) == (2, True), "only once"
    good(shop("09:01", "add", "RO-3", "caution", *about, answers="y\ny\n"))
    with Ledger.open(Path("shop.auditlog")) as ledger:
        event = ledger.show("RO-3").lines[-1].event
    assert event["at"] < event["second_confirmation"]["at"]


def test_a_slip_is_corrected_by_an_amendment(shop):
    before, _ = raw("RO-1001")
    slip = [text.replace("184210", "148210") for text in VAN]
    good(shop("08:20", "open", "RO-1", "--raw", before, *slip))
    out = good(
        shop(
            *("08:25", "add", "RO-1", "amendment", "--of", "2"),
            *("--set", "vehicle.odometer=184210 km"),
            *("--why", "two digits were swapped"),
        )
    )
    assert out.splitlines()[0] == "vehicle.odometer: 148210 km -> 184210 km"
    with Ledger.open(Path("shop.auditlog")) as ledger:
        lines = ledger.show("RO-1").lines
    assert lines[0].event["vehicle"]["odometer"]["value"] == "148210", "it stays"
    corrected = lines[-1].event["event"]
    assert corrected["vehicle"]["odometer"] == {"value": "184210", "unit": "km"}
    assert corrected["complaint"] == lines[0].event["complaint"]
    why = ("--why", "a slip")
    status, _, err = shop("08:30", "add", "RO-1", "amendment", "--of", "9", *why)
    assert (status, "entry 9 is no step of RO-1; name one of 2, 3, 4" in err) == (
        2,
        True,
    )
    status, _, err = shop("08:30", "add", "RO-1", "amendment", "--of", "2", *why)
    assert (status, "nothing is corrected" in err) == (2, True)
    nowhere = ("--of", "2", "--set", "vehicle.vin.0=x", *why)
    status, _, err = shop("08:30", "add", "RO-1", "amendment", *nowhere)
    assert (status, "leads to nothing in this event" in err) == (2, True)


def typed_thermostat(shop):
    """Record a P0128 by a display alone, until it is to be closed."""
    opened = [
        *("--vin", "0ZZTB1A1XCA000141", "--vehicle", "estate car, 1.8 litre"),
        *("--odometer", "118900 km", "--ignition", "spark"),
        *("--complaint", "The heater stays cold."),
    ]
    good(shop("08:00", "open", "RO-2", *opened))
    read = {
        "captured": "2026-03-02T08:10:00+01:00",
        "tool": "scan tool with nothing but a screen (invented)",
        "typed": {
            "vin": "0ZZTB1A1XCA000141",
            "modules": [
                {
                    "module": "7E8",
                    "stored": ["P0128"],
                    "pending": [],
                    "permanent": ["P0128"],
                    "lamp": True,
                    "count": 1,
                    "calibrations": ["DEMO-ENG-0003"],
                }
            ],
            "counts": {
                "warm_ups": {"value": "36", "unit": "count"},
                "distance": {"value": "1490", "unit": "km"},
                "minutes": {"value": "2010", "unit": "min"},
            },
        },
    }
    Path("typed.json").write_text(json.dumps(read))
    good(shop("08:12", "add", "RO-2", "readout", "--file", "typed.json"))
    part = said(
        codes="P0128",
        suspect_parts__0__id="thermostat",
        suspect_parts__0__name="thermostat",
        suspect_parts__0__system="cooling",
        suspect_parts__0__where="engine-bay",
        reasoning="coolant stays at 62 degC on the road",
    )
    good(shop("08:30", "add", "RO-2", "diagnosis", *part))
    cold = [
        *("--set", "coolant temperature=31 degC"),
        *("--set", "cap=opened in two stages with a cloth"),
        *("--set", "fan=its plug is pulled and hangs in sight"),
        *("--set", "clothing=sleeves are rolled up, no rings"),
    ]
    good(
        shop(
            *("08:40", "add", "RO-2", "caution", "--before", "bench_test"),
            *("--part", "thermostat", "--setup", "removed", *cold),
            answers="y\n" * 4,
        )
    )
    test = said(test="opening temperature in a bath", result__value="58 degC")
    limit = ("--minimum", "80", "--limit-unit", "degC", "--limit-source", SOURCE)
    out = good(
        shop(
            *("09:00", "add", "RO-2", "bench_test", "--part", "thermostat"),
            *("--setup", "removed", *test, *limit),
            *("--set", "instruments.0.id=thermometer-9"),
        )
    )
    assert "Part faulty before the repair (thermostat): shown, typed by hand" in out
    work = said(action="replaced", old_part="kept", started="09:10")
    good(shop("09:35", "add", "RO-2", "repair", "--part", "thermostat", *work))
    return read


def test_a_repair_by_a_display_alone_is_vouched(shop):
    read = typed_thermostat(shop)
    new = said(of="new", test="opening temperature in a bath", result__value="88 degC")
    limit = ("--minimum", "80", "--limit-unit", "degC", "--limit-source", SOURCE)
    good(
        shop(
            *("09:38", "add", "RO-2", "bench_test", "--part", "thermostat"),
            *("--setup", "removed", *new, *limit),
            *("--set", "instruments.0.id=thermometer-9"),
        )
    )
    good(shop("09:40", "add", "RO-2", "code_clear"))
    module = read["typed"]["modules"][0]
    module |= {"stored": [], "permanent": [], "lamp": False, "count": 0}
    read["typed"]["counts"] = {
        "warm_ups": {"value": "4", "unit": "count"},
        "distance": {"value": "131", "unit": "km"},
        "minutes": {"value": "160", "unit": "min"},
    }
    del read["captured"]
    Path("after.json").write_text(json.dumps(read))
    good(shop("08:05", "add", "RO-2", "readout", "--file", "after.json", day=3))
    Path("display.jpg").write_bytes(photo())
    shown = ("display.jpg", "--shows", "the display after the drive", "--of", "9")
    good(shop("08:06", "add", "RO-2", "attachment", *shown, day=3))
    out = good(shop("08:10", "status", "RO-2", day=3))
    assert "so far vouched" in out.splitlines()[0], out
    closed = good(shop("08:12", "close", "RO-2", day=3))
    assert closed.startswith("RO-2: vouched: it rests on the shop's word for:")
    good(shop("08:13", "packet", "RO-2", "--out", "p.json", day=3))
    assert "judged here: vouched" in good(shop("08:14", "verify", "p.json", day=3))


def again(shop, name, record):
    """Record a demo's repair anew, each step by its command when it happened."""
    for number, event in enumerate(record):
        at = datetime.fromisoformat(event["at"])
        when = {"at": f"{at:%H:%M}", "day": (at.date() - START.date()).days}
        kind = event["kind"]
        command = ["open", name] if kind == "opening" else ["add", name, kind]
        members = {k: v for k, v in event.items() if k not in {"kind", "at", "by"}}
        if kind == "opening":
            del members["shop"]  # the log knows it
        if kind == "caution":
            step = event["step"]
            command += [event["caution"], "--before", step["kind"]]
            command += ["--part", step["part"]] if "part" in step else []
            for asked, value in event["preconditions"].items():
                text = (
                    value
                    if isinstance(value, str)
                    else f"{value['value']} {value['unit']}"
                )
                command += ["--set", f"{asked}={text}"]
        else:
            Path(f"{name}-{number}.json").write_text(json.dumps(members))
            command += ["--file", f"{name}-{number}.json"]
        good(shop(when["at"], *command, answers="y\ny\n", day=when["day"]))
    return when


@pytest.mark.parametrize(
    ("name", "verdict", "words"),
    [
        ("RO-1001", "proven", "each question by the best evidence"),
        ("RO-1002", "unproven", "part faulty before the repair"),
        ("RO-1003", "contradicted", "the evidence says the fault is still there"),
        ("RO-1004", "vouched", "it rests on the shop's word"),
        ("RO-1005", "unproven", "waiting"),
    ],
)
def test_the_demos_repairs_come_out_alike_step_by_step(shop, name, verdict, words):
    record = json.loads(Path(f"{name}.json").read_text())["events"]
    when = again(shop, name, record)
    status, out, _ = shop("23:00", "status", name, day=when["day"])
    assert status == 0
    reason = ["--unproven", "closed by a test"] * (verdict[0] in "uc")
    closed = good(shop("23:01", "close", name, *reason, day=when["day"]))
    assert closed.startswith(f"{name}: {verdict}")
    assert words in closed
    if verdict == "contradicted":
        assert "Next: The repair did not heal P0442: " in out
        assert "Name another part that may cause P0442" in out


def test_a_first_repair_that_did_not_heal_is_told_and_the_second_is_judged(shop):
    """The first coil was good for nothing: the same valve's hose was it."""
    before, after = raw("RO-1001")
    good(shop("08:20", "open", "RO-1", "--raw", before, *VAN))
    hose = said(
        suspect_parts__1__id="egr-hose",
        suspect_parts__1__name="vacuum hose of the EGR valve",
        suspect_parts__1__system="vacuum",
        suspect_parts__1__where="engine-bay",
    )
    good(shop("08:40", "add", "RO-1", "diagnosis", *VALVE, *hose))
    good(shop("09:00", "add", "RO-1", "caution", *BEFORE_TEST, answers="y\n" * 3))
    hold = ("--method", "seal-hold")
    valve = ("--part", "egr-valve", *hold, *held("6.5"))
    good(shop("09:15", "add", "RO-1", "bench_test", *valve))
    work = said(action="replaced", started="09:30", old_part="kept", codes="P0401")
    good(shop("09:50", "add", "RO-1", "repair", "--part", "egr-valve", *work))
    still = Path(before).read_text().replace("7E8 04 41 4E 0C 1A", "7E8 04 41 4E 0C 2A")
    still = still.replace("7E8 04 41 31 09 12", "7E8 04 41 31 09 1E")
    Path("still.txt").write_text(still)
    out = good(shop("10:30", "add", "RO-1", "readout", "--raw", "still.txt"))
    assert "Next: Before the bench test of vacuum hose of the EGR valve" in out
    assert "then: The repair did not heal P0401: " in out
    answers = "y\n" * 6
    good(shop("10:35", "add", "RO-1", "caution", *BEFORE_TEST, answers=answers))
    part = ("--part", "egr-hose")
    good(shop("10:45", "add", "RO-1", "bench_test", *part, *hold, *held("3.0")))
    work = said(action="replaced", started="10:50", codes="P0401")
    good(shop("11:00", "add", "RO-1", "repair", *part, *work))
    good(shop("11:05", "add", "RO-1", "code_clear"))
    good(shop("08:10", "add", "RO-1", "readout", "--raw", after, day=1))
    closed = good(shop("08:12", "close", "RO-1", day=1))
    assert closed.startswith("RO-1: proven")
    told = good(shop("08:13", "show", "RO-1", day=1))
    assert "Tried before for P0401: EGR valve replaced; it did not heal it." in told


def test_the_same_words_typed_again_at_once_are_one_step(shop):
    before, _ = raw("RO-1001")
    good(shop("08:20", "open", "RO-1", "--raw", before, *VAN))
    read = ("add", "RO-1", "readout", "--raw", before)
    good(shop("08:22", *read))
    told = "The log holds it already, as entry {}; say --again to record it once more."
    assert told.format(4) in good(shop("08:23", *read))
    good(shop("08:24", *read, "--again"))
    assert told.format(5) in good(shop("08:28", *read))
    good(shop("08:40", *read))
    diagnosis = ("add", "RO-1", "diagnosis", *VALVE)
    good(shop("08:41", *diagnosis))
    good(shop("08:42", *read))
    good(shop("08:43", *diagnosis))
    with Ledger.open(Path("shop.auditlog")) as ledger:
        kinds = [line.event["kind"] for line in ledger.show("RO-1").lines]
    assert kinds[:2] == ["opening", "readout"]
    assert kinds[2:] == [*["readout"] * 3, "diagnosis", "readout", "diagnosis"]


def test_the_same_form_sent_twice_is_one_event(shop):
    before, _ = raw("RO-1001")
    good(shop("08:20", "open", "RO-1", "--raw", before, *VAN))
    again = ("add", "RO-1", "diagnosis", *VALVE, "--form", "form-7")
    assert "Recorded as entry 4." in good(shop("08:40", *again))
    out = good(shop("08:41", *again))
    assert "The log holds it already, as entry 4." in out
    other = [text.replace("clear", "narrow") for text in again]
    status, _, err = shop("08:42", *other)
    assert (status, "sent before with something else" in err) == (2, True)


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("add", "RO-9", "code_clear"), "no repair order 'RO-9'"),
        (("add", "RO-1", "code_cleer"), "did you mean code_clear?"),
        (("add", "RO-1", "code_clear", "--at", "10:00"), "is no time with its offset"),
        (
            ("add", "RO-1", "code_clear", "--at", "2026-03-02T23:00:00+01:00"),
            "--at: 2026-03-02T23:00:00+01:00 is later than this computer's clock",
        ),
        (("add", "RO-1", "repair", "--set", "action"), "'action' is not PATH=VALUE"),
        (
            ("add", "RO-1", "repair", "--part", "x", "--set", "action=mended"),
            "--set action:",
        ),
        (("add", "RO-1", "caution", "--before", "frying"), "no step is of the kind"),
        (("add", "RO-1", "caution", "nothing", "--before", "repair"), "did you mean"),
        (("add", "RO-1", "code_clear", "--file", "odd.json"), 'code_clear: "colour"'),
        (("add", "RO-1", "readout", "--raw", "none.txt"), "there is no such file"),
        (("add", "RO-1", "readout", "--raw", "RO-1001.json"), "no whole answer"),
        (("open", "RO-1"), "repair order RO-1 is open already"),
        (("open", "RO-5"), "opening: not answered: vehicle.odometer (Odometer), "),
        (("open", "RO-5", "--vin", "0ZZTB1A18CA00012"), "--set vehicle.vin: "),
        (("close", "RO-9"), "no repair order 'RO-9'"),
    ],
)
def test_what_cannot_be_recorded_says_where_and_writes_nothing(shop, arguments, told):
    before, _ = raw("RO-1001")
    good(shop("08:20", "open", "RO-1", "--raw", before, *VAN))
    Path("odd.json").write_text('{"tool": "a tool", "colour": "green"}')
    size = Path("shop.auditlog").stat().st_size
    status, _, err = shop("08:30", *arguments)
    assert status == 2
    assert told in err
    assert len(err.splitlines()) == 1
    assert Path("shop.auditlog").stat().st_size == size


def test_who_clears_before_a_freeze_frame_was_read_is_asked(shop, monkeypatch):
    before, _ = raw("RO-1001")
    good(shop("08:20", "open", "RO-1", "--raw", before, *VAN))
    monkeypatch.setattr(add, "at_terminal", lambda: True)
    status, out, err = shop("08:30", "add", "RO-1", "code_clear", answers="\n")
    assert (status, out) == (1, "")
    assert "No freeze frame was read, and clearing wipes it" in err
    assert "Nothing was recorded." in err
    assert "clearing of codes" not in good(shop("08:31", "status", "RO-1"))
    good(shop("08:32", "add", "RO-1", "code_clear", answers="y\n"))
    assert "clearing of codes" in good(shop("08:33", "status", "RO-1"))


@pytest.mark.parametrize("said", ["> 020200\n", "7E8 05 42 02 00 04 01\n"])
def test_who_asked_for_the_freeze_frame_clears_without_a_question(
    shop, monkeypatch, said
):
    """A vehicle that keeps no frame answers nothing: that it was asked is enough."""
    before, _ = raw("RO-1001")
    Path(before).write_text(f"{Path(before).read_text()}\n{said}")
    good(shop("08:20", "open", "RO-1", "--raw", before, *VAN))
    monkeypatch.setattr(add, "at_terminal", lambda: True)
    status, _, err = shop("08:30", "add", "RO-1", "code_clear")
    assert (status, "freeze frame" in err) == (0, False)
