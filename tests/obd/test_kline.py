"""Messages and answers of the buses before CAN.

LTSA: captures in the comments of an open-source library. M0AGX: a maker's
article on the K-line, with a logic analyser's captures. PYOBD: comments and tests of
obd 0.7. EMU: recorded answers in a public protocol emulator. SIM: answers of an
interface maker's simulator in a public test. LOG: a public table of answers that kept
their check byte and not their header; the header here is the one that it fits.
Manuals are service manuals. Checks marked "reasoning" have no outside source.
"""

from __future__ import annotations

import random
import warnings

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sampling import count

from auditkit.obd import SelfTestOutcome, in_use, kline, services
from auditkit.obd.kline import CheckByte, MalformedError

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    pytest.importorskip("scapy")
    from scapy.contrib.automotive.obd.obd import OBD

SETTINGS = settings(max_examples=max(count(400, 400), settings().max_examples))
MESSAGES = [
    # LTSA: ISO 9141-2, J1850 VPW, J1850 PWM, ISO 14230-4; two responders.
    ("48 6B 10 41 00 B8 7B 30 10 77", "10", "41 00 B8 7B 30 10", "sum"),
    ("48 6B 17 41 00 80 00 80 03 0E", "17", "41 00 80 00 80 03", "sum"),
    ("48 6B 10 41 00 B8 7B 30 10 F4", "10", "41 00 B8 7B 30 10", "crc"),
    ("48 6B 17 41 00 80 00 80 03 A3", "17", "41 00 80 00 80 03", "crc"),
    ("48 6B 10 49 02 01 00 00 00 57 B3", "10", "49 02 01 00 00 00 57", "crc"),
    ("41 6B 10 41 00 B8 7B 30 10 9E", "10", "41 00 B8 7B 30 10", "crc"),
    ("41 6B 17 41 00 80 00 80 03 C9", "17", "41 00 80 00 80 03", "crc"),
    ("86 F1 10 41 00 B8 7B 30 10 3B", "10", "41 00 B8 7B 30 10", "sum"),
    ("83 F1 17 7F 01 12 1D", "17", "7F 01 12", "sum"),
    # M0AGX: answers, requests, the session's beginning and the sign of life.
    ("84 F1 11 41 0C 1F 40 32", "11", "41 0C 1F 40", "sum"),
    ("48 6B 11 41 0C 1F 40 70", "11", "41 0C 1F 40", "sum"),
    ("48 6B 11 41 0D 00 12", "11", "41 0D 00", "sum"),
    ("68 6A F1 01 0C D0", None, "01 0C", "sum"),
    ("C2 33 F1 09 02 F1", None, "09 02", "sum"),
    ("C1 33 F1 81 66", None, "81", "sum"),
    ("83 F1 11 C1 8F EF C4", "11", "C1 8F EF", "sum"),
    ("81 F1 11 7E 01", "11", "7E", "sum"),
    # A public sketch's comment: a sedan of 2001 with P0420.
    ("48 6B 10 43 04 20 00 00 00 00 2A", "10", "43 04 20 00 00 00 00", "sum"),
    # EMU.
    ("83 F1 11 7F 0A 11 1F", "11", "7F 0A 11", "sum"),
    # ISO 14230-2: a length byte of its own, from a public test; sum computed.
    ("80 F1 10 03 41 0D 32 04", "10", "41 0D 32", "sum"),
]


def hexed(text: str) -> bytes:
    return bytes.fromhex(text)


def bodies(text: str) -> list[bytes]:
    """Return the bytes after the service byte of each message."""
    return [kline.message(hexed(line)).payload[1:] for line in text.split("|")]


@pytest.mark.parametrize(("text", "responder", "payload", "check"), MESSAGES)
def test_a_message_is_taken_apart(text, responder, payload, check):
    assert kline.is_message(hexed(text))
    assert kline.message(hexed(text)) == kline.BusMessage(
        responder, hexed(payload), CheckByte(check)
    )


