"""SAE J1979-2 and ISO 27145-3: vehicle answers by the services of ISO 14229-1.

    62 F4 01 00 07 65 04                    service 22: what PID 01 holds
    59 42 33 FF FF 04 02 04 20 00 08        service 19: P0420-00, confirmed
    54                                      service 14: codes were cleared
    7F 22 31                                refused: request out of range

Data identifiers F400-F8FF hold what services 01, 06 and 09 hold under the low byte.
Functions take the bytes after the service byte, and raise ``MalformedError`` for an
answer whose length or form is another. No standard was opened: each row of the tables
names the public library or capture it is from, or says "from memory".
"""

from __future__ import annotations

from dataclasses import dataclass

from auditkit.obd import kline, services
from auditkit.obd.dtc import code_text
from auditkit.obd.services import MalformedError, SelfTest

READ, CODES, CLEAR = 0x22, 0x19, 0x14
"""Services that answer with 62, 59 and 54."""

_TABLES = "ISO 14229-1 Table C.1 through the libraries udsoncan and uds_protocol"
_CAPTURE = "recorded answers of an ISO 27145 vehicle in a public protocol emulator"
_PY_UDS = "ISO 14229-1:2020 through py-uds 4.0"
_SCAPY = "ISO 14229-1 through scapy 2.8 and py-uds 4.0"

_DID, _CODE, _STATUS = 2, 3, 1
_MAP, _RESULT = 4, 8
_VIN, _VIN_TOO = 17, 0xF190


@dataclass(frozen=True, slots=True)
class Identifiers:
    """A run of data identifiers, and the service whose ids the low bytes are."""

    first: int
    last: int
    meaning: str
    service: int | None
    source: str


IDENTIFIERS = (
    Identifiers(0xF190, 0xF190, "VIN", 0x09, _TABLES),
    Identifiers(0xF400, 0xF4FF, "OBD data, by PID", 0x01, _TABLES),
    Identifiers(0xF500, 0xF5FF, "OBD data, by PID above FF", None, _TABLES),
    Identifiers(0xF600, 0xF6FF, "results of monitors, by MID", 0x06, _TABLES),
    # udsoncan calls these monitors, uds_protocol OBD data: they are left unread.
    Identifiers(0xF700, 0xF7FF, "OBD data or monitors: sources differ", None, _TABLES),
    Identifiers(0xF800, 0xF8FF, "vehicle information, by InfoType", 0x09, _TABLES),
)
NAMED = {
    0xF810: ("protocol: 01 is OBD by ISO 14229", _CAPTURE),
    0xF811: ("number of the global technical regulation", _CAPTURE),
}
"""Identifiers that only a vehicle of ISO 27145 or J1979-2 answers."""

STATUS = (
    "test failed",
    "test failed this operation cycle",
    "pending",
    "confirmed",
    "test not completed since last clear",
    "test failed since last clear",
    "test not completed this operation cycle",
    "warning indicator requested",
)
"""Bits 0-7 of a code's status (ISO 14229-1 D.2 through scapy 2.8 and py-uds 4.0)."""
_FAILED, _PENDING, _CONFIRMED, _UNTESTED, _WARNING = (1 << n for n in (0, 2, 3, 4, 7))
_J2012 = frozenset({None, 0x00, 0x04})


@dataclass(frozen=True, slots=True)
class ReportType:
    """A sub-function of service 19: what stands before the codes, and its source."""

    meaning: str
    head: tuple[str, ...]
    source: str
    has_severity: bool = False


_MASK, _NUMBER = ("mask",), ("mask", "format", "count", "count")
_GROUP = ("group", "mask", "format")
_BY_SEVERITY = ("group", "mask", "severity_mask", "format")
REPORTS = {
    0x01: ReportType("number of codes by status", _NUMBER, _SCAPY),
    0x02: ReportType("codes by status", _MASK, _SCAPY),
    0x0A: ReportType("codes that can be set", _MASK, _SCAPY),
    0x15: ReportType("permanent codes", _MASK, _SCAPY),
    0x42: ReportType("codes by severity", _BY_SEVERITY, _PY_UDS, has_severity=True),
    0x55: ReportType("permanent codes of a group", _GROUP, _PY_UDS),
    0x56: ReportType(
        "codes of a readiness group", (*_GROUP, "readiness_group"), _PY_UDS
    ),
}
"""Sub-functions that are read."""
_ALL, _PERMANENT = 0x0A, frozenset({0x15, 0x55})
_SUPPRESS = 0x80

