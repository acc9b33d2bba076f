"""A vehicle or a bus that misbehaves: the reading ends in time and tells the truth."""

import itertools

import can
import pytest
from auditkit_demo.simulation import Fault
from auditkit_demo.vehicle import modules
from can_isotp import reference
from hypothesis import given
from hypothesis import strategies as st
from simulated import SteppedBus, read

from auditkit.capture.result import RequestOutcome, Timing
from auditkit.capture.session import MOST_FRAMES, capture
from auditkit.errors import InputError
from auditkit.obd import decode, transcript

GOOD = read()[0]
TRUTH = decode(GOOD.text)
P2, P2_STAR, N_CR = 0.075, 5.0, 0.15
"""The window with its margin; ISO 15031-5:2006 Table 5, ISO 15765-4:2005 Table 6."""


def asked(got, request):
    return [one for one in got.asked if one.request == request]


def spent(got, request) -> list[float]:
    """Return the seconds from each asking of a request to the next request."""
    body = f"7DF#{len(request) // 2:02X}{request}".ljust(20, "0")
    lines = [line.split() for line in got.text.splitlines()]
    sent = [(float(at[1:-1]), what) for at, _, what in lines if what[:3] == "7DF"]
    return [
        later[0] - now[0] for now, later in itertools.pairwise(sent) if now[1] == body
    ]


BROKEN = [
    # fault, what is told of 7E8
    (Fault(request="0902", drop=frozenset({1})), "frame 2 came where frame 1 was due"),
    (
        Fault(request="0902", drop=frozenset({2})),
        "message not finished: 13 of 20 bytes",
    ),
    (Fault(request="0902", drop=frozenset({1, 2})), "message not finished: 6 of 20"),
    (
        Fault(request="0902", repeat=frozenset({1})),
        "frame 1 came where frame 2 was due",
    ),
    (Fault(request="0902", repeat=frozenset({2})), "more frames than the message's"),
    (Fault(request="0902", repeat=frozenset({0})), "a new first frame before"),
    (Fault(request="0902", skip=1), "frame 2 came where frame 1 was due"),
    (Fault(request="0902", skip=2), "frame 3 came where frame 2 was due"),
    (Fault(request="0902", extra=1), "more frames than the message's length"),
    (Fault(request="0902", extra=30), "more frames than the message's length"),
]


@pytest.mark.parametrize(("fault", "said"), BROKEN)
def test_a_broken_answer_is_broken_and_never_mended(fault, said):
    got, _ = read(fault)
    assert [one.outcome for one in asked(got, "0902")] == [RequestOutcome.BROKEN] * 2
    assert said in " ".join(asked(got, "0902")[0].notes)
    assert [one.request for one in got.faults] == ["0902"]
    told = decode(got.text)
    assert told.vin is None
    assert any(said in p.problem for p in told.problems)
    assert told.self_tests == TRUTH.self_tests, "what came after is read as ever"
    assert told.module_names == TRUTH.module_names
    assert all(each <= P2 + N_CR + 0.02 for each in spent(got, "0902"))


@pytest.mark.parametrize("fault", [f for f, _ in BROKEN])
def test_another_implementation_stumbles_there_too(fault):
    """can-isotp as the reference: an error, or no message; and none of it otherwise.

    It keeps a message with frames to spare and one begun anew, and tells an error.
    """
    for text, good in ((read(fault)[0].text, False), (GOOD.text, True)):
        errors = []
        theirs = reference(0x7E0, 0x7E8, transcript.read(text).items, errors)
        found = any(data.startswith(b"\x49\x02") for data in theirs)
        assert (found and not errors) is good


def test_a_lost_frame_ends_after_the_time_between_frames():
    got, _ = read(Fault(request="0902", drop=frozenset({1, 2})))
    for each in spent(got, "0902"):
        assert N_CR < each < N_CR + 0.02


@pytest.mark.parametrize("fault", [f for f, _ in BROKEN])
def test_asked_once_more_a_passing_fault_is_over(fault):
    once = Fault(
        **{
            name: getattr(fault, name)
            for name in ("request", "drop", "repeat", "skip", "extra")
        },
        times=1,
    )
    got, _ = read(once)
    both = [one.outcome for one in asked(got, "0902")]
    assert both == [RequestOutcome.BROKEN, RequestOutcome.ANSWERED]
    assert got.faults == ()
    told = decode(got.text)
    assert told.vin == TRUTH.vin
    assert told.problems, "the broken answer stays told"


def test_a_lost_single_or_first_frame_is_a_missing_module():
    for request in ("03", "0902"):
        got, _ = read(Fault(module=0, request=request, drop=frozenset({0})))
        first, second = asked(got, request)
        assert first.missing == second.missing == ("7E8",)
        assert first.notes == ("7E8: had to answer and was silent",)
        assert first.outcome is (
            RequestOutcome.ANSWERED if request == "03" else RequestOutcome.SILENT
        )
        assert all(P2 - 1e-5 < each < P2 + 0.01 for each in spent(got, request))


