"""Messages and answers of the buses before CAN (ISO 15031-5:2006 clause 6).

A message is three header bytes, data, and a check byte over all that stands before it:

    ISO 9141-2   48 6B 10 | 41 0C 1F 40 | sum        responder 10
    J1850 VPW    48 6B 10 | 41 0C 1F 40 | CRC
    J1850 PWM    41 6B 10 | 41 0C 1F 40 | CRC
    ISO 14230-4  84 F1 10 | 41 0C 1F 40 | sum        80 + number of data bytes

An answer may take several messages. Codes and test results have no count; vehicle
information is numbered. All forms are those of public captures, except that outside ISO
14230 data have at most seven bytes, and that the numbers run on from one item to the
next: both from memory. Functions on answers take the bytes after the service byte, and
raise ``MalformedError`` for an answer whose length or form is another.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

from auditkit.obd.dtc import code_texts
from auditkit.obd.scaling import SelfTestOutcome
from auditkit.obd.services import MalformedError, is_map

if TYPE_CHECKING:
    from collections.abc import Sequence

_HEADER, _MOST = 3, 7
_TESTER = 0xF1
_FORMAT, _LENGTH = 0x80, 0x3F
_PWM = b"\x41\x6b"
_ANSWERS = range(0x41, 0x4B)
_NEGATIVE = 0x7F

_BODY = 6
_FILLER = 0xFF
_MINIMUM = 0x80
_HALF = 0x8000
_VIN, _VIN_FILL = 0x02, 3

ITEM_SIZES = {0x02: 17, 0x04: 16, 0x06: 4, 0x08: 2, 0x0A: 20, 0x0B: 2}
"""InfoType -> bytes of one item (ISO 15031-5:2006 Annex G; 0B a later edition)."""


class CheckByte(StrEnum):
    """How a message's check byte was computed."""

    SUM = "sum"
    CRC = "crc"


_HEADS = {
    b"\x48\x6b": (CheckByte.SUM, CheckByte.CRC),
    b"\x68\x6a": (CheckByte.SUM, CheckByte.CRC),
    _PWM: (CheckByte.CRC,),
    b"\x61\x6a": (CheckByte.CRC,),
}
"""First two header bytes -> the checks of the buses that use them."""


@dataclass(frozen=True, slots=True)
class BusMessage:
    """One message without its header and check byte.

    ``responder`` is the sender's address as two hex digits, None for a request of the
    tester. ``check`` says which check byte fitted: one capture has one kind only.
    """

    responder: str | None
    payload: bytes
    check: CheckByte


@dataclass(frozen=True, slots=True)
class KLineTest:
    """One result of an on-board monitor test (service 06 before CAN).

    ``tid`` and ``component`` are two upper-case hex digits; the unit of the two words
    is the maker's. The limit is the least good value where ``is_minimum``, else the
    greatest, itself good (service manuals of 1997-2005: a value higher, or lower, than
    the limit is a fault). Words are compared unsigned (from memory).

    ``outcome`` is None where value and limit are both 0000: on CAN that is "not run",
    and for the buses before CAN no source was found that says either way.
    """

    responder: str
    tid: str
    component: str
    raw_value: int
    raw_limit: int
    is_minimum: bool
    outcome: SelfTestOutcome | None

    @property
    def sign_decides(self) -> bool:
        """Whether signed words would reverse the outcome.

        Some makers' words are signed (service manual of a 2000 van), and the message
        does not say so.
        """
        return (self.raw_value >= _HALF) != (self.raw_limit >= _HALF)


def checksum(data: bytes) -> int:
    """Return the sum of all bytes modulo 256 (ISO 14230-2, ISO 9141-2)."""
    return sum(data) & 0xFF


def crc(data: bytes) -> int:
    """Return the CRC of SAE J1850: polynomial 1D, initial value FF."""
    register = 0xFF
    for byte in data:
        register ^= byte
        for _ in range(8):
            register = register << 1 ^ (0x11D if register & 0x80 else 0)
    return register ^ 0xFF


def is_message(data: bytes) -> bool:
    """Return whether bytes begin with a header, so that they are not a bare answer.

    ``41 6B`` begins an answer to PID 6B as well; there the check byte decides.
    """
    if len(data) <= _HEADER:
        return False
    if data[:2] == _PWM:
        return _fitting(data) is not None and _is_answer(data[_HEADER])
    return data[:2] in _HEADS or (data[0] >= _FORMAT and _TESTER in data[1:_HEADER])


def message(data: bytes) -> BusMessage:
    """Return what a whole message holds; its check byte must fit."""
    if not is_message(data):
        raise MalformedError(
            f"no header of a message: {data[:_HEADER].hex(' ').upper()}"
        )
    payload = _payload(data)
    check = _fitting(data)
    if check is None:
        kinds = _checks(data)
        due = " or ".join(f"{_CHECKS[kind](data[:-1]):02X} ({kind})" for kind in kinds)
        raise MalformedError(f"the check byte is {data[-1]:02X} and should be {due}")
    source = data[_HEADER - 1]
    return BusMessage(None if source == _TESTER else f"{source:02X}", payload, check)


