"""An invented vehicle's memory, for ``auditkit capture --simulated``.

Three modules that answer OBD requests (ISO 15031-5:2006): an engine, a transmission
and a fuel pump control module. It is the vehicle of the demo's EGR repair, in three
states: before the repair, after the codes were cleared, and after its monitors ran
again. All its data are invented.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

STATES = ("before", "cleared", "after")
MINUTES_DRIVEN, KM_DRIVEN = 4, 3
"""Minutes that the engine ran, and how far, between the clear and the last state: few,
so that whoever tries it waits no longer for it to be believed."""
_RECORD = 9
_RESET_PIDS = (0x21, 0x30, 0x31, 0x4D, 0x4E)
_STATUS = (0x01, 0x41)
_NO_CODE = bytes(2)


@dataclass(frozen=True, slots=True)
class Module:
    """One module's memory: id -> bytes as sent after the id, service by service."""

    data: Mapping[int, bytes]
    info: Mapping[int, bytes]
    tests: Mapping[int, bytes] = field(default_factory=dict)
    frozen: Mapping[int, bytes] = field(default_factory=dict)
    confirmed: tuple[int, ...] = ()
    pending: tuple[int, ...] = ()
    permanent: tuple[int, ...] = ()

    def answer(self, request: bytes) -> bytes | None:
        """Return the positive answer to a request; None where there is none."""
        service, ids = request[0], request[1:]
        head = bytes([service + 0x40])
        match service:
            case 0x03 | 0x07 | 0x0A:
                codes = {3: self.confirmed, 7: self.pending}.get(
                    service, self.permanent
                )
                return head + bytes([len(codes)]) + _words(codes)
            case 0x01:
                found = [bytes([i]) + d for i in ids if (d := _of(self.data, i))]
            case 0x02 if len(ids) == 2 and not ids[1]:
                found = [ids + d for d in [_of(self.frozen, ids[0])] if d]
            case 0x06 if ids and ids[0] % 0x20 == 0:
                found = [bytes([i]) + d for i in ids if (d := _of(self.tests, i))]
            case 0x06:
                found = [self.tests[i] for i in ids[:1] if i in self.tests]
            case 0x09:
                found = [ids[:1] + d for d in [_of(self.info, ids[0])] if d]
            case 0x04:
                return head
            case _:
                return None
        return head + b"".join(found) if found else None

    def cleared(self) -> Module:
        """Return it after a clear of codes (ISO 15031-5:2006 clause 7.4.1).

        Permanent codes, in-use counters and what names the module are kept.
        """
        data = {
            **self.data,
            **{i: bytes(len(self.data[i])) for i in _RESET_PIDS if i in self.data},
            **{
                i: bytes([0, was[1], was[2], was[2]])
                for i in _STATUS
                if (was := self.data.get(i))
            },
        }
        return replace(
            self,
            data=data,
            tests={mid: _not_run(records) for mid, records in self.tests.items()},
            frozen={0x02: _NO_CODE} if self.frozen else {},
            confirmed=(),
            pending=(),
        )


def _of(held: Mapping[int, bytes], identifier: int) -> bytes | None:
    """Return the bytes of an id, or the support map that it asks for (Annex A)."""
    if identifier % 0x20:
        return held.get(identifier)
    bits = 0
    for one in held:
        if identifier < one <= identifier + 0x20:
            bits |= 1 << (identifier + 0x20 - one)
        elif one > identifier + 0x20:
            bits |= 1
    return bits.to_bytes(4) if bits else None


def _words(numbers: tuple[int, ...]) -> bytes:
    return b"".join(number.to_bytes(2) for number in numbers)


def _not_run(records: bytes) -> bytes:
    starts = range(0, len(records), _RECORD)
    return b"".join(records[at : at + 3] + bytes(_RECORD - 3) for at in starts)


def _records(mid: int, *tests: tuple[int, int, int, int, int]) -> bytes:
    """Return the records of a monitor: test id, scaling id, value, minimum, maximum."""
    return b"".join(bytes([mid, t[0], t[1]]) + _words(t[2:]) for t in tests)


def _named(acronym: str, text: str) -> bytes:
    return (
        b"\1" + acronym.encode().ljust(4, b"\0") + b"-" + text.encode().ljust(15, b"\0")
    )


def _calibrations(*names: str) -> bytes:
    return bytes([len(names)]) + b"".join(n.encode().ljust(16, b"\0") for n in names)


def _counts(*numbers: int) -> bytes:
    return bytes([len(numbers)]) + _words(numbers)


