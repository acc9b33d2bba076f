"""scapy 2.8 as a second decoder of more than 10,000 generated answers.

A sample of them has each unit and scaling id, too. Services 01, 03, 06, 07, 09 and 0A;
values of service 01 are in ``test_values.py``.

Its known faults are stepped round: of PID 01 it takes the bits of byte C in the reverse
order and byte D inverted as well, and its list of monitor ids lacks 31, C0 and E0.
"""

from __future__ import annotations

import random
import warnings

import pytest
from sampling import chance, count

from auditkit.obd import decode, dtc, scaling, services

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    pytest.importorskip("scapy")
    from scapy.contrib.automotive.obd.obd import OBD

MIDS = [0x01, 0x10, 0x21, 0x32, 0x39, 0x3C, 0x3D, 0x41, 0x71, 0x81, 0xA1, 0xA2]
TRUTH = 0x2E
# Ids of the 2006 text; its truth values are words to scapy, not numbers.
SHARED = [u for u in scaling.SCALINGS if 0 < u <= 0x39 and u != TRUTH]
SHARED += [*range(0x81, 0x87), *range(0x8A, 0x8F), 0x90, 0x96, 0x9C, 0x9D, 0xA8, 0xA9]
SHARED += [0xAF, 0xB0, 0xB1, 0xFD, 0xFE]
NAMES = {
    "misfire": "misfire",
    "fuelSystem": "fuel-system",
    "fuel_system": "fuel-system",
    "components": "components",
    "catalyst": "catalyst",
    "heatedCatalyst": "heated-catalyst",
    "evaporativeSystem": "evaporative-system",
    "secondaryAirSystem": "secondary-air",
    "acSystemRefrigerant": "refrigerant-or-particulate-filter",
    "oxygenSensor": "oxygen-sensor",
    "oxygenSensorHeater": "oxygen-sensor-heater",
    "egr": "egr-vvt",
}


def scapy(payload: bytes) -> OBD:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return OBD(payload)


def test_results_of_monitors():
    source = chance("results of monitors")
    for uasid in SHARED * count(15, 75):
        mid = source.choice(MIDS)
        words = [source.randrange(1 << 16) for _ in range(3)]
        record = bytes([mid, source.randrange(1, 0x0D), uasid])
        payload = b"\x46" + record + b"".join(w.to_bytes(2) for w in words)
        (mine,) = decode(payload.hex()).self_tests
        theirs = scapy(payload).data_records[0][1]
        assert mine.tid == f"{theirs.standardized_test_id:02X}"
        assert mine.uasid == f"{theirs.unit_and_scaling_id:02X}"
        for ours, limit, other in (
            (mine.value, None, theirs.test_value),
            (mine.minimum, words[1], theirs.min_limit),
            (mine.maximum, words[2], theirs.max_limit),
        ):
            if ours is None:
                assert limit in {0, 0x7FFF, 0x8000, 0xFFFF}
            else:
                # scapy rounds to three decimals.
                assert float(ours) == pytest.approx(
                    float(other), rel=1e-9, abs=5.001e-4
                )


def test_pass_and_fail_from_the_scaled_numbers_of_scapy():
    source = chance("pass and fail")
    seen = set()
    for uasid in SHARED * count(15, 45):
        words = [source.randrange(1, 1 << 16) for _ in range(3)]
        payload = bytes([0x46, 0x3C, 0x01, uasid])
        payload += b"".join(w.to_bytes(2) for w in words)
        (mine,) = decode(payload.hex()).self_tests
        other = scapy(payload).data_records[0][1]
        passed = other.min_limit <= other.test_value <= other.max_limit
        if other.min_limit > other.max_limit:  # nothing can pass crossed limits
            assert mine.outcome == "not-judged"
            seen.add(None)
            continue
        if other.min_limit == other.max_limit and words[1] != words[2]:
            continue  # scapy rounds to three decimals: which is greater is gone
        assert mine.outcome == ("passed" if passed else "failed")
        seen.add(passed)
    assert seen == {True, False, None}


def test_support_maps():
    source = random.Random(1)
    for _ in range(count(1_000, 1_000)):
        base = source.choice([0x00, 0x20, 0x40, 0x60, 0x80, 0xA0])
        bits = source.randbytes(4)
        theirs = scapy(b"\x41" + bytes([base]) + bits).data_records[0][1]
        names = str(theirs.sprintf("%supported_pids%")).split("+")
        mine = services.supported(base, bits)
        assert {f"PID{pid:02X}" for pid in mine} == set(names) - {""}


def test_status_of_the_monitors():
    source = random.Random(2)
    for _ in range(count(1_000, 1_000)):
        data = bytearray(source.randbytes(4))
        data[1] &= 0x77  # spark; bit 3 came after the table that scapy follows
        readout = decode("4101" + data.hex())
        # ISO 15031-5:2006 Table B.2: bit 0 of byte C is the catalyst, bit 7 EGR.
        data[2] = int(f"{data[2]:08b}"[::-1], 2)
        theirs = scapy(b"\x41\x01" + data).data_records[0][1]
        assert readout.mil == (("-", bool(theirs.mil)),)
        assert {m.monitor for m in readout.monitors if m.supported} == {
            NAMES[name]
            for name in (
                str(theirs.continuous_tests_supported).split("+")
                + str(theirs.once_per_trip_tests_supported).split("+")
            )
            if name
        }


def test_fault_codes():
    source = random.Random(3)
    for _ in range(count(1_000, 1_000)):
        number = source.randrange(1, 12)
        pairs = source.randbytes(2 * number)
        service = source.choice([0x43, 0x47, 0x4A])
        payload = bytes([service, number]) + pairs
        theirs = [
            f"{'PCBU'[d.location]}{d.code1:X}{d.code2:X}{d.code3:X}{d.code4:X}"
            for d in scapy(payload).dtcs
        ]
        readout = decode(payload.hex())
        mine = readout.confirmed + readout.pending + readout.permanent
        assert [c.text for c in mine] == [
            t for t in dict.fromkeys(theirs) if t != "P0000"
        ]
        assert dtc.code_text(*pairs[:2]) in {theirs[0], None}


def test_vehicle_information():
    source = random.Random(9)
    for _ in range(count(500, 500)):
        number = "".join(source.choices("0123456789ABCDEFGHJKLMNPRSTUVWXYZ", k=17))
        payload = b"\x49\x02\x01" + number.encode()
        theirs = scapy(payload).data_records[0][1].vehicle_identification_numbers
        assert decode(payload.hex()).vin == theirs[0].decode()
        cvns = source.randbytes(4 * source.randrange(1, 4))
        payload = b"\x49\x06" + bytes([len(cvns) // 4]) + cvns
        theirs = scapy(payload).data_records[0][1].calibration_verification_numbers
        mine = [text for _, text in decode(payload.hex()).cvns]
        assert mine == [other.hex().upper() for other in theirs]
