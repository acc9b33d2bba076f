"""Units, scalings and outcomes of service 06 (ISO 15031-5:2006 Annex E and 7.6)."""

from __future__ import annotations

from decimal import Decimal

import pytest

from auditkit.obd import SelfTestOutcome, decode, scaling

# id, word, value, unit: one word each, value = word x resolution (+ offset), worked
# by hand. Rows to 39 and the signed ones: Annex E Tables E.1-E.79. "Later" rows are
# ids of newer editions known from the Python package obd 0.7.3 or a maker's sheet.
ROWS = """
01 0007 7 raw
02 0007 0.7 raw
03 0007 0.07 raw
04 0007 0.007 raw
05 8000 0.999424 raw
06 8000 9.99424 raw
07 0A6B 666.75 rpm
08 2710 100.00 km/h
09 0064 100 km/h
0A 0BB0 365.024 mV
0B 03E8 1.000 V
0C 0064 1.00 V
0D 0100 1.00000000 mA
0E 03E8 1.000 A
0F 0064 1.00 A
10 0048 72 ms
11 0002 200 ms
12 003C 60 s
13 0001 1 mohm
14 0001 1 ohm
15 0001 1 kohm
16 0000 -40 degC
16 0190 0 degC
17 0064 1.00 kPa
18 0064 1.1700 kPa
19 0064 7.900 kPa
1A 0064 100 kPa
1B 0064 1000 kPa
1C 0064 1.00 deg
1D 0002 1.0 deg
1E 8000 0.999424 lambda
1F 0014 1.00 A/F
20 FFFF 255.9928170 ratio
21 0001 1 mHz
22 0001 1 Hz
23 0001 1 kHz
24 0096 150 counts
25 0001 1 km
26 000A 1.0 mV/ms
27 0064 1.00 g/s
28 0001 1 g/s
29 0004 1.00 Pa/s
2A 03E8 1.000 kg/h
2B 0003 3 switches
2C 0064 1.00 g/cyl
2D 0064 1.00 mg/stroke
2E 0001 1 false/true
2F 2710 100.00 %
30 FFFF 100.006410 %
31 03E8 1.000 L
32 8000 0.999424 inch
33 1000 0.99999744 lambda
34 0001 1 min
35 0001 10 ms
36 0064 1.00 g
37 000A 1.0 g
38 0001 1 g
39 0000 -327.68 %
39 8000 0.00 %
3A 03E8 1.000 g
3B 2710 1.0000 g
3C 000A 1.0 us
3D 0064 1.00 mA
3E 0002 0.00012207032 mm2
3F 0064 1.00 L
40 0001 1 ppm
41 0064 1.00 uA
81 FFFF -1 raw
82 8000 -3276.8 raw
83 7FFF 327.67 raw
84 FFFF -0.001 raw
85 8000 -0.999424 raw
86 8000 -9.99424 raw
87 FFFF -1 ppm
8A 8000 -3997.696 mV
8B 8000 -32.768 V
8C 8000 -327.68 V
8D 8000 -128 mA
8E 8000 -32.768 A
8F FFFF -1 us
90 FFFF -1 ms
96 8000 -3276.8 degC
99 FFFF -0.1 kPa
9C 8000 -327.68 deg
9D FFFE -1.0 deg
A8 FFFF -1 g/s
A9 FFFC -1.00 Pa/s
AD FFFF -0.01 mg/stroke
AE FFFF -0.1 mg/stroke
AF FFFF -0.01 %
B0 FFFF -0.003052 %
B1 FFFF -2 mV/s
FB FFFF -10 kPa
FC FFFF -0.01 kPa
FD FFFF -0.001 kPa
FE FFFC -1.00 Pa
"""
CASES = [row.split(maxsplit=3) for row in ROWS.strip().splitlines()]


def test_each_scaling():
    for uasid, word, value, unit in CASES:
        assert scaling.scaled(int(word, 16), int(uasid, 16)) == Decimal(value), uasid
        assert scaling.unit(int(uasid, 16)) == unit, uasid


def test_every_scaling_has_a_row():
    assert {int(row[0], 16) for row in CASES} == set(scaling.SCALINGS)