_EGR = 0x0401  # P0401
_ENGINE = Module(
    data={
        0x01: bytes.fromhex("8107E500"),
        0x03: bytes.fromhex("0200"),
        0x04: bytes.fromhex("33"),
        0x05: bytes.fromhex("78"),
        0x0C: bytes.fromhex("0BB8"),
        0x0D: bytes.fromhex("00"),
        0x0F: bytes.fromhex("3A"),
        0x1C: bytes.fromhex("01"),
        0x1F: bytes.fromhex("0258"),
        0x21: bytes.fromhex("0057"),
        0x2F: bytes.fromhex("80"),
        0x30: bytes.fromhex("2C"),
        0x31: bytes.fromhex("0912"),
        0x33: bytes.fromhex("62"),
        0x41: bytes.fromhex("0007E580"),
        0x46: bytes.fromhex("39"),
        0x4D: bytes.fromhex("006E"),
        0x4E: bytes.fromhex("0C1A"),
        0x51: bytes.fromhex("01"),
        0xA6: (1_842_100).to_bytes(4),
    },
    frozen={
        0x02: _EGR.to_bytes(2),
        0x03: bytes.fromhex("0200"),
        0x04: bytes.fromhex("59"),
        0x05: bytes.fromhex("7B"),
        0x0C: bytes.fromhex("2080"),
        0x0D: bytes.fromhex("48"),
    },
    confirmed=(_EGR,),
    permanent=(_EGR,),
    tests={
        0x21: _records(0x21, (0x80, 0x20, 0x50, 0, 0xC0)),
        0x31: _records(
            0x31, (0x81, 0x17, 0xD6, 0x15E, 0xFFFF), (0x82, 0x24, 3, 0, 0x28)
        ),
        0x3C: _records(0x3C, (0x81, 0xFD, 112, 0, 400)),
        0xA2: _records(0xA2, (0x0B, 0x24, 0, 0, 0xFFFF), (0x0C, 0x24, 2, 0, 0xFFFF)),
    },
    info={
        0x02: b"\x01" + b"0ZZTB1A18CA000123",
        0x04: _calibrations("DEMO-EGR-0001"),
        0x06: bytes.fromhex("011791BC82"),
        0x08: _counts(
            *(310, 902, 240, 270, 0, 0, 251, 270, 0, 0, 198, 240, 0, 0, 61, 88)
        ),
        0x0A: _named("ECM", "Engine Control"),
    },
)
_TRANSMISSION = Module(
    data={
        0x01: bytes.fromhex("00040000"),
        0x0D: bytes.fromhex("00"),
        0x1C: bytes.fromhex("01"),
        0x41: bytes.fromhex("00040000"),
    },
    info={
        0x04: _calibrations("DEMO-TCM-0007"),
        0x06: bytes.fromhex("0116E062BE"),
        0x0A: _named("TCM", "Transmission"),
    },
)
_PUMP = Module(
    data={0x01: bytes.fromhex("00040000"), 0x1C: bytes.fromhex("01")},
    info={
        0x04: _calibrations("DEMO-FPC-0002", "DEMO-FPC-DATA-1"),
        0x06: bytes.fromhex("029812347600C0FFEE"),
        0x0A: _named("FPC", "Fuel Pump"),
    },
)


def modules(state: str = "before") -> tuple[Module, ...]:
    """Return the vehicle's modules in one of ``STATES``."""
    before = (_ENGINE, _TRANSMISSION, _PUMP)
    if state == "before":
        return before
    cleared = tuple(module.cleared() for module in before)
    return cleared if state == "cleared" else (_driven(cleared[0]), *cleared[1:])


def _driven(engine: Module) -> Module:
    """Return the engine after its drive: every monitor ran, and its code is gone."""
    data = {
        **engine.data,
        0x01: bytes.fromhex("0007E500"),
        0x1F: (60 * MINUTES_DRIVEN).to_bytes(2),
        0x30: bytes.fromhex("01"),
        0x31: KM_DRIVEN.to_bytes(2),
        0x41: bytes.fromhex("0007E500"),
        0x4E: MINUTES_DRIVEN.to_bytes(2),
        0xA6: (1_842_100 + 10 * KM_DRIVEN).to_bytes(4),
    }
    tests = {
        **_ENGINE.tests,
        0x31: _records(
            0x31, (0x81, 0x17, 0x226, 0x15E, 0xFFFF), (0x82, 0x24, 2, 0, 0x28)
        ),
    }
    counters = _counts(  # a start; a drive of under 10 minutes counts for no monitor
        *(310, 903, 240, 270, 0, 0, 251, 270, 0, 0, 198, 240, 0, 0, 61, 88)
    )
    return replace(
        engine,
        data=data,
        tests=tests,
        info={**engine.info, 0x08: counters},
        permanent=(),
    )