@pytest.mark.parametrize("text", [row[0] for row in MESSAGES])
def test_a_changed_bit_is_never_the_same_message(text):
    # Both checks find every single changed bit; 48 6B may then fit the other check.
    whole = kline.message(hexed(text))
    data = hexed(text)
    for at in range(8 * len(data)):
        changed = bytearray(data)
        changed[at // 8] ^= 1 << at % 8
        try:
            other = kline.message(bytes(changed))
        except MalformedError:
            continue
        assert other.check != whole.check


def test_the_error_names_the_byte_that_was_due():
    with pytest.raises(MalformedError, match=r"is 78 and should be 77 .sum. or F4"):
        kline.message(hexed("48 6B 10 41 00 B8 7B 30 10 78"))


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("48 6B 10 41 00 B8", "check byte"),  # cut short
        ("48 6B 10", "no header"),
        ("86 F1 10 41 00 B8 7B 30 2B", "6 data bytes and there are 5"),
        ("85 F1 10 41 00 B8 7B 30 10 3A", "5 data bytes and there are 6"),
        ("80 F1 10 00 81", "0 data bytes"),
        ("48 6B 10 41 00 B8 7B 30 10 00 00 77", "8 data bytes"),
        ("7E 8F 10 41", "no header"),
        ("41 6B 10 41 00 B8 7B 30 10 77", "no header"),  # a sum on a bus of CRCs
    ],
)
def test_a_message_of_another_form_is_refused(text, what):
    with pytest.raises(MalformedError, match=what):
        kline.message(hexed(text))


@pytest.mark.parametrize(
    "text",
    [
        "41 00 BE 1F A8 13",
        "43 01 04 42",
        "46 01 01 0A 0B B0 0B B0 0B B0",
        "49 02 01 31 47 31 4A 43 35 34 34 34 52 37 32 35 32 33 36 37",
        "4A 03 00 00 97 82 00 00",
        "7F 09 78",
        "62 F4 01 00 07 65 04",
        "59 42 33 FF FF 04",
        "41 6B 10 41 0D 32 7A",  # PID 6B; a CRC would be another
    ],
)
def test_an_answer_without_a_header_is_no_message(text):
    assert not kline.is_message(hexed(text))


def test_checks_by_their_published_values():
    # Catalogue of parametrised CRC algorithms, CRC-8/SAE-J1850: check 4B, residue C4.
    assert kline.crc(b"123456789") == 0x4B
    # M0AGX: the sum of the session's request.
    assert kline.checksum(hexed("C1 33 F1 81")) == 0x66


@SETTINGS
@given(st.binary(min_size=1, max_size=16))
def test_the_crc_is_a_remainder(data):
    # The definition: (data with its first byte inverted) * x^8 mod x^8+x^4+x^3+x^2+1.
    rest = int.from_bytes(bytes([data[0] ^ 0xFF]) + data[1:]) << 8
    while rest.bit_length() > 8:
        rest ^= 0x11D << (rest.bit_length() - 9)
    assert kline.crc(data) == rest ^ 0xFF
    # The same catalogue's residue.
    assert kline.crc(data + bytes([kline.crc(data)])) == 0xC4 ^ 0xFF


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        # SIM, ISO 14230-4 and ISO 9141-2: two messages, then another responder.
        (
            "87 F1 10 43 01 00 02 00 03 00 D1|87 F1 10 43 43 00 82 00 C1 00 51",
            ("P0100", "P0200", "P0300", "C0300", "B0200", "U0100"),
        ),
        (
            "48 6B 10 43 01 00 02 00 03 00 0C|48 6B 10 43 43 00 82 00 C1 00 8C",
            ("P0100", "P0200", "P0300", "C0300", "B0200", "U0100"),
        ),
        ("87 F1 18 43 01 01 00 00 00 00 D5", ("P0101",)),
        # PYOBD: misfires; the second message is half filler.
        (
            "48 6B 10 43 03 00 03 02 03 03 14|48 6B 10 43 03 04 00 00 00 00 0D",
            ("P0300", "P0302", "P0303", "P0304"),
        ),
        ("48 6B 10 43 04 20 00 00 00 00 2A", ("P0420",)),
        # EMU: no confirmed and no pending code.
        ("87 F1 11 43 00 00 00 00 00 00 CC", ()),
        ("87 F1 11 47 00 00 00 00 00 00 D0", ()),
    ],
)
def test_fault_codes(text, expected):
    assert all(kline.is_body(body) for body in bodies(text))
    assert kline.codes(bodies(text)) == expected


