"""Published worked examples: bytes -> values.

ISO5 is ISO 15031-5:2006 (SAE J1979:2006) by clause or table, read through public
transcriptions; "scapy" is the unit tests of scapy 2.8, "python obd" those of obd 0.7.
"""

from __future__ import annotations

from decimal import Decimal

import pytest
from vehicles import frames

from auditkit.obd import SelfTestOutcome, decode, dtc, monitors, services, vin


def ids(text: str) -> tuple[int, ...]:
    return tuple(bytes.fromhex(text))


def incomplete(text: str) -> set[str]:
    return {
        m.monitor for m in decode(text).monitors if m.supported and m.complete is False
    }


def test_a_support_map_names_its_parameter_ids():
    # Public encyclopaedia example of the scheme in ISO5 Annex A, Table A.1.
    assert services.supported(0, bytes.fromhex("BE1FA813")) == ids(
        "01 03 04 05 06 07 0C 0D 0E 0F 10 11 13 15 1C 1F 20"
    )


def test_two_support_maps_in_one_answer():
    # scapy, equal to the sample of ISO5 7.1.
    first, second = services.maps(bytes.fromhex("00BFBFA8912080000000"))
    assert services.supported(*first) == ids(
        "01 03 04 05 06 07 08 09 0B 0C 0D 0E 0F 10 11 13 15 19 1C 20"
    )
    assert services.supported(*second) == (0x21,)


def test_one_answer_with_six_parameters():
    # ISO5 Tables 127-128; scapy.
    text = "41 05 6E 01 83 33 FF 63 15 A0 78 0C 0A 6B 03 02 00"
    readout = decode(text)
    assert {p.id: p.data for p in readout.parameters} == {
        "01": "8333FF63",
        "03": "0200",
        "05": "6E",
        "0C": "0A6B",
        "15": "A078",
    }
    assert readout.mil == (("-", True),)
    assert incomplete(text) == {
        "misfire",
        "fuel-system",
        "catalyst",
        "heated-catalyst",
        "oxygen-sensor",
        "oxygen-sensor-heater",
    }
    assert readout.problems == ()


def test_only_the_evaporative_system_is_not_ready():
    # Data sheet of a public interface chip.
    readout = decode("41 01 81 07 65 04")
    assert readout.mil == (("-", True),)
    assert {m.monitor for m in readout.monitors if m.supported} == {
        "misfire",
        "fuel-system",
        "components",
        "catalyst",
        "evaporative-system",
        "oxygen-sensor",
        "oxygen-sensor-heater",
    }
    assert incomplete("41 01 81 07 65 04") == {"evaporative-system"}
    assert all(m.complete is None for m in readout.monitors if not m.supported)


def test_all_complete_on_spark_and_waiting_on_compression():
    # python obd.
    assert decode("41 01 83 07 FF 00").mil == (("-", True),)
    assert incomplete("41 01 83 07 FF 00") == set()
    assert incomplete("41 01 00 79 03 03") == {
        "misfire",
        "nmhc-catalyst",
        "nox-aftertreatment",
    }


def test_this_cycle_takes_the_ignition_from_pid_01():
    # ISO5 Table B.46: byte B bit 3 of PID 41 is reserved in the 2006 text.
    readout = decode("7E8 06 41 01 00 0F 02 00\n7E8 06 41 41 00 07 02 02")
    cycle = [m for m in readout.monitors if m.cycle == monitors.THIS_CYCLE]
    assert {m.monitor for m in cycle if m.complete is False} == {"nox-aftertreatment"}
    shown = readout.to_json()["this_cycle"]
    assert isinstance(shown, list)
    assert len(shown) == len(cycle)


@pytest.mark.parametrize(
    ("text", "kind", "expected"),
    [
        # ISO5 Tables 148-150; scapy.
        (
            "43 06 01 43 01 96 02 34 02 CD 03 57 0A 24",
            "confirmed",
            ["P0143", "P0196", "P0234", "P02CD", "P0357", "P0A24"],
        ),
        ("43 01 04 43", "confirmed", ["P0443"]),
        ("43 00", "confirmed", []),
        # ISO5 Table 172: the same layout for pending codes.
        ("47 01 04 42", "pending", ["P0442"]),
        # scapy: two of three are filler.
        ("4A 03 00 00 97 82 00 00", "permanent", ["B1782"]),
    ],
)
def test_fault_codes(text, kind, expected):
    readout = decode(text)
    shown = readout.to_json()["codes"]
    assert isinstance(shown, dict)
    assert shown.pop(kind) == expected
    assert list(shown.values()) == [[], []]
    assert readout.reported == {f"{int(text[:2], 16) - 0x40:02X}"}
    assert readout.problems == ()