_REFUSALS = """
10 general reject|11 service not supported|12 sub-function not supported
13 wrong message length or format|14 response too long|21 busy, repeat the request
22 conditions not correct|24 request sequence error
25 no response from a component of a sub-net
26 a failure prevents the requested action|31 request out of range
33 security access denied|34 authentication required|35 invalid key
36 number of attempts exceeded|37 required time delay not expired
70 upload or download not accepted|71 transfer of data suspended
72 general programming failure|73 wrong block sequence counter|78 answer pending
7E sub-function not supported in this session|7F service not supported in this session
81 engine speed too high|82 engine speed too low|83 engine is running
84 engine is not running|85 engine run time too short|86 temperature too high
87 temperature too low|88 vehicle speed too high|89 vehicle speed too low
8A throttle or pedal too high|8B throttle or pedal too low
8C transmission not in neutral|8D transmission not in gear|8F brake switch not closed
90 shifter not in park|91 torque converter clutch locked|92 voltage too high
93 voltage too low
"""
REFUSALS = {
    int(cell[:2], 16): cell[3:]
    for cell in _REFUSALS.strip().replace("\n", "|").split("|")
}
"""Codes of negative answers (ISO 14229-1 A.1 through scapy 2.8 and py-uds 4.0)."""
_WAIT = 0x78


@dataclass(frozen=True, slots=True)
class ReportedCode:
    """One code with its status, and severity where the report gives one.

    ``text`` is ``P0442-00``: two bytes as in services 03 and 07 (``code``), then the
    failure type byte, 00 where the code says all (SAE J2012-DA, through a public
    article's P0127, B0039-10 and C0031-23). A code of another format is six hex digits,
    and ``code`` is None.
    """

    text: str
    code: str | None
    status: int
    severity: int | None = None

    @property
    def is_failed(self) -> bool:
        """Whether its latest test failed."""
        return bool(self.status & _FAILED)

    @property
    def is_pending(self) -> bool:
        """Whether it failed in this or the last operation cycle."""
        return bool(self.status & _PENDING)

    @property
    def is_confirmed(self) -> bool:
        """Whether it is confirmed."""
        return bool(self.status & _CONFIRMED)

    @property
    def is_tested(self) -> bool:
        """Whether its test was completed since codes were cleared."""
        return not self.status & _UNTESTED

    @property
    def is_warned(self) -> bool:
        """Whether it asks for the warning lamp."""
        return bool(self.status & _WARNING)


@dataclass(frozen=True, slots=True)
class FaultReport:
    """What an answer of service 19 says.

    ``mask`` has the status bits that the responder keeps; some responders repeat the
    request's mask there instead. ``count`` is set in a report of a number only.
    """

    subfunction: int
    faults: tuple[ReportedCode, ...]
    mask: int
    group: int | None = None
    severity_mask: int | None = None
    format: int | None = None
    readiness_group: int | None = None
    count: int | None = None

    @property
    def is_permanent(self) -> bool:
        """Whether its codes are the permanent ones, whatever their status says."""
        return self.subfunction in _PERMANENT

    @property
    def is_catalogue(self) -> bool:
        """Whether it lists what codes there are, set or not."""
        return self.subfunction == _ALL


@dataclass(frozen=True, slots=True)
class Refusal:
    """A negative answer: the refused service, the code and what it means."""

    service: int
    code: int
    reason: str

    @property
    def is_pending(self) -> bool:
        """Whether the answer is still to come."""
        return self.code == _WAIT


def is_request(data: bytes) -> bool:
    """Return whether bytes have the shape of a request of service 22, 19 or 14."""
    if not data:
        return False
    if data[0] == READ:
        return len(data) > 1 and len(data) % _DID == 1
    if data[0] == CODES:
        return 2 <= len(data) <= 6
    return data[0] == CLEAR and len(data) == 1 + _CODE


def mirrored(did: int) -> tuple[int, int] | None:
    """Return (service, id) whose data an identifier holds: F40C is (01, 0C)."""
    if did == _VIN_TOO:
        return 0x09, 0x02
    for row in IDENTIFIERS:
        if row.first <= did <= row.last:
            return None if row.service is None else (row.service, did & 0xFF)
    return None


_LENGTHS = {_VIN_TOO: _VIN, 0xF810: 1}


def _length(did: int) -> int | None:
    """Return how many bytes of data an identifier has; None where that is unknown."""
    if did in _LENGTHS:
        return _LENGTHS[did]
    like = mirrored(did)
    if like is None or did in NAMED:
        return None
    service, item = like
    if services.is_map(item):
        return _MAP
    return services.PID_LENGTHS.get(item) if service == 1 else None


