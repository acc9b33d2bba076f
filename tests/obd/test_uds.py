"""Vehicle answers by the services of ISO 14229-1 (SAE J1979-2, ISO 27145-3).

EMU: recorded answers of an ISO 27145 vehicle in a public protocol emulator; of its
vehicle number only the form is kept. BENCH: a bench capture in the tests of a public
firmware. ISO: an example of ISO 14229-1 as a public article prints it. ART: public
articles on services 19 and on SAE J2012-DA. scapy 2.8 and py-uds 4.0 are second
decoders. Checks marked "reasoning" have no outside source.
"""

from __future__ import annotations

import random
import warnings

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sampling import count
from vehicles import frames

from auditkit.obd import (
    SelfTestOutcome,
    decode,
    in_use,
    isotp,
    kline,
    services,
    transcript,
    uds,
)
from auditkit.obd.services import MalformedError

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    pytest.importorskip("scapy")
    from scapy.contrib.automotive.uds import UDS, UDS_NR, UDS_RDTCI

SETTINGS = settings(max_examples=max(count(400, 400), settings().max_examples))
VIN = "0ZZTB1A18CA000123"


def body(text: str) -> bytes:
    """Return the bytes after the service byte."""
    return bytes.fromhex(text)[1:]


def framed(text: str) -> bytes:
    """Return the bytes after the service byte of an answer in CAN frames."""
    lines = "\n".join(f"7E8 {line}" for line in text.split("|"))
    ((message,), problems) = isotp.reassemble(transcript.read(lines).items)
    assert problems == ()
    return message.data[1:]


def scapy(data: bytes) -> UDS:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return UDS(data)


@pytest.mark.parametrize(
    ("text", "did", "data", "like"),
    [
        # EMU.
        ("62 F4 00 BE 3F A8 13", 0xF400, "BE3FA813", (1, 0x00)),
        ("62 F4 20 90 15 B0 15", 0xF420, "9015B015", (1, 0x20)),
        ("62 F4 01 00 0F AA 00", 0xF401, "000FAA00", (1, 0x01)),
        ("62 F4 21 00 00", 0xF421, "0000", (1, 0x21)),
        ("62 F8 00 54 69 80 00", 0xF800, "54698000", (9, 0x00)),
        ("62 F8 10 01", 0xF810, "01", (9, 0x10)),
        # BENCH: another responder's monitors.
        ("62 F4 01 00 07 65 04", 0xF401, "00076504", (1, 0x01)),
    ],
)
def test_data_identifiers_hold_what_other_services_hold(text, did, data, like):
    assert uds.data_records(body(text)) == ((did, bytes.fromhex(data)),)
    assert uds.mirrored(did) == like


def test_the_vin_of_iso_14229_is_the_vin_and_another_one_beside_it_is_told():
    # ISO 14229-1 Table C.1, as above: F190 is the VIN.
    one, other = (f"0ZZTB1A1{end}" for end in ("8CA000123", "0CA000456"))
    said = {who: b"\x62\xf1\x90" + who.encode() for who in (one, other)}
    alone = decode("\n".join(frames("7E8", said[one])))
    assert (alone.vin, alone.has_answered("7E8", "09")) == (one, True)
    both = decode("\n".join(frames("7E8", said[one]) + frames("7E8", said[other])))
    assert both.vin is None
    assert [p.is_mark for p in both.problems] == [True]


def test_mirrored_data_are_read_by_the_functions_of_the_other_service():
    # EMU: the map and the monitors of a vehicle with compression ignition.
    (_, bits), *_ = uds.data_records(body("62 F4 00 BE 3F A8 13"))
    assert services.supported(0, bits) == (
        *(1, 3, 4, 5, 6, 7, 0x0B, 0x0C, 0x0D, 0x0E, 0x0F, 0x10),
        *(0x11, 0x13, 0x15, 0x1C, 0x1F, 0x20),
    )
    (_, data), *_ = uds.data_records(body("62 F4 01 00 0F AA 00"))
    assert services.parameters(b"\x01" + data) == ((1, data),)


