"""One whole answer -> what it says (ISO 15031-5:2006 clause 7, Annexes A, B and G).

A positive answer begins with its request's service + 40, a negative one with 7F.
Every function takes the bytes after the service byte, and raises ``MalformedError``
for an answer whose length or form is not that of the standard.
"""

from __future__ import annotations

from dataclasses import dataclass
from struct import Struct
from typing import TYPE_CHECKING

from auditkit.obd import scaling
from auditkit.obd.dtc import code_texts

if TYPE_CHECKING:
    from collections.abc import Iterable
    from decimal import Decimal

    from auditkit.obd.scaling import SelfTestOutcome

POSITIVE = 0x40
NEGATIVE = 0x7F
_BLOCK = 0x20
_MAP = 4
_RECORD = 9
_WORDS = Struct(">BBBHHH")
_HEX = tuple(f"{byte:02X}" for byte in range(256))
_CALIBRATION, _NUMBER, _VIN, _NAME = 16, 4, 17, 20
_ACRONYM, _DASH = 4, 0x2D
_PRINTABLE = range(0x20, 0x7F)

_LENGTHS = {
    1: "04-0B 0D-0F 11-13 1C-1E 2C-30 33 45-4C 51-52 5A-5C",
    2: "02-03 0C 10 14-1B 1F 21-23 31-32 3C-3F 42-44 4D-4E 53-54 59 5D-5E",
    4: "00 01 20 24-2B 34-3B 40-41 4F-50 60 80 A0 A6 C0 E0",
}
PENDING = 0x78  # no refusal: the answer follows
_REASONS = {
    0x10: "general reject",
    0x11: "service not supported",
    0x12: "request not supported",
    0x21: "busy, repeat the request",
    0x22: "conditions not correct",
    PENDING: "answer pending",
}


class MalformedError(Exception):
    """An answer does not have the length or form that its service demands."""


@dataclass(frozen=True, slots=True)
class SelfTest:
    """One result of an on-board monitor test (service 06).

    ``mid``, ``tid`` and ``uasid`` are two upper-case hex digits. The raw words are
    unsigned 16-bit numbers as sent; ``value``, ``minimum`` and ``maximum`` are in
    ``unit``, or None with an unknown scaling. ``has_minimum`` and ``has_maximum`` are
    false where the raw word means "no limit on this side": 0000 / FFFF, for a signed
    scaling 8000 / 7FFF.
    A test that has not run has the words 0000, and they are scaled like any other.
    """

    responder: str
    mid: str
    tid: str
    uasid: str
    value: Decimal | None
    minimum: Decimal | None
    maximum: Decimal | None
    unit: str | None
    outcome: SelfTestOutcome
    raw_value: int
    raw_minimum: int
    raw_maximum: int

    @property
    def place(self) -> tuple[str, str, str]:
        """Responder, monitor id and test id: what tells one test from another."""
        return self.responder, self.mid, self.tid

    @property
    def words(self) -> tuple[int, int, int]:
        """The raw words: value, minimum, maximum."""
        return self.raw_value, self.raw_minimum, self.raw_maximum

    @property
    def numbers(self) -> str:
        """Value and limits in words, raw where the scaling is unknown."""
        if self.value is None:
            return (
                f"raw value {self.raw_value}, minimum {self.raw_minimum}, "
                f"maximum {self.raw_maximum}"
            )
        low = f"{self.minimum:f}" if self.has_minimum else "none"
        high = f"{self.maximum:f}" if self.has_maximum else "none"
        return f"{self.value:f} {self.unit}, minimum {low}, maximum {high}"

    @property
    def has_minimum(self) -> bool:
        """Whether the least good value is a limit at all."""
        return not scaling.is_no_minimum(self.raw_minimum, int(self.uasid, 16))

    @property
    def has_maximum(self) -> bool:
        """Whether the greatest good value is a limit at all."""
        return not scaling.is_no_maximum(self.raw_maximum, int(self.uasid, 16))


def _lengths() -> dict[int, int]:
    table: dict[int, int] = {}
    for length, spans in _LENGTHS.items():
        for span in spans.split():
            first, _, last = span.partition("-")
            ids = range(int(first, 16), int(last or first, 16) + 1)
            table |= dict.fromkeys(ids, length)
    return table


PID_LENGTHS = _lengths()
"""Data bytes of each parameter id (Annex B); A6 after a public table of later ids."""


def is_map(identifier: int) -> bool:
    """Return whether an id asks which ids are supported (Annex A)."""
    return identifier % _BLOCK == 0


def supported(base: int, bits: bytes) -> tuple[int, ...]:
    """Return the ids that a support map names (Table A.1): A bit 7 is base + 1."""
    word = int.from_bytes(bits)
    return tuple(base + n for n in range(1, _BLOCK + 1) if word >> (_BLOCK - n) & 1)


def parameters(body: bytes) -> tuple[tuple[int, bytes], ...]:
    """Return (id, data) of each record of a service 01 answer (clause 7.1.1).

    Lengths are implied by the ids, so an id of unknown length can stand alone only.
    """
    return tuple((pid, data) for pid, _, data in _records(body, 0))


def frozen(body: bytes) -> tuple[tuple[int, int, bytes], ...]:
    """Return (id, frame, data) of each record of a service 02 answer (clause 7.2).

    Lengths are implied by the ids as in service 01 (Tables 137-144).
    """
    return tuple((pid, between[0], data) for pid, between, data in _records(body, 1))