def data_records(body: bytes) -> tuple[tuple[int, bytes], ...]:
    """Return (identifier, data) of each record of a service 22 answer.

    Lengths are implied by the identifiers, so one of unknown length can stand alone
    only: as in service 01.
    """
    found: list[tuple[int, bytes]] = []
    at = 0
    while at < len(body):
        if len(body) - at < _DID:
            raise MalformedError(f"half a data identifier: {body[at]:02X}")
        did = int.from_bytes(body[at : at + _DID])
        length = _length(did)
        if length is None and at:
            raise MalformedError(
                f"DID {did:04X} has no known length, so it cannot be split"
            )
        if length is None:
            length = len(body) - _DID
        data = body[at + _DID : at + _DID + length]
        if len(data) < max(length, 1):
            raise MalformedError(
                f"DID {did:04X} needs {max(length, 1)} bytes and has {len(data)}"
            )
        found.append((did, data))
        at += _DID + length
    if not found:
        raise MalformedError("no data identifier")
    return tuple(found)


def counted(info: int, data: bytes) -> bytes:
    """Return vehicle information in the form of service 09: a count, then the items.

    Recorded F802, F804, F806 and F80A have no count byte; where one stands and fits, it
    is taken for one. ``services.vin`` and its like read the result.
    """
    size = kline.ITEM_SIZES.get(info)
    if size is None:
        raise MalformedError(f"InfoType {info:02X} has no known length")
    if len(data) % size == 1 and len(data) == 1 + data[0] * size:
        return data
    if not data or len(data) % size or len(data) // size > 0xFF:
        raise MalformedError(
            f"InfoType {info:02X} has {len(data)} bytes; each item takes {size}"
        )
    return bytes([len(data) // size]) + data


def monitor_results(responder: str, mid: int, data: bytes) -> tuple[SelfTest, ...]:
    """Return the test results of an identifier F6xx, ``mid`` being its low byte.

    Eight bytes each: TID, unit and scaling id, value, minimum, maximum (from memory:
    no public answer was found). Results that repeat the MID in front, as in service
    06, are read as well. A length that fits both is refused.
    """
    short = not len(data) % _RESULT
    long = not len(data) % (1 + _RESULT) and set(data[:: 1 + _RESULT]) == {mid}
    if not data or short == long:
        raise MalformedError(f"{len(data)} bytes of results; each takes {_RESULT}")
    body = data
    if short:
        parts = (data[at : at + _RESULT] for at in range(0, len(data), _RESULT))
        body = b"".join(bytes([mid]) + part for part in parts)
    found, refused = services.self_tests(responder, body)
    if refused:
        raise MalformedError(refused[0])
    return tuple(found)


def is_read(body: bytes) -> bool:
    """Return whether a service 19 answer is of a sub-function of ``REPORTS``."""
    return bool(body) and body[0] & ~_SUPPRESS in REPORTS


def faults(body: bytes) -> FaultReport:
    """Return what a service 19 answer says (sub-functions of ``REPORTS``)."""
    kind = body[0] & ~_SUPPRESS if body else 0
    report = REPORTS.get(kind)
    if report is None:
        raise MalformedError(f"sub-function {kind:02X} of service 19 is not read")
    head, rest = body[1 : 1 + len(report.head)], body[1 + len(report.head) :]
    if len(head) < len(report.head):
        raise MalformedError(
            f"{report.meaning}: {len(report.head)} bytes are due before the codes"
        )
    stated = dict(zip(report.head, head, strict=True))
    is_number = "count" in stated
    if is_number:
        stated["count"] = int.from_bytes(head[-2:])
    size = report.has_severity + _CODE + _STATUS
    if len(rest) % size or (is_number and rest):
        raise MalformedError(
            f"{report.meaning}: codes take {size} bytes each, not {len(rest)} in all"
        )
    records = (rest[at : at + size] for at in range(0, len(rest), size))
    read = (_fault(one, stated.get("format"), report) for one in records)
    return FaultReport(kind, tuple(f for f in read if f is not None), **stated)


def _fault(record: bytes, form: int | None, report: ReportType) -> ReportedCode | None:
    severity = record[0] if report.has_severity else None
    code, status = record[-4:-1], record[-1]
    if not any(code):  # no code has the number 000000
        return None
    text = code_text(*code[:2]) if form in _J2012 else None
    if text is None:
        return ReportedCode(code.hex().upper(), None, status, severity)
    return ReportedCode(f"{text}-{code[2]:02X}", text, status, severity)


def cleared(body: bytes) -> None:
    """Check an answer of service 14, which carries nothing: codes were cleared."""
    if body:
        raise MalformedError(f"answer 54 carries no bytes, and has {len(body)}")


def refusal(body: bytes) -> Refusal:
    """Return the refused service and why."""
    if len(body) != 2:
        raise MalformedError("a negative answer has three bytes")
    return Refusal(body[0], body[1], REFUSALS.get(body[1], "reason not defined"))


def bit_names(byte: int, names: tuple[str, ...]) -> tuple[str, ...]:
    """Return the names of the bits that are set, of ``STATUS``."""
    return tuple(name for bit, name in enumerate(names) if byte >> bit & 1)
