"""A vehicle is read over CAN: what is asked, how, and that the truth comes back."""

import hashlib
import itertools
import json
import re
import subprocess
import sys
import time
from datetime import datetime, timedelta
from importlib.resources import files

import can
import isotp
import pytest
from auditkit_demo.simulation import SimulatedVehicle, Simulation
from auditkit_demo.vehicle import KM_DRIVEN, MINUTES_DRIVEN, STATES, modules
from can_isotp import reference
from hypothesis import given
from hypothesis import strategies as st
from simulated import SteppedBus, read

from auditkit.capture.plan import (
    PositiveAnswer,
    must_answer,
    next_request,
    wanted_requests,
)
from auditkit.capture.result import RequestOutcome, Timing
from auditkit.capture.session import capture
from auditkit.cli.capture import capture_command
from auditkit.errors import InputError
from auditkit.obd import decode, transcript
from auditkit.obd import isotp as ours
from auditkit.order.events import RepairOrder
from auditkit.order.findings import Verdict
from auditkit.order.policy import DEFAULT
from auditkit.plugin.loading import load_canon

ENGINE, TRANSMISSION, PUMP = "7E8", "7E9", "7EA"


def heard(**answers: str):
    return {
        request[1:]: (PositiveAnswer(ENGINE, bytes.fromhex(data)),) if data else ()
        for request, data in answers.items()
    }


# --- what is asked ---


def test_a_map_says_what_is_asked():
    """Maps and ids of the worked examples of ISO 15031-5:2006 Annex A's scheme.

    BE1FA813 -> 01 03-07 0C-11 13 15 1C 1F 20 is an encyclopaedia's example; the service
    06 maps are those of an independent decoder's tests (scapy).
    """
    plan = wanted_requests(heard(_0100="4100BE1FA813"))
    assert plan[:2] == ("0100", "0120")
    found = [p for p in plan if p[:2] == "01"]
    assert found[2:] == ["0101", "011C", "011F", "0105", "010F"]
    plan = wanted_requests(heard(_0100="410080000000", _0600="46000102030420 01020304"))
    asked = [bytes.fromhex(p)[1] for p in plan if p.startswith("06")]
    mids = [0x08, 0x0F, 0x17, 0x18, 0x1E, 0x28, 0x2F, 0x37, 0x38, 0x3E]
    assert [a for a in asked if a % 32] == mids


def test_where_nobody_answers_nothing_more_is_asked():
    assert wanted_requests({})[0] == "0100"
    assert len(wanted_requests({})) > 1
    assert wanted_requests(heard(_0100="")) == ("0100",)


def test_frozen_values_are_asked_for_where_a_code_froze_them():
    """ISO 15031-5:2006 Table 140: 42 02 00 01 30 is code P0130."""
    base = heard(_0100="410080000000", _020200="4202000130", _020000="42000058000000")
    assert [p for p in wanted_requests(base) if p.startswith("02")] == [
        *("020200", "020000", "020400", "020500")
    ]
    none = base | heard(_020200="4202000000")
    assert [p for p in wanted_requests(none) if p.startswith("02")] == ["020200"]


def test_who_must_answer_is_what_the_maps_say():
    got = {
        "0100": (
            PositiveAnswer(ENGINE, bytes.fromhex("4100BE1FA813")),
            PositiveAnswer(TRANSMISSION, bytes.fromhex("410080000000")),
        )
    }
    assert must_answer("0101", got) == {ENGINE, TRANSMISSION}
    assert must_answer("011C", got) == {ENGINE}
    assert must_answer("03", got) == {ENGINE, TRANSMISSION}
    assert must_answer("0A", got) == must_answer("0904", got) == frozenset()


@given(st.data())
def test_whatever_answers_the_plan_ends_and_never_clears(data):
    """Every request has the standard's shape; 04, 05 and 08 are not among them."""
    got = {}
    while (request := next_request(got)) is not None:
        asked = bytes.fromhex(request)
        assert transcript.is_request(asked)
        assert asked[0] not in {0x04, 0x05, 0x08}
        bodies = data.draw(st.lists(st.binary(max_size=12), max_size=2))
        head = bytes([asked[0] + 0x40]) + asked[1:2]
        got[request] = tuple(
            PositiveAnswer(who, head + body)
            for who, body in zip((ENGINE, PUMP), bodies, strict=False)
        )
        assert request in wanted_requests(got)
    assert len(got) <= 8 + 16 + 3 + 12 + 256 + 8 + 6


