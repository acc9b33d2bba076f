"""Reassembly after ISO 15765-2:2004: whole and in order, or dropped with a problem."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from auditkit.obd import decode

ROWS = [
    "10 13 46 3C C9 FD 01 2C",
    "21 00 00 01 90 3C CA FD",
    "22 00 64 00 00 01 90 00",
]


def framed(payload: bytes, fill: int = 0) -> list[bytes]:
    """Cut a payload into frames, straight from ISO 15765-2:2004 clause 6."""
    if len(payload) < 8:
        return [(bytes([len(payload)]) + payload).ljust(8, bytes([fill]))]
    frames = [(0x1000 | len(payload)).to_bytes(2) + payload[:6]]
    for n, at in enumerate(range(6, len(payload), 7), start=1):
        piece = bytes([0x20 | n & 15]) + payload[at : at + 7]
        frames.append(piece.ljust(8, bytes([fill])))
    return frames


def text_of(frames: list[bytes], who: str = "7E8") -> str:
    return "\n".join(f"{who} {frame.hex(' ')}" for frame in frames)


def rows(*lines: str) -> str:
    return "\n".join(f"7E8 {line}" for line in lines)


def test_the_frames_as_they_stand():
    readout = decode(rows(*ROWS))
    assert len(readout.self_tests) == 2
    assert readout.problems == ()


@pytest.mark.parametrize(
    ("frames", "what"),
    [
        ([ROWS[0], ROWS[2]], "frame 2 came where frame 1 was due"),
        ([ROWS[0], ROWS[1]], "not finished: 13 of 19"),
        ([ROWS[0]], "not finished: 6 of 19"),
        ([ROWS[0], ROWS[1], ROWS[1], ROWS[2]], "frame 1 came where frame 2 was due"),
        ([ROWS[0], ROWS[2], ROWS[1]], "frame 2 came where frame 1 was due"),
        ([*ROWS, ROWS[2]], "more frames than the message's length"),
        (["10 0C" + ROWS[0][5:], *ROWS[1:]], "more frames than the message's length"),
        (ROWS[1:], "without a first frame"),
        ([ROWS[0], *ROWS], "before the message ended"),
        ([ROWS[0], "02 43 00"], "not finished"),
        (["10 07 46 3C C9 FD 01 2C"], "first frame of length 7"),
        (["10 00 46 3C C9 FD 01 2C"], "first frame of length 0"),
        (["10 13 46"], "not eight bytes"),
        ([ROWS[0], "21 00 00 01", ROWS[2]], "bytes missing"),
        ([ROWS[0], ROWS[1], "22 00 64 00 00 01"], "bytes missing"),
        (["00 46 3C"], "single frame of length 0"),
        (["08 46 3C C9 FD 01 2C 00"], "single frame of length 8"),
        (["06 46 3C C9"], "shorter than its length"),
        (["40 46 3C"], "begins no frame"),
    ],
)
def test_a_faulty_message_is_dropped(frames, what):
    readout = decode(rows(*frames))
    assert readout.self_tests == ()
    assert what in readout.problems[0].problem
    assert readout.problems[0].responder == "7E8"


def test_a_new_request_ends_what_was_not_finished():
    # ISO 15031-5:2006 clause 5: the tester asks again after a timeout.
    text = f"{rows(*ROWS[:2])}\n7DF 02 06 3C\n{rows(*ROWS)}"
    readout = decode(text)
    assert len(readout.self_tests) == 2
    assert [p.line for p in readout.problems] == [1]
    other = decode(text.replace("7DF", "7E1"))
    assert other.self_tests == ()


def test_flow_control_is_not_data():
    readout = decode(rows(ROWS[0], "30 00 00", *ROWS[1:]))
    assert len(readout.self_tests) == 2
    assert readout.problems == ()


def test_sequence_numbers_wrap():
    # ISO 15765-2:2004: 1..F, then 0.
    payload = b"\x46" + b"".join(
        bytes([0x21, 0x80 + n, 0x01, 0, n, 0, 0, 1, 0]) for n in range(40)
    )
    readout = decode(text_of(framed(payload)))
    assert [t.raw_value for t in readout.self_tests] == list(range(40))
    assert readout.problems == ()


RECORD = st.tuples(
    st.integers(1, 0xFE), st.integers(0, 255), *[st.integers(0, 0xFFFF)] * 3
)
ANSWER = st.lists(RECORD, min_size=1, max_size=40, unique_by=lambda r: r[0])


def answer(mid: int, records: list[tuple[int, ...]]) -> bytes:
    return b"\x46" + b"".join(
        bytes([mid, tid, uasid]) + b"".join(word.to_bytes(2) for word in words)
        for tid, uasid, *words in records
    )


@given(ANSWER, st.integers(0, 255), st.data())
def test_interleaved_responders_are_kept_apart(records, fill, data):
    one = [f"7E8 {f.hex()}" for f in framed(answer(0x21, records), fill)]
    two = [f"7E9 {f.hex()}" for f in framed(answer(0x3C, records), fill)]
    mixed = []
    while one or two:
        source = data.draw(st.sampled_from([s for s in (one, two) if s]))
        mixed.append(source.pop(0))
    readout = decode("\n".join(mixed))
    assert readout.problems == ()
    for who, mid in (("7E8", "21"), ("7E9", "3C")):
        mine = {
            (
                int(t.tid, 16),
                int(t.uasid, 16),
                t.raw_value,
                t.raw_minimum,
                t.raw_maximum,
            )
            for t in readout.self_tests
            if (t.responder, t.mid) == (who, mid)
        }
        assert mine == set(records)


@given(ANSWER, st.sampled_from(["drop", "repeat", "swap"]), st.data())
def test_one_framing_error_gives_a_problem_and_no_value(records, fault, data):
    frames = framed(answer(0x3C, records))
    last = len(frames) - (2 if fault == "swap" else 1)
    at = data.draw(st.integers(0 if fault == "drop" or not last else 1, max(last, 0)))
    if fault == "drop":
        del frames[at]
    elif fault == "repeat":
        frames.insert(at, frames[at])
    else:
        frames[at : at + 2] = frames[at : at + 2][::-1]
    good = framed(b"\x43\x00")
    readout = decode(text_of(good) + "\n" + text_of(frames))
    assert readout.self_tests == ()
    assert readout.problems


@given(ANSWER, st.lists(st.integers(0, 60), max_size=8))
def test_lost_frames_never_make_a_value(records, lost):
    frames = framed(answer(0x3C, records))
    kept = [f for n, f in enumerate(frames) if n not in lost]
    readout = decode("43 00\n" + text_of(kept))
    if len(kept) == len(frames):
        assert len(readout.self_tests) == len(records)
    else:
        assert readout.self_tests == ()
        assert readout.problems or not kept


@given(st.binary(min_size=1, max_size=300), st.integers(0, 255))
def test_padding_and_length_do_not_matter_to_the_payload(payload, fill):
    one, two = (decode(text_of(framed(payload, f))) for f in (fill, fill ^ 0xFF))
    assert one == two