def _payload(data: bytes) -> bytes:
    if data[:2] in _HEADS:
        payload = data[_HEADER:-1]
        if not 1 <= len(payload) <= _MOST:
            raise MalformedError(
                f"a message of {len(payload)} data bytes; 1 to {_MOST} are allowed"
            )
        return payload
    stated, start = data[0] & _LENGTH, _HEADER
    if not stated:  # ISO 14230-2: the length has a byte of its own
        stated, start = data[_HEADER], _HEADER + 1
    payload = data[start:-1]
    if not payload or len(payload) != stated:
        raise MalformedError(
            f"the header tells of {stated} data bytes and there are {len(payload)}"
        )
    return payload


def _is_answer(service: int) -> bool:
    return service in _ANSWERS or service == _NEGATIVE


def _checks(data: bytes) -> tuple[CheckByte, ...]:
    return _HEADS.get(data[:2], (CheckByte.SUM,))


def _fitting(data: bytes) -> CheckByte | None:
    fitting = (k for k in _checks(data) if _CHECKS[k](data[:-1]) == data[-1])
    return next(fitting, None)


_CHECKS = {CheckByte.SUM: checksum, CheckByte.CRC: crc}


def is_body(body: bytes) -> bool:
    """Return whether an answer of service 03, 06 or 07 has the form before CAN.

    It has six bytes after the service byte always; on CAN it never has: codes take
    1 + 2n bytes, test results 9n, support maps 5n.
    """
    return len(body) == _BODY


def codes(bodies: Sequence[bytes]) -> tuple[str, ...]:
    """Return the fault codes of all messages of a service 03 or 07 answer, in order.

    Three codes per message, without a count; unused places hold the filler 0000.
    """
    for body in bodies:
        _six(body, "three fault codes")
    return code_texts(b"".join(bodies))


def self_test(responder: str, body: bytes) -> KLineTest:
    """Return the test result of one message of a service 06 answer.

    Test id; bit 7: the limit is a minimum, bits 6-0: component; value; limit.
    """
    _six(body, "a test result")
    tid, component = body[:2]
    if is_map(tid):
        raise MalformedError(
            f"TID {tid:02X} tells which tests there are and is no test"
        )
    value, limit = int.from_bytes(body[2:4]), int.from_bytes(body[4:])
    least = bool(component & _MINIMUM)
    return KLineTest(
        responder=responder,
        tid=f"{tid:02X}",
        component=f"{component & ~_MINIMUM:02X}",
        raw_value=value,
        raw_limit=limit,
        is_minimum=least,
        outcome=_outcome(value, limit, least=least),
    )


def _outcome(value: int, limit: int, *, least: bool) -> SelfTestOutcome | None:
    if value == limit == 0:
        return None
    good = value >= limit if least else value <= limit
    return SelfTestOutcome.PASSED if good else SelfTestOutcome.FAILED


def self_test_map(body: bytes) -> tuple[int, bytes]:
    """Return (base, bits) of a service 06 answer that tells which tests there are."""
    _six(body, "a map of tests")
    if not is_map(body[0]) or body[1] != _FILLER:
        raise MalformedError(
            f"a map of tests begins with 00, 20, ... and FF, not {body[:2].hex(' ')}"
        )
    return body[0], body[2:]


def message_count(body: bytes) -> tuple[int, int]:
    """Return (InfoType, messages) of an answer to an odd InfoType of service 09.

    InfoTypes 01, 03, 05, 07 and 09 tell how many messages 02, 04, 06, 08 and 0A take.
    """
    if len(body) != 2 or not body[0] & 1 or body[0] > 0x09:
        raise MalformedError(
            "a number of messages needs InfoType 01, 03, 05, 07 or 09 and one byte"
        )
    return body[0] + 1, body[1]


def information(bodies: Sequence[bytes]) -> tuple[int, bytes]:
    """Return (InfoType, data) of all messages of one service 09 answer, joined.

    Each has the InfoType, its number from 1 on, and four bytes; a lost, repeated or
    reordered message is refused.
    """
    for number, body in enumerate(bodies, start=1):
        _six(body, "a message of vehicle information")
        if body[0] != bodies[0][0]:
            raise MalformedError(
                f"InfoType {body[0]:02X} within an answer of {bodies[0][0]:02X}"
            )
        if body[1] != number:
            raise MalformedError(
                f"message {body[1]} came where message {number} was due"
            )
    if not bodies:
        raise MalformedError("no message of vehicle information")
    return bodies[0][0], b"".join(body[2:] for body in bodies)


def counted(info: int, data: bytes) -> bytes:
    """Return joined data in the form that CAN has: a count of items, then the items.

    ``services.vin``, ``calibration_ids``, ``cvns``, ``module_name`` and
    ``in_use.counters`` read it.
    """
    size = ITEM_SIZES.get(info)
    if size is None:
        raise MalformedError(f"InfoType {info:02X} has no known length")
    if info == _VIN:
        fill, data = data[:_VIN_FILL], data[_VIN_FILL:]
        if any(fill) or len(data) != size:
            raise MalformedError(f"a VIN needs three bytes 00 and {size} characters")
    if not data or len(data) % size or len(data) // size > 0xFF:
        raise MalformedError(
            f"InfoType {info:02X} has {len(data)} bytes; each item takes {size}"
        )
    return bytes([len(data) // size]) + data


def _six(body: bytes, what: str) -> None:
    if not is_body(body):
        raise MalformedError(f"{what} need {_BODY} bytes and there are {len(body)}")