def test_several_identifiers_in_one_answer():
    # Reasoning, after ISO 14229-1 Table 188 (public translation): records follow one
    # another, and lengths are the PIDs' of ISO 15031-5:2006 Annex B.
    records = uds.data_records(body("62 F4 01 00 07 65 04 F4 0D 32 F4 0C 13 88"))
    assert [f"{did:04X} {data.hex()}" for did, data in records] == [
        "F401 00076504",
        "F40D 32",
        "F40C 1388",
    ]
    # ISO 14229-1 Table C.1: F190 is the VIN, of 17 characters (ISO 3779).
    records = uds.data_records(b"\xf1\x90" + VIN.encode() + b"\xf4\x0d\x32")
    assert records == ((0xF190, VIN.encode()), (0xF40D, b"\x32"))


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("62", "no data identifier"),
        ("62 F4", "half a data identifier"),
        ("62 F8 02", "F802 needs 1 bytes and has 0"),
        ("62 F4 01", "F401 needs 4 bytes and has 0"),
        ("62 F4 01 00 07 65", "F401 needs 4 bytes and has 3"),
        ("62 F4 0D 32 05", "half a data identifier"),
        ("62 F4 0D 32 F8 02 30", "F802 has no known length"),
        ("62 F4 01 00 07 65 04 F4", "half a data identifier"),
    ],
)
def test_records_that_cannot_be_parted_are_refused(text, what):
    with pytest.raises(MalformedError, match=what):
        uds.data_records(body(text))


@pytest.mark.parametrize(
    ("did", "like"),
    [
        # ISO 14229-1 Table C.1 through the libraries udsoncan and uds_protocol.
        (0xF3FF, None),
        (0xF400, (1, 0)),
        (0xF4FF, (1, 0xFF)),
        (0xF500, None),
        (0xF600, (6, 0)),
        (0xF63C, (6, 0x3C)),
        (0xF6FF, (6, 0xFF)),
        (0xF700, None),
        (0xF802, (9, 2)),
        (0xF190, (9, 2)),
        (0xF900, None),
    ],
)
def test_runs_of_identifiers(did, like):
    assert uds.mirrored(did) == like


def test_every_row_names_its_source():
    sources = [row.source for row in uds.IDENTIFIERS]
    sources += [source for _, source in uds.NAMED.values()]
    sources += [report.source for report in uds.REPORTS.values()]
    assert all(len(source) > 10 for source in sources)


def test_vehicle_number_without_a_count():
    # EMU: a first frame of 14 hex bytes, 3 + 17.
    text = VIN.encode().hex(" ")
    frames = f"10 14 62 F8 02 {text[:8]}|21 {text[9:29]}|22 {text[30:]}"
    ((did, data),) = uds.data_records(framed(frames))
    assert did == 0xF802
    assert services.vin(uds.counted(0x02, data)) == VIN
    # A count byte may stand there all the same: a public article's 62 F8 02 01.
    assert services.vin(uds.counted(0x02, b"\x01" + VIN.encode())) == VIN


def test_other_vehicle_information_without_a_count():
    # EMU: two calibrations, their numbers, the module's name.
    frames = (
        "10 23 62 F8 04 4C 4B 32|21 31 2D 31 34 43 32 30|22 34 2D 44 44 00 00 4B|"
        "23 56 36 41 2D 31 34 47|24 32 35 30 2D 43 45 00|25 00 00 00 00 00 00 00"
    )
    ((_, data),) = uds.data_records(framed(frames))
    ids = services.calibration_ids(uds.counted(0x04, data))
    assert ids == ("LK21-14C204-DD", "KV6A-14G250-CE")
    frames = "10 0B 62 F8 06 DC 41 EC|21 C0 92 9E D9 D2 00 00"
    ((_, data),) = uds.data_records(framed(frames))
    assert services.cvns(uds.counted(0x06, data)) == ("DC41ECC0", "929ED9D2")
    frames = (
        "10 17 62 F8 0A 45 43 4D|21 00 2D 45 6E 67 69 6E|22 65 43 6F 6E 74 72 6F|"
        "23 6C 00 00 00 00 00 00"
    )
    ((_, data),) = uds.data_records(framed(frames))
    assert services.module_name(uds.counted(0x0A, data)) == "ECM-EngineControl"


