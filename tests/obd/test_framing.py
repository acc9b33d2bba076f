"""Whatever goes wrong with the frames of a message: a problem, never a wrong value."""

from hypothesis import given
from hypothesis import strategies as st
from vehicles import frames

from auditkit.obd import decode

FAULTS = ("drop", "repeat", "swap", "cut", "sequence", "length", "join", "foreign")

records = st.lists(
    st.binary(min_size=6, max_size=6).filter(any), min_size=1, max_size=7
)


def truth(text):
    return {
        (t.responder, t.mid, t.tid, t.raw_value, t.raw_minimum, t.raw_maximum)
        for t in decode(text).self_tests
    }


def spoiled(lines, fault, at, amount):
    """Return frames with one fault of framing."""
    lines, at = list(lines), at % len(lines)
    who, *data = lines[at].split()
    if fault == "drop":
        del lines[at]
    elif fault == "repeat":
        lines.insert(at, lines[at])
    elif fault == "swap":
        other = (at + 1) % len(lines)
        lines[at], lines[other] = lines[other], lines[at]
    elif fault == "cut":
        lines[at] = " ".join([who, *data[: 1 + amount % 7]])
    elif fault == "sequence" and data[0][0] == "2":
        turned = (int(data[0][1], 16) + 1 + amount % 15) % 16
        lines[at] = " ".join([who, f"2{turned:X}", *data[1:]])
    elif fault == "length":
        who, *data = lines[0].split()
        length = (int(data[0][1], 16) << 8 | int(data[1], 16)) ^ (1 + amount % 0xFFF)
        head = [f"1{length >> 8:X}", f"{length & 0xFF:02X}"]
        lines[0] = " ".join([who, *head, *data[2:]])
    elif fault == "join":
        lines = lines[: at + 1] + lines
    elif fault == "foreign":
        lines[at] = f"{who} {'3F' if amount % 2 else '4F'} {' '.join(data[1:])}"
    return lines


@given(records, st.sampled_from(FAULTS), st.integers(0, 50), st.integers(0, 0xFFFF))
def test_a_framing_fault_is_a_problem_and_never_a_wrong_value(words, fault, at, amount):
    payload = b"\x46" + b"".join(
        bytes([0x3C, 0x81 + n, 0x17]) + word for n, word in enumerate(words)
    )
    lines = frames("7E8", payload)
    right = truth("\n".join(lines))
    assert len(right) == len(words)
    text = "\n".join(spoiled(lines, fault, at, amount))
    found = truth(text)
    assert found <= right
    assert found == right or decode(text).problems


@given(records, records, st.randoms())
def test_interleaved_responders_are_kept_apart(ours, theirs, source):
    made = [
        frames(
            who,
            b"\x46"
            + b"".join(bytes([0x3C, 0x81 + n, 0x17]) + w for n, w in enumerate(words)),
        )
        for who, words in (("7E8", ours), ("7E9", theirs))
    ]
    apart = {*truth("\n".join(made[0])), *truth("\n".join(made[1]))}
    mixed = []
    while any(made):
        mixed.append(source.choice([m for m in made if m]).pop(0))
    read = decode("\n".join(mixed))
    assert read.problems == ()
    assert truth("\n".join(mixed)) == apart


@given(st.binary(min_size=1, max_size=200))
def test_any_bytes_after_a_lost_frame_give_no_test_result(payload):
    """Bytes of any kind with a frame missing: nothing of them is taken as a result."""
    lines = frames("7E8", b"\x46" + payload.ljust(20, b"\x01"))
    del lines[1]
    read = decode("\n".join(lines))
    assert read.self_tests == ()
    assert read.problems