@pytest.mark.parametrize(
    "text", ["", "00", "01 04 42", "03 01 43 01 96 02 34", "01 43 01 96 02"]
)
def test_fault_codes_of_another_length_are_refused(text):
    # The middle ones are answers on CAN (ISO 15031-5:2006 Tables 146-150).
    assert not kline.is_body(hexed(text))
    with pytest.raises(MalformedError, match="three fault codes need 6 bytes"):
        kline.codes([hexed(text)])


def test_fault_codes_by_scapy():
    # scapy wants the count byte that CAN has: here three codes a message.
    source = random.Random(43)
    for _ in range(200):
        body = source.randbytes(6)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            theirs = OBD(b"\x43\x03" + body).dtcs
        texts = [
            f"{'PCBU'[d.location]}{d.code1:X}{d.code2:X}{d.code3:X}{d.code4:X}"
            for d in theirs
        ]
        assert list(kline.codes([body])) == [t for t in texts if t != "P0000"]


RESULTS = [
    # LTSA, ISO 14230-4, test id 06: four messages without a number.
    ("87 F1 10 46 06 03 00 5A 9C 40 0D", "03", 90, 40000, False),
    ("87 F1 10 46 06 85 00 5A 00 00 B3", "05", 90, 0, True),
    ("87 F1 10 46 06 09 09 60 88 B8 86", "09", 2400, 35000, False),
    ("87 F1 10 46 06 8A 09 60 00 00 C7", "0A", 2400, 0, True),
]


@pytest.mark.parametrize(("text", "component", "value", "limit", "least"), RESULTS)
def test_results_of_monitors(text, component, value, limit, least):
    (body,) = bodies(text)
    assert kline.self_test("10", body) == kline.KLineTest(
        "10", "06", component, value, limit, least, SelfTestOutcome.PASSED
    )


@pytest.mark.parametrize(
    ("component", "value", "limit", "outcome"),
    [
        # Manual of a 2003 compact: limit type 0, a fault is a value higher than the
        # limit; type 1, lower. Manual of a 2005 utility vehicle: bit 7 of the
        # component id tells that a good value must exceed the limit.
        ("01", 0x0010, 0x0011, SelfTestOutcome.PASSED),
        ("01", 0x0011, 0x0011, SelfTestOutcome.PASSED),
        ("01", 0x0012, 0x0011, SelfTestOutcome.FAILED),
        ("81", 0x0012, 0x0011, SelfTestOutcome.PASSED),
        ("81", 0x0011, 0x0011, SelfTestOutcome.PASSED),
        ("81", 0x0010, 0x0011, SelfTestOutcome.FAILED),
        ("01", 0x0000, 0xFFFF, SelfTestOutcome.PASSED),
        ("01", 0x0000, 0x0001, SelfTestOutcome.PASSED),
        ("81", 0x0000, 0x0001, SelfTestOutcome.FAILED),
        # No source says what two words 0000 mean here.
        ("01", 0x0000, 0x0000, None),
        ("81", 0x0000, 0x0000, None),
    ],
)
def test_the_limit_is_a_maximum_or_a_minimum(component, value, limit, outcome):
    body = hexed(f"83 {component}") + value.to_bytes(2) + limit.to_bytes(2)
    test = kline.self_test("10", body)
    assert test.outcome is outcome
    assert (test.is_minimum, test.component) == (component == "81", "01")


def test_the_sign_may_decide():
    # Manual of a 2000 van: a word above 32767 is negative in some of its tests.
    for value, limit in ((0x0960, 0x88B8), (0x88B8, 0x0960)):
        body = b"\x06\x09" + value.to_bytes(2) + limit.to_bytes(2)
        assert kline.self_test("10", body).sign_decides
    for value, limit in ((0x005A, 0x0060), (0x9C40, 0x88B8)):
        body = b"\x06\x09" + value.to_bytes(2) + limit.to_bytes(2)
        assert not kline.self_test("10", body).sign_decides