def test_the_rules_number():
    # EMU.
    ((did, data),) = uds.data_records(
        framed("10 0E 62 F8 11 47 54 52|21 5F 30 30 35 2E 30 30|22 30")
    )
    assert (did, data) == (0xF811, b"GTR_005.000")
    assert did in uds.NAMED


@SETTINGS
@given(st.sampled_from(sorted(kline.ITEM_SIZES)), st.integers(1, 12), st.data())
def test_a_count_byte_changes_nothing(info, count, data):
    # Reasoning: items of one size, with their number in front or without.
    size = kline.ITEM_SIZES[info] * count
    items = data.draw(st.binary(min_size=size, max_size=size))
    assert uds.counted(info, items) == bytes([count]) + items
    assert uds.counted(info, bytes([count]) + items) == bytes([count]) + items


def test_counters():
    # ISO 15031-5:2006 Table 195's first items; that they stand here is from memory.
    data = bytes.fromhex("04000D09033803B1")
    counters = in_use.counters("7E8", 8, uds.counted(8, data))
    assert [c.count for c in counters] == [1024, 3337, 824, 945]


@pytest.mark.parametrize("text", ["", "01", "30 31", "02" + "30" * 17])
def test_information_of_another_length_is_refused(text):
    with pytest.raises(MalformedError, match="InfoType 02 has"):
        uds.counted(0x02, bytes.fromhex(text))


def test_results_of_monitors():
    # ISO 15031-5:2006 Table 168 without the repeated MID: the layout is from memory.
    data = bytes.fromhex("010A0BB00BB00BB0 0510004800000064 85240096004BFFFF")
    results = uds.monitor_results("7E8", 0x01, data)
    assert [(t.mid, t.tid, t.raw_value) for t in results] == [
        ("01", "01", 2992),
        ("01", "05", 72),
        ("01", "85", 150),
    ]
    assert {t.outcome for t in results} == {SelfTestOutcome.PASSED}
    classic = bytes.fromhex("01010A0BB00BB00BB0 010510004800000064 0185240096004BFFFF")
    assert uds.monitor_results("7E8", 0x01, classic) == results
    # ISO 15031-5:2006 Table 170: all zero is not run.
    (test,) = uds.monitor_results("7E8", 0x21, bytes.fromhex("872F000000000000"))
    assert test.outcome is SelfTestOutcome.NOT_RUN


@pytest.mark.parametrize(
    "data", [b"", b"\x01" * 7, b"\x01" * 10, b"\x01" * 72, b"\x00" * 8]
)
def test_results_of_another_length_are_refused(data):
    # 72 bytes of 01 are nine results or eight; a TID 00 is reserved.
    with pytest.raises(MalformedError):
        uds.monitor_results("7E8", 0x01, data)


def test_codes_of_the_emissions_group():
    # BENCH: 19 42 33 0C 1E; the engine answers in three frames, the other in one.
    frames = "10 10 59 42 33 FF FF 04|21 02 04 20 00 08 04 24|22 63 1F 04 00 00 00 00"
    report = uds.faults(framed(frames))
    assert (report.group, report.mask, report.severity_mask, report.format) == (
        0x33,
        0xFF,
        0xFF,
        4,
    )
    first, second = report.faults
    assert (first.text, first.code, first.severity) == ("P0420-00", "P0420", 2)
    assert (second.text, second.code, second.severity) == ("P2463-1F", "P2463", 4)
    assert (first.is_confirmed, first.is_pending) == (True, False)
    assert (second.is_confirmed, second.is_pending) == (False, True)
    assert uds.faults(body("59 42 33 FF FF 04")).faults == ()