@pytest.mark.parametrize(
    ("pair", "text"),
    [
        # ISO5 6.3.1; the code pairs of its Table 130 onwards and the freeze frame's.
        ("0442", "P0442"),
        ("02CD", "P02CD"),
        ("C158", "U0158"),
        ("4123", "C0123"),
        ("8003", "B0003"),
        ("0130", "P0130"),
        ("0000", None),
    ],
)
def test_two_bytes_are_one_code(pair, text):
    assert dtc.code_text(*bytes.fromhex(pair)) == text


@pytest.mark.parametrize("text", ["43", "43 02 01 43", "43 01 01 43 00", "43 01 01"])
def test_codes_that_do_not_fill_their_count_are_refused(text):
    # ISO5 Tables 146-150: 2 + 2N bytes.
    readout = decode(text)
    assert readout.confirmed == ()
    assert readout.reported == frozenset()
    assert len(readout.problems) == 1


def test_three_results_of_one_monitor():
    # ISO5 Table 168; scapy; python obd. The standard prints 0.365 V.
    text = (
        "46 01 01 0A 0B B0 0B B0 0B B0 01 05 10 00 48 00 00 00 64 "
        "01 85 24 00 96 00 4B FF FF"
    )
    readout = decode(text)
    first, second, third = readout.self_tests
    volts = Decimal("365.024")
    assert (first.value, first.minimum, first.maximum) == (volts, volts, volts)
    assert (first.mid, first.tid, first.uasid, first.unit) == ("01", "01", "0A", "mV")
    assert (second.value, second.maximum, second.unit) == (72, 100, "ms")
    assert (second.raw_minimum, second.minimum, second.has_minimum) == (0, 0, False)
    assert (third.value, third.minimum, third.unit) == (150, 75, "counts")
    assert (third.maximum, third.has_maximum) == (65535, False)
    assert {t.outcome for t in readout.self_tests} == {SelfTestOutcome.PASSED}
    assert readout.reported == {"06"}
    shown = readout.to_json()["self_tests"]
    assert isinstance(shown, list)
    assert shown[0] == {
        "responder": "-",
        "mid": "01",
        "tid": "01",
        "uasid": "0A",
        "value": "365.024",
        "minimum": "365.024",
        "maximum": "365.024",
        "unit": "mV",
        "outcome": "passed",
        "monitor": "oxygen sensor bank 1 sensor 1",
        "test": "rich-to-lean threshold voltage",
        "source": "ISO 15031-5:2006 Annex E",
        "raw_value": 2992,
        "raw_minimum": 2992,
        "raw_maximum": 2992,
    }


@pytest.mark.parametrize("uasid", ["2E", "2F"])
def test_all_zero_is_not_run(uasid):
    # ISO5 Table 170 prints 2E, scapy tests 2F.
    (test,) = decode(f"46 21 87 {uasid} 00 00 00 00 00 00").self_tests
    assert test.outcome is SelfTestOutcome.NOT_RUN


def test_support_maps_of_monitors():
    # scapy.
    first, second = services.maps(bytes.fromhex("00010203042001020304"))
    assert services.supported(*first) == ids("08 0F 17 18 1E")
    assert services.supported(*second) == ids("28 2F 37 38 3E")
    readout = decode("46 00 01 02 03 04 20 01 02 03 04")
    assert readout.self_tests == ()
    assert readout.problems == ()


def test_a_cut_record_is_refused_and_whole_ones_kept():
    # ISO5 Tables 157-170: 1 + 9n bytes.
    readout = decode("46 01 01 0A 0B B0 0B B0 0B B0 01 05 10 00")
    assert [t.tid for t in readout.self_tests] == ["01"]
    assert [p.line for p in readout.problems] == [1]


@pytest.mark.parametrize("fill", ["00", "55", "AA", "CC", "FF"])
def test_padding_is_never_a_record(fill):
    # ISO 15765-2:2004 7.4.2 leaves the padding's value open.
    text = f"46 01 01 0A 0B B0 0B B0 0B B0 {' '.join([fill] * 9)}"
    readout = decode(text)
    assert len(readout.self_tests) == 1
    assert len(readout.problems) == 1
    frames = [
        "7E8 10 0A 46 01 01 0A 0B B0",
        f"7E8 21 0B B0 0B B0 {fill} {fill} {fill}",
    ]
    framed = decode("\n".join(frames))
    assert len(framed.self_tests) == 1
    assert framed.problems == ()


def test_vehicle_identification_number():
    # ISO5 Table 186.
    digits = "49 02 01 31 47 31 4A 43 35 34 34 34 52 37 32 35 32 33 36 37"
    readout = decode(digits)
    assert readout.vin == "1G1JC5444R7252367"
    assert readout.notes == ()