def test_a_map_of_tests():
    # A public test's capture: FF stands before the bits.
    (body,) = bodies("87 F1 10 46 00 FF 00 00 00 01 CE")
    base, bits = kline.self_test_map(body)
    assert services.supported(base, bits) == (0x20,)
    with pytest.raises(MalformedError, match="is no test"):
        kline.self_test("10", body)
    for text in ("00 FE 00 00 00 01", "06 FF 00 00 00 01", "00 FF 00 00 00"):
        with pytest.raises(MalformedError):
            kline.self_test_map(hexed(text))


def test_numbers_of_messages():
    # LOG: calibration ids take four messages, verification numbers one.
    assert kline.message_count(*bodies("83 F1 10 49 03 04 D4")) == (0x04, 4)
    assert kline.message_count(*bodies("83 F1 10 49 05 01 D3")) == (0x06, 1)
    # EMU: a VIN takes five.
    assert kline.message_count(hexed("01 05")) == (0x02, 5)
    for text in ("", "01", "02 01", "0B 01", "01 05 00"):
        with pytest.raises(MalformedError):
            kline.message_count(hexed(text))


NUMBERS = [
    # LTSA: an invented number, on three buses.
    (
        "48 6B 10 49 02 01 00 00 00 57 66|48 6B 10 49 02 02 44 58 2D 53 2C|"
        "48 6B 10 49 02 03 49 4D 30 30 07|48 6B 10 49 02 04 31 39 32 31 DF|"
        "48 6B 10 49 02 05 32 33 34 35 E1"
    ),
    (
        "48 6B 10 49 02 01 00 00 00 57 B3|48 6B 10 49 02 02 44 58 2D 53 99|"
        "48 6B 10 49 02 03 49 4D 30 30 11|48 6B 10 49 02 04 31 39 32 31 B6|"
        "48 6B 10 49 02 05 32 33 34 35 A8"
    ),
    (
        "87 F1 10 49 02 01 00 00 00 57 2B|87 F1 10 49 02 02 44 58 2D 53 F1|"
        "87 F1 10 49 02 03 49 4D 30 30 CC|87 F1 10 49 02 04 31 39 32 31 A4|"
        "87 F1 10 49 02 05 32 33 34 35 A6"
    ),
]


@pytest.mark.parametrize("text", NUMBERS)
def test_a_vehicle_number_in_five_messages(text):
    info, data = kline.information(bodies(text))
    assert info == 0x02
    assert services.vin(kline.counted(info, data)) == "WDX-SIM0019212345"


def test_the_standards_vehicle_number():
    # M0AGX, whose emulator has the VIN of ISO 15031-5:2006 Table 186 but one letter.
    text = (
        "48 6B 11 49 02 01 00 00 00 31 41|48 6B 11 49 02 02 41 31 4A 43 10|"
        "48 6B 11 49 02 03 35 34 34 34 E3|48 6B 11 49 02 04 52 37 32 35 03|"
        "48 6B 11 49 02 05 32 33 36 37 E6"
    )
    data = kline.counted(*kline.information(bodies(text)))
    assert services.vin(data) == "1A1JC5444R7252367"


def test_other_vehicle_information():
    # EMU, ISO 14230-4.
    (first,) = bodies("87 F1 11 49 00 01 FF 00 00 00 D2")
    base, bits = kline.information([first])
    assert services.supported(base, bits) == tuple(range(1, 9))
    text = (
        "87 F1 11 49 04 01 32 38 35 37 AD|87 F1 11 49 04 02 37 33 38 39 B3|"
        "87 F1 11 49 04 03 00 00 00 00 D9|87 F1 11 49 04 04 00 00 00 00 DA"
    )
    data = kline.counted(*kline.information(bodies(text)))
    assert services.calibration_ids(data) == ("28577389",)
    data = kline.counted(*kline.information(bodies("87 F1 11 49 06 01 70 AA 70 AA 0D")))
    assert services.cvns(data) == ("70AA70AA",)