def test_codes_of_a_vehicle_that_repeats_the_mask():
    # EMU: bytes past the eleventh are what the frame had before.
    frames = "10 0B 59 42 33 08 1E 04|21 08 25 22 1F 0C 20 02"
    report = uds.faults(framed(frames))
    (fault,) = report.faults
    assert (fault.text, fault.status, report.mask) == ("P2522-1F", 0x0C, 0x08)
    assert uds.faults(body("59 42 33 04 1E 04")).faults == ()
    assert uds.faults(body("59 55 33 5C 04")).is_permanent


def test_codes_by_status():
    # ART: 19 02 09 answered with 1B hex bytes, six codes.
    frames = (
        "10 1B 59 02 09 91 B6 12|21 08 A4 13 15 08 D3 18|22 31 08 A6 43 14 08 A7|"
        "23 32 21 08 A8 90 13 08"
    )
    report = uds.faults(framed(frames))
    assert [f.text for f in report.faults] == [
        "B11B6-12",
        "B2413-15",
        "U1318-31",
        "B2643-14",
        "B2732-21",
        "B2890-13",
    ]
    assert all(f.is_confirmed and not f.is_failed for f in report.faults)
    assert (report.mask, report.group, report.format) == (0x09, None, None)


def test_a_number_of_codes():
    # py-uds 4.0, unit tests: bit 7 of the sub-function asks for no answer.
    report = uds.faults(body("59 81 13 00 B9 10"))
    assert (report.subfunction, report.mask, report.format) == (0x01, 0x13, 0x00)
    assert (report.count, report.faults) == (0xB910, ())


def test_all_codes_there_are():
    # ISO, sub-function 0A: three codes, set or not, with the status they have.
    report = uds.faults(body("59 0A 7F 12 34 56 24 23 45 05 00 AB CD 01 2F"))
    assert report.is_catalogue
    assert [(f.text, f.status) for f in report.faults] == [
        ("P1234-56", 0x24),
        ("P2345-05", 0x00),
        ("B2BCD-01", 0x2F),
    ]
    assert [f.is_confirmed for f in report.faults] == [False, False, True]


@pytest.mark.parametrize(
    ("record", "text"),
    [
        # ART, SAE J2012-DA: code and failure type byte.
        ("01 27 00", "P0127-00"),
        ("80 39 10", "B0039-10"),
        ("40 31 23", "C0031-23"),
        # py-uds 4.0.
        ("04 20 00", "P0420-00"),
        ("24 63 1F", "P2463-1F"),
    ],
)
def test_three_bytes_are_one_code(record, text):
    (fault,) = uds.faults(body(f"59 02 FF {record} 09")).faults
    assert fault.text == text
    assert fault.code == text[:5]


def test_codes_of_other_formats_stay_as_sent():
    # Reasoning: SAE J1939-73 numbers are not those of SAE J2012.
    for form in ("01", "02", "03"):
        (fault,) = uds.faults(body(f"59 55 33 FF {form} 04 20 00 08")).faults
        assert (fault.text, fault.code) == ("042000", None)


def test_a_code_of_zeros_is_none():
    # ISO 15031-5:2006 6.3.1: 0000 is filler.
    assert uds.faults(body("59 02 FF 00 00 00 00 04 20 00 08")).faults == (
        uds.ReportedCode("P0420-00", "P0420", 0x08),
    )


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("59", "sub-function 00"),
        ("59 04 01 02 03 04", "sub-function 04"),
        ("59 02", "1 bytes are due"),
        ("59 42 33 FF FF", "4 bytes are due"),
        ("59 02 FF 04 20 00", "take 4 bytes each"),
        ("59 42 33 FF FF 04 04 20 00 08", "take 5 bytes each"),
        ("59 01 FF 00 00 02 00 00 00 00", "not 4 in all"),
    ],
)
def test_a_report_of_another_form_is_refused(text, what):
    with pytest.raises(MalformedError, match=what):
        uds.faults(body(text))