@pytest.mark.parametrize(
    "text",
    [
        "49 02 31 47 31 4A 43 35 34 34 34 52 37 32 35 32 33 36 37",  # no count byte
        "49 02 01" + " FF" * 17,  # never programmed
        "49 02 01" + " 00" * 17,
        "49 02 01" + " 31" * 16,
        "49 02 01" + " 31" * 18,
        "49 02 01" + " 49" * 17,  # the letter I (ISO 3779)
        "49 02 01" + " 80" * 17,
    ],
)
def test_a_vin_of_another_form_is_a_problem(text):
    # Both first forms are known from real traffic; ISO5 Annex G: 01 and 17 characters.
    readout = decode(text)
    assert readout.vin is None
    assert len(readout.problems) == 1


def test_two_vins_are_none():
    # Reasoning: one vehicle has one number.
    one, other = "31" * 17, "32" * 17
    readout = decode(f"490201{one}\n490201{other}")
    assert readout.vin is None
    assert "beside another VIN" in readout.problems[0].problem


def test_calibration_ids():
    # ISO5 Table 188.
    ids_text = [b"JMB*36761500\0\0\0\0", b"JMB*4787261111\0\0"]
    readout = decode("4904" + "02" + b"".join(ids_text).hex())
    assert readout.calibration_ids == (("-", "JMB*36761500"), ("-", "JMB*4787261111"))


def test_verification_numbers_after_a_pending_answer():
    # ISO5 Tables 190-193.
    readout = decode("7F 09 78\n49 06 02 17 91 BC 82 16 E0 62 BE\n49 06 01 98 12 34 76")
    assert readout.cvns == (("-", "1791BC82"), ("-", "16E062BE"), ("-", "98123476"))
    assert "answer pending" in readout.notes[0]
    assert readout.problems == ()


def test_counters_are_kept_as_sent():
    # ISO5 Table 195.
    body = "10040 00D09033803B102C703B102E1039C02D4034103E503F203A903CD00440061"
    digits = body.replace(" ", "")
    readout = decode(f"4908{digits}")
    assert [(p.service, p.id, p.data) for p in readout.parameters] == [
        ("09", "08", digits)
    ]


def test_several_responders_to_one_request():
    # python obd.
    rows = [f"{who} 06 41 00 00 01 02 03" for who in ("7EB", "7E8", "7EA")]
    assert decode("\n".join(rows)).responders == ("7E8", "7EA", "7EB")


def test_module_name():
    # ISO5 Table G.10.
    text = "49 0A 01 45 43 4D 00 2D 45 6E 67 69 6E 65 20 43 6F 6E 74 72 6F 6C 00"
    assert decode(text).module_names == (("-", "ECM-Engine Control"),)


@pytest.mark.parametrize(
    ("number", "digit"),
    [
        ("1G4AH59H?5G118341", "4"),  # 49 CFR 565.15 Table V
        ("1M8GDM9AXKP042788", "X"),  # computed by the rule of 565.15
        ("11111111111111111", "1"),  # computed
        ("1G1JC5444R7252367", "4"),  # ISO5 Table 186
        ("W0L000051T2123456", "5"),  # scapy; written with another digit
        ("1D4GP00R55B123456", "X"),  # computed; written with another digit
        ("0ZZTB1A18CA000123", "8"),  # invented, computed
        ("0ZZTB1A1XCA000124", "X"),  # invented, computed
        ("0ZZTB1A15CA000130", "5"),  # invented, computed
    ],
)
def test_check_digit(number, digit):
    assert vin.check_digit(number) == digit
    assert vin.has_check_digit(number) == (number[8] == digit)


def test_a_wrong_check_digit_is_a_note():
    # 49 CFR 565.15 binds the U.S. market only.
    readout = decode("490201" + b"W0L000051T2123456".hex())
    assert readout.vin == "W0L000051T2123456"
    assert readout.problems == ()
    assert "check digit" in readout.notes[0]


@pytest.mark.parametrize(
    ("number", "year"),
    [
        # 49 CFR 565.15(b); the years of Python package vin 0.6.2.
        ("0ZZTB1A18CA000123", 2012),
        ("1G1JC5444R7252367", None),  # 1994: no vehicle of that year answers OBD
        ("11111111111111111", 2001),
        ("1M8GDM9AXKP042788", None),  # 1989
        ("W0L000051B2123456", None),  # a foreign number: B would be 1981
        ("W0L000057B2123456", None),  # and so where its check digit fits by chance
        ("0ZZTB1A18UA000123", None),
        ("0ZZTB1A180A000123", None),
        ("short", None),
    ],
)
def test_model_year(number, year):
    assert vin.model_year(number) == year


