"""Every style of captured text gives the same readout, or a problem with its line.

CAN ids: ISO 15765-4:2005 clause 6.3, Tables 3-5. Styles: common practice of capture
tools, no published source; the CAN log form is that of the public can-utils.
"""

from __future__ import annotations

import pytest

from auditkit.errors import DecodeError
from auditkit.obd import decode

# One answer of service 06, MID 3C, that takes three frames.
TESTS = "46 3C C9 FD 01 2C 00 00 01 90 3C CA FD 00 64 00 00 01 90"
FIRST = "10 13 46 3C C9 FD 01 2C"
SECOND = "21 00 00 01 90 3C CA FD"
THIRD = "22 00 64 00 00 01 90"

STYLES = {
    "payload": TESTS,
    "payload without spaces": TESTS.replace(" ", ""),
    "lower case": TESTS.lower(),
    "11 bit": f"7E8 {FIRST}\n7E8 {SECOND}\n7E8 {THIRD} AA",
    "11 bit, no spaces": "\n".join(
        f"7E8{row}".replace(" ", "") for row in (FIRST, SECOND, THIRD)
    ),
    "one line": f"7E8 {FIRST} 7E8 {SECOND} 7E8 {THIRD} 55",
    "one line, no spaces": f"7E8{FIRST}7E8{SECOND}7E8{THIRD}CC".replace(" ", ""),
    "one line, frames apart": " ".join(
        f"7E8{row}".replace(" ", "") for row in (FIRST, SECOND, THIRD)
    ),
    "29 bit": f"18DAF110 {FIRST}\n18DAF110 {SECOND}\n18DAF110 {THIRD} 00",
    "29 bit, spaces": f"18 DA F1 10 {FIRST}\n18 DA F1 10 {SECOND}\n"
    f"18 DA F1 10 {THIRD} FF",
    "29 bit, one line": f"18 DA F1 10 {FIRST} 18 DA F1 10 {SECOND} 18 DA F1 10 {THIRD}",
    "29 bit, no spaces": "\n".join(
        f"18DAF110{row}".replace(" ", "") for row in (FIRST, SECOND, THIRD)
    ),
    "numbered": f"013\n0: {FIRST[6:]}\n1: {SECOND[3:]}\n2: {THIRD[3:]} AA",
    "numbered, no spaces": "\n".join(
        ["013", f"0:{FIRST[6:]}", f"1:{SECOND[3:]}", f"2:{THIRD[3:]}"]
    ).replace(" ", ""),
    "time of day": f"12:00:01.123 7E8 {FIRST}\n12:00:01.133 7E8 {SECOND}\n"
    f"12:00:01.143 7E8 {THIRD}",
    "dated": f"2026-01-05T12:00:01.123Z 7E8 {FIRST}\n"
    f"2026-01-05T12:00:01.133+01:00 7E8 {SECOND}\n2026-01-05 12:00:02 7E8 {THIRD}",
    "seconds": f"(1690000000.123456) 7E8 {FIRST}\n0.133 7E8 {SECOND}\n(1) 7E8 {THIRD}",
    "CAN log": "\n".join(
        f"(1690000000.12345{n}) can0 7E8#{row}".replace(" ", "")
        .replace("can", " can")
        .replace("7E8", " 7E8")
        for n, row in enumerate((FIRST, SECOND, THIRD))
    ),
    "CAN log, 29 bit": "\n".join(
        f"(1.5) vcan0 18DAF110#{row.replace(' ', '')} R"
        for row in (FIRST, SECOND, THIRD)
    ),
    "CAN view": f"can0  7E8   [8]  {FIRST}\ncan0  7E8   [8]  {SECOND}\n"
    f"can0  7E8   [7]  {THIRD}",
    "whole dialogue": "# capture of a morning\r\n\r\nAT SP 6\r\nOK\r\n"
    f"7DF 02 06 3C 00 00 00 00 00\r\n7E8 {FIRST} ; first\r\n7E0 30 00 00\r\n"
    f"7E8 {SECOND}\r\n7E8 {THIRD} 00\r\n>\r\n",
    "dialogue, CR only": f">063C\rSEARCHING...7E8 {FIRST}\r7E8 {SECOND}\r7E8 {THIRD}\r"
    "\r>07\rNO DATA\r\r>0101 1\r?\r>22F190\r",
    "29 bit dialogue": f"18DB33F1 02 06 3C\n18DAF110 {FIRST}\n18DA10F1 30 00 00\n"
    f"18DAF110 {SECOND}\n18DAF110 {THIRD}",
    "other traffic": f"can0 1A0#0011\ncan0 7E8#{FIRST.replace(' ', '')}\n"
    f"can0 7E8#{SECOND.replace(' ', '')}\ncan0 7E8#{THIRD.replace(' ', '')}",
}