def test_a_module_that_never_speaks_is_no_responder():
    got, _ = read(Fault(module=1, silent=True))
    assert got.responders == decode(got.text).responders == ("7E8", "7EA")
    assert got.faults == ()


def test_a_vehicle_that_never_speaks_is_asked_twice_and_no_more():
    got, bus = read(*(Fault(module=n, silent=True) for n in range(3)))
    assert [one.request for one in got.asked] == ["0100", "0100"]
    assert {one.outcome for one in got.asked} == {RequestOutcome.SILENT}
    assert bus.now - 100 < 2 * P2 + 0.01
    assert got.responders == ()


def test_a_refusal_is_no_silence():
    """``7F 0A 22``, conditions not correct: ISO 15031-5:2006 Tables 11 and 12."""
    everyone = [Fault(module=n, request="0A", refuse=0x22) for n in range(3)]
    got, _ = read(*everyone)
    (one,) = asked(got, "0A")
    assert one.outcome is RequestOutcome.REFUSED
    assert one.notes[0] == "7E8: service 0A refused: 22 conditions not correct"
    assert "0A" not in decode(got.text).reported
    got, _ = read(everyone[0])
    (one,) = asked(got, "0A")
    assert (one.outcome, one.responders) == (RequestOutcome.ANSWERED, ("7E9", "7EA"))


def test_a_slow_answer_within_the_window_is_an_answer():
    got, _ = read(Fault(module=0, delay=0.045))
    assert got.faults == ()
    assert decode(got.text).to_json() == TRUTH.to_json()


def test_an_answer_after_the_window_is_told_and_taken_for_no_other():
    got, _ = read(Fault(module=0, request="0105", delay=0.16, times=1))
    first, second = asked(got, "0105")
    assert (first.outcome, first.missing) == (RequestOutcome.SILENT, ("7E8",))
    assert second.outcome is RequestOutcome.ANSWERED
    notes = [note for one in asked(got, "010F") for note in one.notes]
    assert notes == ["7E8: 41 05 answers another request"]
    assert decode(got.text).value("05") == TRUTH.value("05")


@pytest.mark.parametrize(("seconds", "good"), [(4.5, True), (5.5, False)])
def test_a_pending_answer_is_waited_for_five_seconds(seconds, good):
    bus = SteppedBus(read()[1].simulation)
    bus.simulation.cvn_seconds = seconds
    got = capture(bus, started=0, clock=bus.clock)
    first = asked(got, "0906")[0]
    assert first.outcome is (RequestOutcome.ANSWERED if good else RequestOutcome.BROKEN)
    pending = "7E8: said that the answer is pending; none came"
    assert (pending in first.notes) is not good
    assert spent(got, "0906")[0] < P2_STAR + 0.1
    assert bus.now - 100 < 2 * P2_STAR + 6


def test_the_time_limit_holds_and_what_is_left_is_named():
    got, bus = read(timing=Timing(total=1.0))
    assert bus.now - 100 <= 1.0
    assert got.unasked[-1] == "0900"
    done = {one.request for one in got.asked}
    assert len(set(got.unasked) & done) <= 1, "the one that the limit cut short"
    assert "left requests unasked" in got.notes[0]


@given(
    st.lists(
        st.builds(
            Fault,
            module=st.integers(0, 2),
            request=st.sampled_from([None, "0902", "0904", "0631", "03", "0100"]),
            times=st.sampled_from([None, 1, 2]),
            drop=st.frozensets(st.integers(0, 4), max_size=2),
            repeat=st.frozensets(st.integers(0, 4), max_size=2),
            skip=st.none() | st.integers(1, 4),
            extra=st.integers(0, 3),
            delay=st.sampled_from([0.0, 0.01, 0.06, 0.1, 0.3]),
            silent=st.booleans(),
            refuse=st.sampled_from([None, 0x11, 0x21, 0x22, 0x78]),
        ),
        max_size=4,
    ),
    st.booleans(),
)
def test_whatever_goes_wrong_it_ends_in_time_and_nothing_false_is_read(faults, mingle):
    total = 30.0
    got, bus = read(*faults, timing=Timing(total=total), mingle=mingle)
    assert bus.now - 100 <= total + 0.001
    told = decode(got.text)
    assert told.vin in {None, TRUTH.vin}
    for name in ("confirmed", "permanent", "self_tests", "counters", "calibration_ids"):
        assert set(getattr(told, name)) <= set(getattr(TRUTH, name))
    assert set(told.cvns) <= set(TRUTH.cvns)
    # A module that no 0100 makes known, and a refusal, are no faults of the reading.
    excused = any(f.request in {None, "0100"} or f.refuse for f in faults)
    if told.to_json() != TRUTH.to_json() and not excused:
        assert got.faults or got.unasked or told.problems


