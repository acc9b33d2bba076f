"""Vehicles before CAN and of SAE J1979-2 give the same readout as their CAN twins.

Layouts and their sources stand in ``auditkit/obd/kline.py`` and ``uds.py``; here one
vehicle's memory is written in each form and must be read as the same thing.
"""

from dataclasses import replace

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from vehicles import frames

from auditkit.obd import decode
from auditkit.obd.dtc import code_text
from auditkit.obd.kline import checksum
from auditkit.output.readout_lines import readout_lines

VIN = "1G1JC5444R7252367"  # ISO 15031-5:2006 Table 186
words = st.integers(0, 0xFFFF)


def bus(payload: bytes) -> str:
    """Return a message of ISO 9141-2: header, payload, sum of all bytes."""
    data = bytes.fromhex("486B10") + payload
    return (data + bytes([checksum(data)])).hex(" ").upper()


def ask(payload: str) -> str:
    data = bytes.fromhex("686AF1" + payload)
    return (data + bytes([checksum(data)])).hex(" ").upper()


@given(st.lists(words.filter(bool), max_size=8, unique=True))
def test_codes_before_can_come_three_a_message_without_a_count(codes):
    pairs = b"".join(c.to_bytes(2) for c in codes)
    pairs = pairs.ljust(max(6, -(-len(pairs) // 6) * 6), b"\0")
    lines = [ask("03")]
    lines += [bus(b"\x43" + pairs[at : at + 6]) for at in range(0, len(pairs), 6)]
    read = decode("\n".join(lines))
    assert read.problems == ()
    assert [c.text for c in read.confirmed] == [
        code_text(*divmod(c, 256)) for c in codes
    ]
    assert "03" in read.reported
    assert read.responders == ("10",)


def test_vin_before_can_comes_in_five_numbered_messages():
    data = VIN.encode().rjust(20, b"\0")
    lines = [ask("0902")] + [
        bus(bytes([0x49, 0x02, n + 1]) + data[4 * n : 4 * n + 4]) for n in range(5)
    ]
    assert decode("\n".join(lines)).vin == VIN
    lost = decode("\n".join(lines[:2] + lines[3:]))
    assert lost.vin is None
    assert len(lost.problems) == 1


def test_a_test_before_can_has_one_limit():
    # Limit type: bit 7 of the component byte, service manuals of 1997-2005.
    read = decode("\n".join([ask("0605"), bus(bytes.fromhex("46050100400050"))]))
    (test,) = read.older_tests
    assert (test.tid, test.raw_value, test.raw_limit) == ("05", 0x40, 0x50)
    assert test.outcome == "passed"
    zero = decode(bus(bytes.fromhex("46050100000000")))
    assert zero.older_tests[0].outcome is None
    assert zero.self_tests == ()


def test_a_wrong_check_byte_is_a_problem_and_no_value():
    line = bus(bytes.fromhex("43013300000000"))
    read = decode(line[:-2] + f"{int(line[-2:], 16) ^ 1:02X}")
    assert read.confirmed == ()
    assert len([p for p in read.problems if "check byte" in p.problem]) == 1


@given(st.lists(st.tuples(st.integers(0x81, 0xFE), words, words, words), max_size=5))
def test_results_of_the_newer_form_are_those_of_service_06(rows):
    results = b"".join(
        bytes([tid, 0x17]) + v.to_bytes(2) + low.to_bytes(2) + high.to_bytes(2)
        for tid, v, low, high in rows
    )
    older = b"".join(
        bytes([0x3C]) + results[at : at + 8] for at in range(0, len(results), 8)
    )
    assume(rows and len(results) % 9)  # a length that fits both layouts is refused
    ours = decode("\n".join(frames("7E8", b"\x62\xf6\x3c" + results)))
    theirs = decode("\n".join(frames("7E8", b"\x46" + older)))
    assert ours.self_tests == theirs.self_tests


@pytest.mark.parametrize(
    ("newer", "older"),
    [
        ("62 F4 0C 0A 6B", "41 0C 0A 6B"),
        ("62 F4 01 81 07 65 04", "41 01 81 07 65 04"),
        ("62 F4 00 BE 1F A8 13", "41 00 BE 1F A8 13"),
        ("62 F8 06 17 91 BC 82", "49 06 01 17 91 BC 82"),
    ],
)
def test_identifiers_mirror_services(newer, older):
    ours = decode("\n".join(frames("7E8", bytes.fromhex(newer))))
    theirs = decode("\n".join(frames("7E8", bytes.fromhex(older))))
    assert ours == theirs
    assert ours.problems == ()


def test_codes_of_the_newer_form_keep_their_failure_type_as_a_note():
    payload = bytes.fromhex("59 02 FF 04 20 00 2F 04 42 00 04")
    read = decode("\n".join(frames("7E8", payload)))
    assert [c.text for c in read.confirmed] == ["P0420"]
    assert [c.text for c in read.pending] == ["P0420", "P0442"]
    assert any("P0420-00" in note for note in read.notes)


def test_an_empty_report_does_not_prove_that_nothing_is_stored():
    read = decode("\n".join(frames("7E8", bytes.fromhex("59 02 FF"))))
    assert read.reported == frozenset()
    assert any("only of what it was asked for" in note for note in read.notes)


def test_clear_and_refusal():
    assert decode("7E8 01 54").cleared
    read = decode("7E8 03 7F 22 31")
    assert (read.problems, len(read.notes)) == ((), 1)
    assert replace(read, notes=()).values == ()


def test_a_lost_end_is_told_by_the_number_that_was_announced():
    """Two calibration ids of which only the first came: no part stands for the whole.

    InfoType 03 announces how many messages 04 takes (ISO 15031-5:2006 Annex G).
    """
    data = b"DEMO-ENG-0001".ljust(16, b"\0") + b"DEMO-ENG-0002".ljust(16, b"\0")
    parts = [
        bus(bytes([0x49, 0x04, n + 1]) + data[4 * n : 4 * n + 4]) for n in range(8)
    ]
    announced = [ask("0903"), bus(bytes.fromhex("490308")), ask("0904")]
    whole = decode("\n".join([*announced, *parts]))
    assert [text for _, text in whole.calibration_ids] == [
        "DEMO-ENG-0001",
        "DEMO-ENG-0002",
    ]
    assert whole.problems == ()
    cut = decode("\n".join([*announced, *parts[:4]]))
    assert cut.calibration_ids == ()
    assert "8 messages were announced and 4 came" in cut.problems[0].problem


def test_where_the_sign_decides_it_is_said():
    """Words of some makers are signed (service manual of a 2000 van)."""
    far, near = "460501FFF00010", "46050100400050"
    for text, decides in ((far, True), (near, False)):
        read = decode(bus(bytes.fromhex(text)))
        (shown,) = read.to_json()["older_tests"]
        assert shown["sign_decides"] is decides
        assert any("signed ones" in line for line in readout_lines(read)) is decides