def test_several_items_run_on():
    # Reasoning: the numbers go on from one item to the next (from memory).
    ids = b"JMB*36761500\0\0\0\0JMB*4787261111\0\0"  # ISO 15031-5:2006 Table 188
    parts = [bytes([4, n + 1]) + ids[4 * n : 4 * n + 4] for n in range(8)]
    data = kline.counted(*kline.information(parts))
    assert services.calibration_ids(data) == ("JMB*36761500", "JMB*4787261111")
    # ISO 15031-5:2006 Table G.10 and, for the counters, Table 195.
    name = b"ECM\0-Engine Control\0"
    parts = [bytes([0x0A, n + 1]) + name[4 * n : 4 * n + 4] for n in range(5)]
    data = kline.counted(*kline.information(parts))
    assert services.module_name(data) == "ECM-Engine Control"
    parts = [hexed("08 01 04 00 0D 09"), hexed("08 02 03 38 03 B1")]
    counters = in_use.counters("10", 8, kline.counted(*kline.information(parts)))
    assert [c.count for c in counters] == [1024, 3337, 824, 945]


@pytest.mark.parametrize(
    "numbers", [[1, 2, 4, 5], [1, 3, 2, 4, 5], [1, 1, 2, 3, 4, 5], [2, 3, 4, 5], []]
)
def test_lost_repeated_and_reordered_messages_are_refused(numbers):
    # Reasoning: evidence that had to be put in order is none.
    parts = [bytes([2, n]) + b"\0\0\0\0" for n in numbers]
    with pytest.raises(MalformedError):
        kline.information(parts)


def test_messages_of_two_infotypes_are_refused():
    with pytest.raises(MalformedError, match="InfoType 06 within an answer of 04"):
        kline.information([hexed("04 01 32 38 35 37"), hexed("06 02 70 AA 70 AA")])


def test_a_number_that_lacks_its_last_message_is_refused():
    # M0AGX prints four of the five messages of ISO 14230.
    text = (
        "87 F1 11 49 02 01 00 00 00 31 06|87 F1 11 49 02 02 41 31 4A 43 D5|"
        "87 F1 11 49 02 03 35 34 34 34 A8|87 F1 11 49 02 04 52 37 32 35 C8"
    )
    with pytest.raises(MalformedError, match="three bytes 00 and 17 characters"):
        kline.counted(*kline.information(bodies(text)))


@pytest.mark.parametrize(
    ("info", "data", "what"),
    [
        # ISO 15031-5:2006 Annex G: a VIN is 17 characters, here behind three 00.
        (0x02, b"\xff\xff\xff" + b"1" * 17, "three bytes 00"),
        (0x02, b"1" * 17, "three bytes 00"),
        (0x04, b"1" * 12, "each item takes 16"),
        (0x06, b"", "each item takes 4"),
        (0x0A, b"1" * 24, "each item takes 20"),
        (0x01, b"1", "no known length"),
    ],
)
def test_information_of_another_length_is_refused(info, data, what):
    with pytest.raises(MalformedError, match=what):
        kline.counted(info, data)


@SETTINGS
@given(st.binary(max_size=16), st.lists(st.binary(max_size=8), max_size=6))
def test_any_bytes_give_a_value_or_the_one_error(data, many):
    readers = [
        lambda: kline.message(data),
        lambda: kline.codes([data]),
        lambda: kline.codes(many),
        lambda: kline.self_test("10", data),
        lambda: kline.self_test_map(data),
        lambda: kline.message_count(data),
        lambda: kline.information(many),
        lambda: kline.counted(data[0] if data else 0, data[1:]),
    ]
    for reader in readers:
        try:
            assert reader() is not None
        except MalformedError as why:
            assert str(why)
    assert kline.is_message(data) in {True, False}


@SETTINGS
@given(
    st.sampled_from(["48 6B 10", "41 6B 10", "F1 10"]),
    st.binary(min_size=1, max_size=6),
    st.sampled_from([kline.checksum, kline.crc]),
)
def test_what_is_built_is_read(head, rest, reckon):
    payload = b"\x41" + rest
    front = hexed(head) if len(head) > 5 else bytes([0x80 + len(payload)]) + hexed(head)
    is_sum = reckon is kline.checksum
    data = front + payload
    data += bytes([reckon(data)])
    if (front[0] == 0x41 and is_sum) or (front[0] >= 0x80 and not is_sum):
        if kline.checksum(data[:-1]) != kline.crc(data[:-1]):
            with pytest.raises(MalformedError):
                kline.message(data)
        return
    assert kline.message(data).payload == payload
