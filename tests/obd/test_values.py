"""Values of services 01 and 02, and in-use counters, against published examples.

ISO5 is ISO 15031-5:2006, read through public transcriptions.
"""

import random
import warnings
from decimal import Decimal

import pytest

from auditkit.obd import decode, in_use

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    pytest.importorskip("scapy")
    from scapy.contrib.automotive.obd.obd import OBD


def shown(text, service="01"):
    return {
        v.id: str(v.value) if v.value is not None else v.meaning
        for v in decode(text).values
        if v.service == service
    }


def test_six_parameters_of_one_answer():
    # ISO5 Tables 127-128: 70 degC, 0.8 V, 666.75 rpm, fuel system 1 closed loop.
    found = shown("41 05 6E 01 83 33 FF 63 15 A0 78 0C 0A 6B 03 02 00")
    assert found["05"] == "70"
    assert found["0C"] == "666.75"
    assert found["15"] == "0.8"
    assert found["03"] == "closed loop; engine off"


def test_freeze_frame():
    # ISO5 Tables 140 and 142: P0130 stored it; 2080 rpm, load 50.196 %, 0 degC.
    found = shown("42 02 00 01 30\n42 0C 00 20 80 04 00 80 05 00 28", "02")
    assert found == {"02": "P0130", "04": "50.196", "05": "0", "0C": "2080"}


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("41 32 FF FC", "-1"),  # s16/4 Pa, ISO5 Table B.38
        ("41 54 FF FE", "-2"),  # two's complement, ISO5 Table B.65
        ("41 31 01 42", "322"),  # 200 miles are 321.87 km
        ("41 A6 00 12 5C 5A", "120329"),  # odometer: from memory, u32/10
        ("41 4E 00 3C", "60"),
    ],
)
def test_single_values(text, value):
    assert set(shown(text).values()) == {value}


def test_scaling_of_the_equivalence_ratio_may_be_overridden():
    # ISO5 Table B.60: 4F byte A over 65535 a bit.
    assert shown("41 44 80 00")["44"] == "0.999424"
    assert shown("41 4F 04 00 00 00\n41 44 80 00")["44"] == "2.000"


def test_scaling_of_the_manifold_pressure_may_be_overridden():
    # 4F byte D times 10 kPa at full scale: a later edition of SAE J1979, from memory.
    assert shown("41 0B 80")["0B"] == "128"
    assert shown("41 4F 00 00 00 33\n41 0B 80")["0B"] == "256"


def test_in_use_counters():
    # ISO5 Table 195.
    text = (
        "49 08 10 04 00 0D 09 03 38 03 B1 02 C7 03 B1 02 E1 03 9C 02 D4 03 41 03 E5 "
        "03 F2 03 A9 03 CD 00 44 00 61"
    )
    counts = {c.name: c.count for c in decode(text).counters}
    assert counts["OBDCOND"] == 1024
    assert counts["IGNCNTR"] == 3337
    assert (counts["CATCOMP1"], counts["CATCOND1"]) == (824, 945)
    assert (counts["EVAPCOMP"], counts["EVAPCOND"]) == (68, 97)
    assert len(counts) == 16


def test_a_short_counter_answer_is_a_problem_and_no_count():
    readout = decode("49 08 10 04 00")
    assert readout.counters == ()
    assert len(readout.problems) == 1


@pytest.mark.parametrize(
    ("before", "after", "risen"),
    [(5, 7, 2), (7, 7, 0), (65535, 1, 2), (700, 3, None)],
)
def test_rise(before, after, risen):
    assert in_use.rise(before, after) == risen


ONE = (0x05, 0x0D, 0x0F, 0x2F, 0x30, 0x33, 0x46, 0x5C)
TWO = (0x0C, 0x1F, 0x21, 0x31, 0x42, 0x4D, 0x4E)


def test_scapy_reads_the_same_values():
    """scapy as a second decoder of 3,000 generated answers."""
    source = random.Random(31)
    compared = 0
    for _ in range(200):
        for pid in (*ONE, *TWO):
            payload = bytes([0x41, pid]) + source.randbytes(1 + (pid in TWO))
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                record = OBD(payload).data_records[0]
            theirs = Decimal(str(record.data))
            (ours,) = shown(payload.hex(" ")).values()
            assert abs(Decimal(ours) - theirs) <= Decimal("0.006"), payload.hex()
            compared += 1
    assert compared == 3000