class Scripted:
    """A bus that sends given frames, each after some seconds."""

    def __init__(self, frames):
        self.frames = list(frames)
        self.now = 0.0

    def clock(self):
        return self.now

    def send(self, msg, timeout=None):
        pass

    def recv(self, timeout=None):
        wait, message = self.frames[0] if self.frames else (1e9, None)
        if wait > (timeout or 0.0):
            self.now += timeout or 0.0
            return None
        self.frames.pop(0)
        self.now += wait
        return message


def frame(can_id=0x7E8, data=b"", **options):
    return can.Message(
        arbitration_id=can_id, data=data, **({"is_extended_id": False} | options)
    )


@given(
    st.lists(
        st.tuples(
            st.sampled_from([0.0, 0.001, 0.02, 0.14, 0.16, 1.0]),
            st.builds(
                frame,
                st.sampled_from([0x7E8, 0x7EF, 0x7DF, 0x7E0, 0x123]),
                st.binary(max_size=8)
                | st.binary(max_size=5).map(lambda rest: b"\x06\x41\x00" + rest)
                | st.binary(min_size=6, max_size=6).map(
                    lambda rest: b"\x10\x20" + rest
                ),
            ),
        ),
        max_size=60,
    )
)
def test_any_bytes_on_the_bus_end_in_a_readout(frames):
    bus = Scripted(frames)
    got = capture(bus, started=0, clock=bus.clock, timing=Timing(total=20))
    assert bus.now <= 20.001
    assert len(decode(got.text).responders) <= 2


def test_a_bus_that_never_falls_silent_does_not_hold_the_reading():
    noise = [(0.0001, frame(0x123, b"\0")) for _ in range(50_000)]
    bus = Scripted(noise)
    got = capture(bus, started=0, clock=bus.clock, timing=Timing(total=1))
    assert bus.now <= 1.001
    assert "frames of other kinds or ids were not kept" in got.notes[-1]
    flood = [(0.0, frame(0x7E8, b"\x02\x41\x00")) for _ in range(MOST_FRAMES + 500)]
    got = capture(Scripted([(0.001, flood[0][1]), *flood]), started=0)
    assert got.frames <= MOST_FRAMES + 1


def test_what_is_not_the_vehicles_answer_is_counted():
    others = [
        frame(0x7E8, b"\x06\x41\x00\x80\0\0\0", is_error_frame=True),
        frame(0x7E8, b"\x06\x41\x00\x80\0\0\0", is_fd=True),
        frame(0x18DAF110, b"\x06\x41\x00\x80\0\0\0", is_extended_id=True),
        frame(0x7E8, is_remote_frame=True),
        frame(0x3F0, b"\1"),
        frame(0x7DF, b"\x02\x01\x0c\0\0\0\0\0"),
    ]
    bus = Scripted([(0.01, other) for other in others])
    got = capture(bus, started=0, clock=bus.clock)
    assert got.responders == ()
    assert got.notes == (
        "4 frames of other kinds or ids were not kept",
        "1 error frames were seen on the bus",
        "1 requests were not ours: another tool is on the bus",
    )


@pytest.mark.parametrize("where", ["send", "recv"])
def test_an_interface_that_fails_is_one_clear_error(where):
    bus = SteppedBus(read()[1].simulation)

    def fail(*_, **__):
        what = "bus off"
        raise can.CanOperationError(what)

    setattr(bus, where, fail)
    with pytest.raises(InputError, match="bus off") as error:
        capture(bus, started=0, clock=bus.clock)
    assert "cable" in error.value.what_to_do


def test_what_came_before_the_cable_is_out_is_kept_and_the_rest_is_unasked():
    bus = SteppedBus(read()[1].simulation)
    receive = bus.recv

    def recv(timeout=None):
        if len(bus.sent) > 15:
            what = "bus off"
            raise can.CanOperationError(what)
        return receive(timeout)

    bus.recv = recv
    got = capture(bus, started=0, clock=bus.clock)
    assert got.responders == ("7E8", "7E9", "7EA")
    assert got.unasked
    assert got.notes[0].startswith("the interface stopped: bus off")
    asked = {one.request for one in got.asked}
    assert not asked & set(got.unasked)
    assert decode(got.text).responders == got.responders


def test_the_simulated_vehicle_waits_for_flow_control():
    """N_Bs of 75 ms: ISO 15765-4:2005 Table 6. Else the captures above prove little."""
    simulation = read()[1].simulation
    simulation.take(0x7DF, bytes.fromhex("0209020000000000"), 0.0)
    assert simulation.pop()[1][:2] == b"\x10\x14"
    assert simulation.next_at() is None
    simulation.take(0x7E1, bytes.fromhex("3000000000000000"), 0.01)
    assert simulation.next_at() is None, "a flow control for another module"
    simulation.take(0x7E0, bytes.fromhex("3000000000000000"), 0.2)
    assert simulation.next_at() is None, "too late"
    assert modules()[0].answer(b"\x09\x02")[3:] == b"0ZZTB1A18CA000123"