# --- how it is asked ---


@pytest.mark.parametrize("extended", [False, True])
def test_requests_and_flow_control_go_where_the_standard_says(extended):
    """ISO 15765-4:2005 Tables 3 to 5 and 7: ids, eight bytes, one ``30 00 00``."""
    got, bus = read(extended=extended)
    everyone = 0x18DB33F1 if extended else 0x7DF
    alone = [0x18DA10F1, 0x18DA11F1, 0x18DA12F1] if extended else [0x7E0, 0x7E1, 0x7E2]
    assert all(len(m.data) == m.dlc == 8 for m in bus.sent)
    assert {m.is_extended_id for m in bus.sent} == {extended}
    flow = [m for m in bus.sent if m.data[0] >> 4 == 3]
    assert {bytes(m.data[:3]).hex() for m in flow} == {"300000"}
    assert {m.arbitration_id for m in flow} == set(alone)
    requests = [m for m in bus.sent if m not in flow]
    assert {m.arbitration_id for m in requests} == {everyone}
    firsts = [
        int(line.split()[2].split("#")[0], 16)
        for line in got.text.splitlines()
        if line.split("#")[1].startswith("1")
    ]
    tied = dict(zip([0x18DAF110, 0x18DAF111, 0x18DAF112], alone, strict=True))
    expected = [tied[i] if extended else i - 8 for i in firsts]
    assert [m.arbitration_id for m in flow] == expected


# --- what comes back ---


@pytest.mark.parametrize("state", STATES)
def test_the_readout_is_what_the_vehicle_holds(state):
    got, _ = read(state=state)
    readout = decode(got.text)
    assert readout.problems == ()
    assert got.notes == got.unasked == got.faults == ()
    assert {one.outcome for one in got.asked} == {RequestOutcome.ANSWERED}
    memory = dict(zip((ENGINE, TRANSMISSION, PUMP), modules(state), strict=True))
    assert readout.responders == got.responders == tuple(memory)
    assert readout.vin == "0ZZTB1A18CA000123"
    for kind in ("confirmed", "pending", "permanent"):
        told = [(c.responder, c.text) for c in getattr(readout, kind)]
        held = [(w, f"P{c:04X}") for w, m in memory.items() for c in getattr(m, kind)]
        assert told == held
    sent = {(p.responder, p.service, p.id): p.data for p in readout.parameters}
    for who, module in memory.items():
        for pid in set(module.data) - {0x03, 0x04, 0x0C, 0x0D}:
            assert sent[who, "01", f"{pid:02X}"] == module.data[pid].hex().upper()
    words = {}
    for t in readout.self_tests:
        record = bytes([int(t.mid, 16), int(t.tid, 16), int(t.uasid, 16)])
        record += b"".join(
            w.to_bytes(2) for w in (t.raw_value, t.raw_minimum, t.raw_maximum)
        )
        words[t.responder, t.mid] = words.get((t.responder, t.mid), b"") + record
    assert words == {
        (who, f"{mid:02X}"): records
        for who, module in memory.items()
        for mid, records in module.tests.items()
    }
    assert len(readout.calibration_ids) == len(readout.cvns) == 4
    assert len(readout.module_names) == 3
    frozen = [v.id for v in readout.values if v.service == "02"]
    whole = ["02", "03", "04", "05", "0C", "0D"]
    assert frozen == (whole if state == "before" else ["02"])


def test_every_frame_is_a_line_and_the_digest_is_the_texts():
    got, bus = read()
    lines = got.text.splitlines()
    assert len(lines) == got.frames
    assert got.sha256 == hashlib.sha256(got.text.encode()).hexdigest()
    assert lines[0] == "(1700000000.000000) can0 7DF#0201000000000000"
    times = [float(line[1:18]) for line in lines]
    assert times == sorted(times)
    sent = sum(line.split()[2][:3] in {"7DF", "7E0", "7E1", "7E2"} for line in lines)
    assert sent == len(bus.sent)