def test_codes_were_cleared():
    # EMU, BENCH: 14 FF FF 33 is answered 54.
    assert uds.is_request(bytes.fromhex("14FFFF33"))
    uds.cleared(b"")
    with pytest.raises(MalformedError, match="carries no bytes"):
        uds.cleared(b"\xff")


def test_refusals():
    # BENCH: both responders ask for time; ISO 14229-1 A.1 through py-uds 4.0.
    wait = uds.refusal(body("7F 19 78"))
    assert (wait.service, wait.is_pending) == (uds.CODES, True)
    assert uds.refusal(body("7F 22 31")).reason == "request out of range"
    assert uds.refusal(body("7F 22 E0")).reason == "reason not defined"
    for text in ("7F", "7F 22", "7F 22 31 00"):
        with pytest.raises(MalformedError):
            uds.refusal(body(text))


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        # EMU.
        ("22 F4 01", True),
        ("22 F8 02", True),
        ("19 42 33 08 1E", True),
        ("19 55 33", True),
        ("14 FF FF 33", True),
        ("", False),
        ("22", False),
        ("22 F4", False),
        ("14 FF FF", False),
        ("62 F4 01 00 07 65 04", False),
        ("01 00", False),
    ],
)
def test_requests(text, expected):
    assert uds.is_request(bytes.fromhex(text)) is expected


def test_reports_by_scapy():
    # 1,200 messages, or a sample.
    source = random.Random(0x59)
    names = dict(zip(UDS_RDTCI.dtcStatus, uds.STATUS, strict=True))
    for _ in range(count(1200, 1200)):
        kind = source.choice([0x02, 0x0A, 0x15])
        records = source.randbytes(4 * source.randrange(8))
        data = bytes([0x59, kind, source.randrange(256)]) + records
        theirs = scapy(data)
        mine = uds.faults(data[1:])
        assert theirs.DTCStatusAvailabilityMask == mine.mask
        assert theirs.reportType == mine.subfunction
        assert mine.is_permanent == ("Permanent" in UDS_RDTCI.reportTypes[kind])
        texts = [
            f"{'PCBU'[one.dtc.system]}{one.dtc.type}{one.dtc.numeric_value_code:03X}"
            f"-{one.dtc.additional_information_code:02X}"
            for one in theirs.DTCAndStatusRecord or []
        ]
        assert [f.text for f in mine.faults] == texts
        for one, fault in zip(
            theirs.DTCAndStatusRecord or [], mine.faults, strict=True
        ):
            bits = {names[bit] for bit in names if int(one.status) & bit}
            assert set(uds.bit_names(fault.status, uds.STATUS)) == bits
            flags = str(one.status).split("+")
            assert fault.is_failed == ("TestFailed" in flags)
            assert fault.is_pending == ("PendingDTC" in flags)
            assert fault.is_confirmed == ("ConfirmedDTC" in flags)
            assert fault.is_warned == ("WarningIndicatorRequested" in flags)
            assert fault.is_tested != ("TestNotCompletedSinceLastClear" in flags)


def test_numbers_of_codes_by_scapy():
    # 200 messages.
    source = random.Random(0x5901)
    for _ in range(200):
        data = b"\x59\x01" + source.randbytes(4)
        theirs, mine = scapy(data), uds.faults(data[1:])
        assert (mine.mask, mine.format, mine.count) == (
            theirs.DTCStatusAvailabilityMask,
            theirs.DTCFormatIdentifier,
            theirs.DTCCount,
        )


def test_data_by_scapy():
    # 600 messages, or a sample.
    source = random.Random(0x62)
    for _ in range(count(600, 600)):
        did = source.randrange(0xF400, 0xF900)
        like = uds.mirrored(did)
        size = services.PID_LENGTHS.get(did & 0xFF, 5) if like else 5
        size = 4 if like and services.is_map(like[1]) else size
        size = 1 if did == 0xF810 else size
        data = b"\x62" + did.to_bytes(2) + source.randbytes(size)
        theirs = scapy(data)
        assert uds.data_records(data[1:]) == (
            (theirs.dataIdentifier, theirs.lastlayer().load),
        )