def test_an_unknown_scaling_keeps_the_words_and_the_outcome():
    # Annex E: bit 7 fixes the sign, and every scaling is increasing.
    high = "46 01 80 70 00 05 00 01 00 04"
    (test,) = decode(high).self_tests
    assert (test.value, test.minimum, test.maximum, test.unit) == (None,) * 4
    assert (test.raw_value, test.raw_minimum, test.raw_maximum) == (5, 1, 4)
    assert test.outcome is SelfTestOutcome.FAILED
    (signed,) = decode("46 01 80 F0 FF FF FF FE 00 04").self_tests
    assert signed.outcome is SelfTestOutcome.PASSED


@pytest.mark.parametrize(
    ("words", "uasid", "expected"),
    [
        # ISO 15031-5:2006 7.6.1, Table 7 p, Table 170: raw words, before scaling.
        ((0, 0, 0), 0x16, SelfTestOutcome.NOT_RUN),
        ((0, 0, 0), 0x39, SelfTestOutcome.NOT_RUN),
        ((0, 0, 0), 0x96, SelfTestOutcome.NOT_RUN),
        # Tables 164-166: limits are inclusive.
        ((5, 5, 9), 0x01, SelfTestOutcome.PASSED),
        ((9, 5, 9), 0x01, SelfTestOutcome.PASSED),
        ((4, 5, 9), 0x01, SelfTestOutcome.FAILED),
        ((10, 5, 9), 0x01, SelfTestOutcome.FAILED),
        # A zero value with a limit is a result (a maker's published service manual).
        ((0, 0, 0xFFFE), 0x24, SelfTestOutcome.PASSED),
        ((0, 0, 0x7FFF), 0x81, SelfTestOutcome.PASSED),
        # Both limit words at the ends of the number range: a value, and no limit.
        ((0, 0, 0xFFFF), 0x24, SelfTestOutcome.NO_LIMIT),
        ((7, 0x8000, 0x7FFF), 0x81, SelfTestOutcome.NO_LIMIT),
        # Sign extension: two published service manuals, note under service 06.
        ((0xFFFF, 0x8000, 0), 0x81, SelfTestOutcome.PASSED),
        ((1, 0x8000, 0), 0x81, SelfTestOutcome.FAILED),
        ((0xFFFF, 0, 0x7FFF), 0x81, SelfTestOutcome.FAILED),
        ((0x8000, 0x8000, 0x7FFE), 0xFE, SelfTestOutcome.PASSED),
        ((0xFFFF, 0, 0x7FFF), 0x01, SelfTestOutcome.FAILED),
        # Crossed limits: no value can meet both, so nothing is judged by them.
        ((7, 9, 5), 0x01, SelfTestOutcome.NOT_JUDGED),
        ((0, 1, 0x8000), 0x81, SelfTestOutcome.NOT_JUDGED),
    ],
)
def test_outcome(words, uasid, expected):
    assert scaling.outcome(*words, uasid) is expected


@pytest.mark.parametrize(
    ("uasid", "low", "high", "limits"),
    [
        # A published service manual (7FFF) and scapy (FFFF): "no limit".
        ("01", "0000", "FFFF", (False, False)),
        ("01", "8000", "7FFF", (True, True)),
        ("81", "8000", "7FFF", (False, False)),
        ("81", "0000", "FFFF", (True, True)),
    ],
)
def test_a_side_without_a_limit(uasid, low, high, limits):
    (test,) = decode(f"46A20B{uasid}0001{low}{high}").self_tests
    assert (test.has_minimum, test.has_maximum) == limits


@pytest.mark.parametrize(
    ("value", "maximum", "expected"),
    [
        # Common practice, no published source: a leak test's 0.75 against 0.40.
        ("02EE", "0190", SelfTestOutcome.FAILED),
        ("0000", "0190", SelfTestOutcome.PASSED),
        ("0000", "0000", SelfTestOutcome.NOT_RUN),
    ],
)
def test_leak_before_and_after(value, maximum, expected):
    (test,) = decode(f"463CC9FD{value}0000{maximum}").self_tests
    assert test.outcome is expected
    if expected is SelfTestOutcome.FAILED:
        assert (test.value, test.maximum) == (Decimal("0.750"), Decimal("0.400"))


def test_values_print_without_an_exponent():
    text = decode("46A20B3E0000 0000 0001").to_json()["self_tests"]
    assert isinstance(text, list)
    assert text[0]["maximum"] == "0.00006103516"
    assert "E" not in text[0]["value"]