def test_an_answer_that_is_pending_is_waited_for():
    """``7F 09 78`` before a CVN: ISO 15031-5:2006 Table 7 and Tables 190 to 193."""
    got, _ = read()
    assert "7E8#037F0978" in got.text
    assert decode(got.text).cvns[0] == (ENGINE, "1791BC82")


def test_modules_that_speak_at_once_are_kept_apart():
    got, _ = read(mingle=True)
    assert decode(got.text).to_json() == decode(read()[0].text).to_json()
    order = [
        line.split()[2][:3]
        for line in got.text.splitlines()
        if "#2" in line and line.split("#")[1].startswith("2")
    ]
    turns = sum(a != b for a, b in itertools.pairwise(order))
    assert turns > 10, "consecutive frames of several modules stand between each other"


def test_over_a_virtual_bus_and_a_thread_it_is_the_same():
    simulation = Simulation(list(modules("before")), cvn_seconds=0.1)
    with (
        SimulatedVehicle("test-capture", simulation),
        can.Bus(interface="virtual", channel="test-capture") as bus,
    ):
        got = capture(bus, started=time.time(), timing=Timing(window=0.04))
    assert got.faults == ()
    assert decode(got.text).to_json() == decode(read()[0].text).to_json()


# --- can-isotp, another implementation of ISO 15765-2, as the reference ---


def test_another_implementation_reads_the_same_messages():
    text = read(mingle=True)[0].text
    items = transcript.read(text).items
    messages, problems = ours.reassemble(items)
    assert problems == ()
    for who, own in ((0x7E8, 0x7E0), (0x7E9, 0x7E1), (0x7EA, 0x7E2)):
        errors = []
        theirs = reference(own, who, items, errors)
        assert errors == []
        assert theirs == [m.data for m in messages if m.responder == f"{who:03X}"]
        assert len(theirs) > 5


class ReferenceModule:
    """A module whose frames and flow control are can-isotp's; as a bus."""

    def __init__(self, answers: dict[str, bytes]) -> None:
        self.now = 0.0
        self.answers = answers
        self.inbox: list[isotp.CanMessage] = []
        self.outbox: list[isotp.CanMessage] = []
        self.layer = isotp.TransportLayerLogic(
            rxfn=lambda timeout: self.inbox.pop(0) if self.inbox else None,
            txfn=self.outbox.append,
            address=isotp.Address(
                isotp.AddressingMode.Normal_11bits, txid=0x7E8, rxid=0x7E0
            ),
            params={"tx_padding": 0x55},
            error_handler=self.fail,
        )

    def clock(self) -> float:
        return self.now

    def fail(self, error) -> None:
        raise AssertionError(error)

    def send(self, msg, timeout=None) -> None:
        if msg.arbitration_id == 0x7DF:
            request = bytes(msg.data[1 : 1 + msg.data[0]]).hex().upper()
            if request in self.answers:
                self.layer.send(self.answers[request])
        else:
            flow = isotp.CanMessage(arbitration_id=msg.arbitration_id, data=msg.data)
            self.inbox.append(flow)

    def recv(self, timeout=None):
        if not self.outbox:
            self.layer.process()
        if self.outbox:
            m = self.outbox.pop(0)
            return can.Message(
                arbitration_id=m.arbitration_id, data=m.data, is_extended_id=False
            )
        self.now += timeout or 0.0
        return None


@pytest.mark.parametrize("count", [1, 2, 14, 64])
def test_a_module_of_another_implementation_is_read(count):
    """Up to 1,026 bytes, so that sequence numbers begin anew nine times."""
    names = [f"REFERENCE-{n:05d}" for n in range(count)]
    body = b"".join(name.ljust(16, "\0").encode() for name in names)
    module = ReferenceModule(
        {
            "0100": bytes.fromhex("410000000000"),
            "03": bytes.fromhex("4300"),
            "07": bytes.fromhex("4700"),
            "0900": bytes.fromhex("490010000000"),
            "0904": bytes([0x49, 0x04, count]) + body,
        }
    )
    got = capture(module, started=0, clock=module.clock)
    assert got.faults == ()
    told = decode(got.text)
    assert told.problems == ()
    assert [text for _, text in told.calibration_ids] == names


# --- the command ---