@pytest.mark.parametrize("style", STYLES)
def test_each_style_reads_the_same(style):
    readout = decode(STYLES[style])
    assert readout.problems == ()
    assert [(t.tid, t.raw_value, t.raw_maximum) for t in readout.self_tests] == [
        ("C9", 300, 400),
        ("CA", 100, 400),
    ]
    (responder,) = readout.responders
    if style.startswith(("payload", "lower", "numbered")):
        assert responder == "-"
    else:
        assert responder in {"7E8", "18DAF110"}


def test_words_are_notes_and_not_bytes():
    readout = decode("SEARCHING...\nNO DATA\n?\nOK\n43 00")
    assert readout.notes == (
        "line 1: SEARCHING",
        "line 2: NO DATA",
        "line 3: ?",
        "line 4: OK",
    )
    assert readout.problems == ()
    assert readout.reported == {"03"}


@pytest.mark.parametrize(
    "line",
    [
        "BUFFER FULL",
        "7E8 06 41 0G",
        "7E8 6 41",
        "4101810",  # half a byte
        "41 01 81 07 65 0",
        "7E80641008000",  # an id and half a byte, or bytes
        "7E8064101810765",
        "06 41 01 81 07 65 04 00",  # a bare CAN frame: no responder
        "7DB 06 41 01 81 07 65 04",  # not a responder's id; known from real traffic
        "123 06 41 01 81 07 65 04",
        "7E8 41 01 81 07 65 04",  # no such frame type
        "7E8 06 41 01 81 07 65 04 00 00",  # nine bytes
        "18DAF110 06 41 01 81 07 65 04 00 00",
        "18DAF110",
        "41 01 81 07 65 04 7E8 06 41 01",
        "41 01 18DAF110 06 41 01",
        "7E8 06 41 18DAF110 06",
        "can0 7E8#R",
        "can0 7E8##0064101",
        "can0 7E8 [8] 06 41 01",
        "014",
        "1: 41 01 81 07 65 04",
        "DE AD BE EF",
        "ключ",
        "\ud800",
    ],
)
def test_what_cannot_be_read_is_a_problem_with_its_line(line):
    readout = decode(f"43 00\n{line}\n")
    assert readout.problems
    assert {p.line for p in readout.problems} == {2}
    assert readout.monitors == ()
    assert readout.parameters == ()


@pytest.mark.parametrize("line", ["61", "DE AD BE EF", "C1 33"])
def test_bytes_that_begin_no_answer_are_a_line_unread_and_no_module(line):
    readout = decode(f"> 03\n7E8 02 43 00\n{line}\n")
    assert readout.responders == ("7E8",)
    told = f"{line[:2]} begins neither a request nor an answer"
    assert any(p.line == 3 and told in p.problem for p in readout.problems)
    alone = decode(f"> 03\n{line}\n")
    assert alone.responders == ()


def test_a_length_line_needs_its_first_row():
    assert [p.line for p in decode("014\n43 00").problems] == [1]
    assert {p.line for p in decode("43 00\n013\n1: 00 00").problems} == {2, 3}


def test_interleaved_answers_without_ids_are_not_parted():
    # Two modules answer at once, and no line says whose it is.
    text = "013\n0: {0}\n013\n0: {0}\n1: {1}\n1: {1}\n2: {2}\n2: {2}"
    readout = decode(text.format(FIRST[6:], SECOND[3:], THIRD[3:]))
    assert readout.self_tests == ()
    assert readout.problems


def test_nothing_to_decode_is_a_problem():
    for text in ("", "\n\n", "hello", ">0101\nNO DATA"):
        readout = decode(text)
        assert readout.responders == ()
        assert "no answer" in readout.problems[-1].problem


def test_too_long_a_text_is_refused():
    with pytest.raises(DecodeError, match="longer than"):
        decode("\n" * ((1 << 20) + 1))
    with pytest.raises(DecodeError, match="longer than"):
        decode("é" * ((1 << 19) + 1))


def test_the_same_text_is_decoded_once():
    assert decode("43 00") is decode("43 00")


def test_json_has_the_documented_members():
    shown = decode("7E8 04 43 01 04 42\nBUFFER FULL").to_json()
    assert set(shown) >= {
        "responders",
        "vin",
        "codes",
        "monitors",
        "self_tests",
        "problems",
    }
    assert shown["problems"] == [
        {
            "line": 2,
            "responder": None,
            "problem": "neither hex bytes nor a known word: 'BUFFER FULL'",
        }
    ]