@pytest.mark.parametrize(
    ("mid", "name"),
    [
        # ISO5 Table D.1.
        (0x01, "oxygen sensor bank 1 sensor 1"),
        (0x10, "oxygen sensor bank 4 sensor 4"),
        (0x31, "EGR bank 1"),
        (0x3C, "evaporative system, 0.020 in"),
        (0x45, "oxygen sensor heater bank 2 sensor 1"),
        (0xA2, "misfire, cylinder 1"),
        (0x11, None),
    ],
)
def test_monitor_names(mid, name):
    assert monitors.mid_name(mid) == name


def test_test_names():
    # ISO5 Table 161.
    assert monitors.tid_name(0x05) == "rich-to-lean switch time"
    assert monitors.tid_name(0x0D) is None


def test_a_refusal_is_no_report():
    # ISO5 Tables 11 and 12.
    readout = decode("7E8 03 7F 03 22\n7E8 02 7F 03")
    assert readout.reported == frozenset()
    assert "conditions not correct" in readout.notes[0]
    assert [p.line for p in readout.problems] == [2]


def test_a_test_answered_twice_keeps_the_last_with_a_problem():
    # Reasoning: one readout is one moment.
    one, two = "463BC9FD0001 0000 0002", "463BC9FD0003 0000 0002"
    readout = decode(f"{one}\n{one}\n{two}")
    (test,) = readout.self_tests
    assert test.raw_value == 3
    assert [p.line for p in readout.problems] == [3]


def test_counters_answered_twice_keep_the_last_with_a_problem():
    # Reasoning: one readout is one moment; counters of two modules are two answers.
    def counted(who, last):
        told = bytes.fromhex("490810") + bytes(15 * 2) + bytes([0, last])
        return "\n".join(frames(who, told))

    one, two, other = counted("7E8", 1), counted("7E8", 2), counted("7E9", 2)
    assert decode(f"{one}\n{one}\n{other}").problems == ()
    readout = decode(f"{one}\n{two}")
    assert [c.count for c in readout.counters][-1] == 2
    (problem,) = readout.problems
    assert problem.is_second_word
    assert problem.is_mark


def test_codes_of_modules_without_ids_add_up():
    # Reasoning: one module without codes must not hide another's.
    assert [c.text for c in decode("43 01 04 42\n43 00").confirmed] == ["P0442"]


def test_modules_without_ids_merge_to_the_worse():
    # Reasoning, after ISO5 B.2: each module reports its own monitors.
    for text in ("41 01 00 00 00 00\n41 01 00 07 65 04",) * 2:
        assert incomplete(text) == {"evaporative-system"}


@pytest.mark.parametrize(
    "text", ["41 0D 32 05", "41 05 6E 00 BE 1F A8 13", "41 05 6E FF 00", "41 0C 01"]
)
def test_an_answer_that_cannot_be_parted_is_refused(text):
    # ISO5 7.1.1; a one-byte id with two bytes is known from real traffic.
    readout = decode(text)
    assert readout.parameters == ()
    assert len(readout.problems) == 1


@pytest.mark.parametrize(
    ("code", "system", "who"),
    [
        # SAE J2012 through an encyclopaedia page.
        ("P0442", "powertrain", "defined by the standard"),
        ("P1400", "powertrain", "the maker's own"),
        ("P2413", "powertrain", "defined by the standard"),
        ("C2100", "chassis", "the maker's own"),
        ("B3000", "body", "reserved"),
        ("U0158", "network", "defined by the standard"),
        ("U3000", "network", "defined by the standard"),  # from memory
        ("U3FFF", "network", "defined by the standard"),
        ("U2100", "network", "the maker's own"),
        ("C3000", "chassis", "reserved"),
    ],
)
def test_who_defines_a_code(code, system, who):
    assert dtc.system(code) == system
    assert dtc.origin(code) == who


def test_every_self_test_says_where_its_scaling_comes_from():
    (known, later, unknown) = decode(
        "46 3C 81 17 00 01 00 00 00 05 3C 82 3F 00 01 00 00 00 05 "
        "3C 83 7F 00 01 00 00 00 05"
    ).to_json()["self_tests"]
    assert known["source"] == "ISO 15031-5:2006 Annex E"
    assert later["source"] == "a public table of later ids, seen once"
    assert unknown["source"] == "unknown id: raw words only"
    assert (unknown["value"], unknown["outcome"]) == (None, "passed")
    assert known["monitor"] == "evaporative system, 0.020 in"