@pytest.fixture
def run(tmp_path, monkeypatch, capsys):
    """Return a function that runs the command: (status, output, what it says first)."""
    monkeypatch.chdir(tmp_path)

    def call(*arguments):
        status = capture_command.main(
            [str(a) for a in arguments], standalone_mode=False
        )
        out, err = capsys.readouterr()
        return status, out, err

    return call


def test_the_command_reads_the_simulated_vehicle(run, tmp_path):
    status, out, err = run("--simulated", "after", "--out", "after.txt")
    assert status == 0
    first, last = out.splitlines()
    told = re.fullmatch(
        r"3 modules answered \(7E8, 7E9, 7EA\): (\d+) frames, 42 requests: 42 answered",
        first,
    )
    # 153 where nobody has to wait; on a busy machine a request may be repeated.
    assert told is not None, first
    assert int(told[1]) >= 153
    text = (tmp_path / "after.txt").read_text()
    assert hashlib.sha256(text.encode()).hexdigest() in last
    assert decode(text).to_json() == decode(read(state="after")[0].text).to_json()
    assert "stationary" in err
    assert "ignition on" in err
    with pytest.raises(InputError, match="exists already"):
        run("--simulated", "--out", "after.txt")


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ((), "name one of"),
        (("--simulated", "before", "--interface", "virtual"), "name one of"),
        (("--interface", "no-such"), "could not be opened"),
        (("--interface", "virtual", "--channel", "empty"), "no module answered"),
        (("--simulated", "--out", "none/such.txt"), "no such folder"),
        (("--from-log", "none.log"), "no such file"),
    ],
)
def test_a_mistake_is_one_clear_error(run, arguments, said):
    with pytest.raises(InputError) as error:
        run(*arguments)
    assert said in str(error.value)
    assert error.value.what_to_do


def test_without_python_can_the_rest_works_and_the_extra_is_named(run, monkeypatch):
    modules_ = (
        "auditkit.capture.session, auditkit.capture.logfile, auditkit.cli.capture"
    )
    code = f"import sys; sys.modules['can'] = None; import auditkit, {modules_}"
    subprocess.run([sys.executable, "-c", code], check=True)
    monkeypatch.setitem(sys.modules, "can", None)
    for arguments in (("--simulated",), ("--interface", "virtual")):
        with pytest.raises(InputError, match=r"\.\[can\]"):
            run(*arguments)


def test_the_simulated_vehicle_is_that_of_the_demos_order():
    """``demo --bay`` reads it into RO-1001: another odometer were another vehicle."""
    events = json.loads((files("auditkit_demo") / "RO-1001.json").read_text())["events"]
    opened = next(e for e in events if e["kind"] == "opening")["vehicle"]
    before, after = (modules(state)[0] for state in ("before", "after"))
    km = [int.from_bytes(m.data[0xA6]) / 10 for m in (before, after)]
    assert km[0] == int(opened["odometer"]["value"])
    assert km[1] - km[0] == int.from_bytes(after.data[0x31])
    assert km[1] - km[0] == KM_DRIVEN
    assert int.from_bytes(after.data[0x4E]) == MINUTES_DRIVEN
    assert before.info[0x02][1:].decode() == opened["vin"]


@pytest.mark.parametrize(
    ("minutes", "verdict"),
    [(MINUTES_DRIVEN, Verdict.PROVEN), (MINUTES_DRIVEN - 2, Verdict.UNPROVEN)],
)
def test_the_demos_order_is_proven_minutes_after_its_clear_and_no_sooner(
    minutes, verdict
):
    """Whoever tries ``demo --bay`` does not wait for an hour, and cannot lie there."""
    record = json.loads((files("auditkit_demo") / "RO-1001.json").read_text())
    *steps, last = record["events"]
    clear = next(e for e in steps if e["kind"] == "code_clear")
    cleared = datetime.fromisoformat(clear["at"])
    steps = [e for e in steps if e["at"] <= clear["at"]]
    at = cleared + timedelta(minutes=minutes)
    bus = SteppedBus(Simulation(list(modules("after"))))
    raw = capture(bus, started=at.timestamp(), clock=bus.clock).text
    when = {"at": at.isoformat(), "captured": at.isoformat()}
    steps.append({**last, **when, "raw": raw, "tool": "CAN cable"})
    order = RepairOrder.fold(record["repair_order"], steps)
    assert load_canon().judge(order, DEFAULT).verdict is verdict
