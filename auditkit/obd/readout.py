"""The readout: everything that a vehicle said at one moment, as a value."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from auditkit.obd.readout_json import readout_json
from auditkit.obd.services import supported

if TYPE_CHECKING:
    from collections.abc import Iterable
    from decimal import Decimal

    from auditkit.obd.dtc import Code
    from auditkit.obd.in_use import Counter
    from auditkit.obd.kline import KLineTest
    from auditkit.obd.monitors import Monitor
    from auditkit.obd.parameters import Value
    from auditkit.obd.services import SelfTest
    from auditkit.obd.transcript import TranscriptProblem


_LISTED = 0x20  # ids of a support map
_VIN = 0x02  # InfoType of service 09
_FAILED, _PENDING, _CONFIRMED, _SINCE, _LAMP = 0x01, 0x04, 0x08, 0x20, 0x80


@dataclass(frozen=True, slots=True)
class Parameter:
    """One answer kept as sent: ``data`` is hex; ``service`` and ``id`` two digits."""

    responder: str
    service: str
    id: str
    data: str


@dataclass(frozen=True, slots=True)
class CodeStatus:
    """A code's status byte (ISO 14229-1 D.2, from memory) in a report of service 19.

    ``code`` is without failure type, ``text`` with it; ``report`` is the sub-function.
    """

    responder: str
    code: str
    text: str
    status: int
    report: int

    @property
    def is_completed(self) -> bool:
        """Whether its test was completed since codes were cleared (bit 4 is 0)."""
        return not self.status & 0x10

    @property
    def has_failed(self) -> bool:
        """Whether its test failed since the clear, now or pending (bits 0, 1, 2, 5)."""
        return bool(self.status & 0x27)

    @property
    def is_present(self) -> bool:
        """Whether it is failed, pending or confirmed now (bits 0, 2, 3)."""
        return bool(self.status & 0x0D)

    def is_of_now(self, kept: int) -> bool:
        """Return whether it fails now, or is confirmed and not history by its bits.

        It is history where it failed in neither this cycle nor the last, and asks for
        no lamp; ``kept`` are the bits that its module keeps.
        """
        told = _FAILED | _PENDING | _CONFIRMED | _LAMP
        is_history = self.status & told == _CONFIRMED and not (
            (_PENDING | _LAMP) & ~kept
        )
        return bool(self.status & (_FAILED | _CONFIRMED)) and not is_history

    @property
    def asks_for_lamp(self) -> bool:
        """Whether its module asks for a warning lamp because of it (bit 7)."""
        return bool(self.status & 0x80)


@dataclass(frozen=True, slots=True)
class Readout:
    """What the responders said; a responder that the text does not name is ``-``.

    ``reported`` holds the services with at least one well-formed positive answer:
    without "03" in it, no confirmed code means only that nobody answered.
    ``parameters`` keeps service 01 and 02 data, support maps and in-use counters as
    sent; ``values`` and ``counters`` are what they say. ``cleared`` is true where a
    positive answer to service 04 stands in the text. ``older_tests`` are results of a
    vehicle before CAN: one limit each, and no monitor id.

    ``answered`` and ``refused`` are pairs of responder and service, so that one module
    never answers for another; service 19 stands among them. ``unread`` are those that a
    module answered, never in a form that could be read (a wrong length, a frame lost);
    ``blanks`` those in whose list a code is counted whose place holds 0000.
    ``statuses`` are the status bytes of service 19, ``availability`` the status
    bits that a responder keeps in its reports of codes by status or of all codes,
    ``asked`` the status mask of each request for codes by status or severity that
    stands before its answer, ``counts`` how many confirmed codes PID 01 says.
    ``requests`` are the bytes of each request that stands in the text, as hex, each
    once; one whose bytes are not told is empty.
    """

    responders: tuple[str, ...] = ()
    vin: str | None = None
    confirmed: tuple[Code, ...] = ()
    pending: tuple[Code, ...] = ()
    permanent: tuple[Code, ...] = ()
    monitors: tuple[Monitor, ...] = ()
    self_tests: tuple[SelfTest, ...] = ()
    calibration_ids: tuple[tuple[str, str], ...] = ()
    cvns: tuple[tuple[str, str], ...] = ()
    mil: tuple[tuple[str, bool], ...] = ()
    reported: frozenset[str] = frozenset()
    notes: tuple[str, ...] = ()
    problems: tuple[TranscriptProblem, ...] = ()
    module_names: tuple[tuple[str, str], ...] = ()
    parameters: tuple[Parameter, ...] = ()
    values: tuple[Value, ...] = ()
    counters: tuple[Counter, ...] = ()
    cleared: bool = False
    older_tests: tuple[KLineTest, ...] = ()
    answered: frozenset[tuple[str, str]] = frozenset()
    refused: frozenset[tuple[str, str]] = frozenset()
    unread: frozenset[tuple[str, str]] = frozenset()
    blanks: frozenset[tuple[str, str]] = frozenset()
    statuses: tuple[CodeStatus, ...] = ()
    availability: tuple[tuple[str, int], ...] = ()
    asked: tuple[tuple[str, int], ...] = ()
    counts: tuple[tuple[str, int], ...] = ()
    requests: tuple[str, ...] = ()

    def has_answered(self, responder: str, *services: str) -> bool:
        """Return whether a module gave a well-formed answer to one of the services."""
        return any((responder, service) in self.answered for service in services)

    def denies(self, test: SelfTest) -> bool:
        """Return whether its module's own list of monitors lacks that of a result."""
        mid = int(test.mid, 16)
        return any(
            base < mid <= base + _LISTED and mid not in supported(base, bits)
            for one in self.parameters
            if (one.responder, one.service) == (test.responder, "06")
            for base, bits in ((int(one.id, 16), bytes.fromhex(one.data)),)
        )

    @property
    def denies_vin(self) -> bool:
        """Whether modules list what they tell of the vehicle (09), and none a VIN."""
        lists = [
            bytes.fromhex(one.data)
            for one in self.parameters
            if (one.service, one.id) == ("09", "00")
        ]
        return bool(lists) and not any(_VIN in supported(0, bits) for bits in lists)

    def lacks(self, responder: str, mids: Iterable[str]) -> bool:
        """Return whether a module's lists of monitors, all read, hold none of these."""
        lists = {
            int(one.id, 16): supported(int(one.id, 16), bytes.fromhex(one.data))
            for one in self.parameters
            if (one.responder, one.service) == (responder, "06")
        }
        base, asked = 0, {int(mid, 16) for mid in mids}
        while base in lists and not asked & {*lists[base]}:
            if base + _LISTED not in lists[base]:
                return bool(asked)
            base += _LISTED
        return False

    @property
    def codes(self) -> tuple[Code, ...]:
        """Codes of all kinds: confirmed, pending, permanent."""
        return (*self.confirmed, *self.pending, *self.permanent)

    def value(self, identifier: str) -> Decimal | None:
        """Return the greatest number that any responder gave for a service 01 id.

        Responders that count the same thing may differ a little; the highest count has
        seen most.
        """
        found = [
            v.value
            for v in self.values
            if (v.service, v.id) == ("01", identifier) and v.value is not None
        ]
        return max(found, default=None)

    def to_json(self) -> dict[str, object]:
        """Return the readout as ``decode --format json`` prints it."""
        return readout_json(self)