def test_refusals_by_scapy():
    # 256 messages; of scapy's codes those for downloads with certificates are left out.
    known = {
        code
        for code, name in UDS_NR.negativeResponseCodes.items()
        if name != "ISOSAEReserved" and code and not 0x3A <= code <= 0x5D
    }
    assert known == set(uds.REFUSALS)
    for code in range(256):
        theirs, mine = (
            scapy(bytes([0x7F, 0x22, code])),
            uds.refusal(bytes([0x22, code])),
        )
        assert (mine.service, mine.code) == (
            theirs.requestServiceId,
            theirs.negativeResponseCode,
        )
    assert scapy(b"\x54").service == 0x54


def test_group_reports_by_py_uds():
    # 300 messages of the sub-functions that scapy does not know.
    pytest.importorskip("uds")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from uds.addressing import AddressingType
        from uds.message import UdsMessage
        from uds.translator import BASE_TRANSLATOR

    source = random.Random(0x42)
    for _ in range(300):
        kind = source.choice([0x42, 0x55, 0x56])
        size = 5 if kind == 0x42 else 4
        head = source.randbytes(1 if kind == 0x55 else 2)
        form = {0x42: head + b"\x04", 0x55: head + b"\x04"}.get(
            kind, head[:1] + b"\x04" + head[1:]
        )
        records = source.randbytes(size * source.randrange(1, 6))
        data = bytes([0x59, kind, 0x33]) + form + records
        message = UdsMessage(payload=data, addressing_type=AddressingType.FUNCTIONAL)
        theirs = BASE_TRANSLATOR.decode(message)
        mine = uds.faults(data[1:])
        fields = {one["name"]: one["raw_value"] for one in theirs[2:-1]}
        assert fields.pop("FunctionalGroupIdentifier") == mine.group
        assert fields.pop("DTCStatusAvailabilityMask") == mine.mask
        assert fields.pop("DTCFormatIdentifier") == mine.format
        assert fields.pop("DTCSeverityAvailabilityMask", None) == mine.severity_mask
        assert fields.pop("DTCReadinessGroupIdentifier", None) == mine.readiness_group
        assert fields == {}
        values = [
            {part["name"]: part["physical_value"] for part in record}
            for record in theirs[-1]["children"]
        ]
        assert [v["DTC"] for v in values] == [f.text for f in mine.faults]
        assert [v["DTCStatus"] for v in values] == [f.status for f in mine.faults]
        assert [v.get("DTCSeverity") for v in values] == [
            f.severity for f in mine.faults
        ]


@SETTINGS
@given(st.binary(max_size=80), st.integers(0, 255))
def test_any_bytes_give_a_value_or_the_one_error(data, item):
    readers = [
        lambda: uds.data_records(data),
        lambda: uds.counted(item, data),
        lambda: uds.monitor_results("7E8", item, data),
        lambda: uds.faults(data),
        lambda: uds.faults(bytes([item]) + data),
        lambda: uds.refusal(data),
        lambda: uds.cleared(data) or (),
    ]
    for reader in readers:
        try:
            assert reader() is not None
        except MalformedError as why:
            assert str(why)
    assert uds.is_request(data) in {True, False}


@SETTINGS
@given(
    st.sampled_from(sorted(uds.REPORTS)),
    st.binary(max_size=6),
    st.lists(st.binary(min_size=5, max_size=5), max_size=6),
)
def test_any_report_gives_a_value_or_the_one_error(kind, head, records):
    size = 5 if uds.REPORTS[kind].has_severity else 4
    data = bytes([kind]) + head + b"".join(one[:size] for one in records)
    try:
        report = uds.faults(data)
    except MalformedError:
        return
    assert report.subfunction == kind
    assert len(report.faults) <= len(data) // 4