def _records(body: bytes, between: int) -> tuple[tuple[int, bytes, bytes], ...]:
    """Return (id, what stands before its data, data) of records without a length."""
    found: list[tuple[int, bytes, bytes]] = []
    at = 0
    while at < len(body):
        pid, start = body[at], at + 1 + between
        length = PID_LENGTHS.get(pid)
        if length is None and not at:
            length = len(body) - start
        if length is None:
            raise MalformedError(
                f"PID {pid:02X} has no known length, so it cannot be split"
            )
        data = body[start : start + length]
        if len(data) < length or not data:
            need = between + (length if length > 0 else 1)
            raise MalformedError(
                f"PID {pid:02X} needs {need} bytes and has {len(body) - at - 1}"
            )
        found.append((pid, body[at + 1 : start], data))
        at = start + length
    _same_sort([pid for pid, _, _ in found])
    return tuple(found)


def maps(body: bytes) -> tuple[tuple[int, bytes], ...]:
    """Return (base, bits) of each support map of an answer (Annex A)."""
    if not body or len(body) % (1 + _MAP):
        raise MalformedError(
            f"support maps of {len(body)} bytes; each takes {1 + _MAP}"
        )
    found = tuple(
        (body[at], body[at + 1 : at + 1 + _MAP]) for at in range(0, len(body), 1 + _MAP)
    )
    _same_sort([base for base, _ in found])
    return found


def codes(body: bytes) -> tuple[str, ...]:
    """Return the fault codes of a service 03, 07 or 0A answer (Tables 146-150)."""
    if not body:
        raise MalformedError("no count of fault codes")
    if len(body) != 1 + 2 * body[0]:
        raise MalformedError(
            f"{body[0]} fault codes need {2 * body[0]} bytes, not {len(body) - 1}"
        )
    return code_texts(body[1:])


def self_tests(responder: str, body: bytes) -> tuple[list[SelfTest], list[str]]:
    """Return the test results of a service 06 answer, and what was refused of it.

    Records of nine bytes of one monitor id (Tables 157-170); the rest is refused.
    """
    found: list[SelfTest] = []
    whole = len(body) - len(body) % _RECORD
    for at in range(0, whole, _RECORD):
        record = body[at : at + _RECORD]
        if record[0] != body[0]:
            what = f"MID {record[0]:02X} within an answer for MID {body[0]:02X}"
            return found, [f"{what}; {len(body) - at} bytes are not read"]
        if record[1] in {0x00, 0xFF}:
            what = f"TID {record[1]:02X} of MID {body[0]:02X} is reserved"
            return found, [f"{what}; {len(body) - at} bytes are not read"]
        found.append(_self_test(responder, record))
    if whole == len(body) and body:
        return found, []
    rest = len(body) - whole
    return found, [f"test results take {_RECORD} bytes each; {rest} are not read"]


def _self_test(responder: str, record: bytes) -> SelfTest:
    mid, tid, uasid, value, low, high = _WORDS.unpack(record)
    return SelfTest(
        responder,
        _HEX[mid],
        _HEX[tid],
        _HEX[uasid],
        scaling.scaled(value, uasid),
        scaling.scaled(low, uasid),
        scaling.scaled(high, uasid),
        scaling.unit(uasid),
        scaling.outcome(value, low, high, uasid),
        value,
        low,
        high,
    )


def vin(body: bytes) -> str:
    """Return the text of service 09 InfoType 02: count 01, then 17 characters."""
    if len(body) != 1 + _VIN or body[0] != 1:
        raise MalformedError(f"a VIN needs the count 01 and {_VIN} characters")
    if set(body[1:]) <= {0x00, 0xFF}:
        raise MalformedError("the VIN was never written into this module")
    return _text(body[1:], "VIN")


def calibration_ids(body: bytes) -> tuple[str, ...]:
    """Return the calibration ids of service 09 InfoType 04: 16 characters each."""
    return tuple(
        _text(item.rstrip(b"\0"), "calibration id")
        for item in _items(body, _CALIBRATION)
    )


def cvns(body: bytes) -> tuple[str, ...]:
    """Return the calibration verification numbers of InfoType 06: 8 hex digits."""
    return tuple(item.hex().upper() for item in _items(body, _NUMBER))


def module_name(body: bytes) -> str:
    """Return the module's name of InfoType 0A (Table G.10), as ``ECM-Engine``."""
    (item, *more) = _items(body, _NAME) or (b"",)
    if more or len(item) != _NAME or item[_ACRONYM] != _DASH:
        raise MalformedError(
            "a module name needs the count 01, four characters, a dash and fifteen"
        )
    acronym = _text(item[:_ACRONYM].rstrip(b"\0"), "module name")
    return f"{acronym}-{_text(item[_ACRONYM + 1 :].rstrip(bytes(1)), 'module name')}"


def refusal(body: bytes) -> tuple[int, str]:
    """Return the refused service and why (Tables 11 and 12)."""
    if len(body) != 2:
        raise MalformedError("a negative answer has three bytes")
    why = _REASONS.get(body[1], "reason not defined")
    if body[1] == PENDING:
        return body[0], f"service {body[0]:02X}: {PENDING:02X} {why}"
    return body[0], f"service {body[0]:02X} refused: {body[1]:02X} {why}"


def _items(body: bytes, size: int) -> tuple[bytes, ...]:
    if not body or len(body) != 1 + body[0] * size:
        stated = f"{body[0]} items of {size} bytes" if body else "no count of items"
        raise MalformedError(f"{stated}, and {max(len(body) - 1, 0)} bytes")
    return tuple(body[at : at + size] for at in range(1, len(body), size))


def _text(data: bytes, what: str) -> str:
    if any(byte not in _PRINTABLE for byte in data):
        raise MalformedError(
            f"the {what} holds bytes that are not characters: {data.hex().upper()}"
        )
    return data.decode("ascii")


def _same_sort(identifiers: Iterable[int]) -> None:
    if len({is_map(i) for i in identifiers}) != 1:
        raise MalformedError("support maps and data never stand in one answer")
