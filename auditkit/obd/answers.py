"""Whole answers of a vehicle, service by service, gathered by who said what."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, TypeVar

from auditkit.obd import in_use, services, vin
from auditkit.obd.transcript import UNKNOWN, TranscriptProblem

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from auditkit.obd.in_use import Counter
    from auditkit.obd.isotp import Message
    from auditkit.obd.services import SelfTest

_T = TypeVar("_T")
Distinct = dict[tuple[str, int], dict[_T, None]]
"""(responder, item) -> its distinct answers, in order."""

STATUS, CYCLE_STATUS = 0x01, 0x41
_MARKS = 0x49  # service 09
_LISTS = {0x43, 0x47, 0x4A}
_LASTING = {*_LISTS, _MARKS}


@dataclass(slots=True)
class VehicleAnswers:
    """What was answered so far; the last answer of a module to a question counts.

    Keys are (responder, item), (responder, service, item) or (responder, frame, item),
    the self-tests' (responder, MID, TID). ``parameters`` and ``frames`` hold
    bytes as sent.
    """

    problems: list[TranscriptProblem]
    notes: list[str]
    responders: set[str] = field(default_factory=set)
    reported: set[str] = field(default_factory=set)
    answered: set[tuple[str, str]] = field(default_factory=set)
    refused: set[tuple[str, str]] = field(default_factory=set)
    blanks: set[tuple[str, str]] = field(default_factory=set)
    vins: set[str] = field(default_factory=set)
    codes: Distinct[tuple[str, ...]] = field(default_factory=dict)
    status: Distinct[bytes] = field(default_factory=dict)
    texts: Distinct[tuple[str, ...]] = field(default_factory=dict)
    tests: dict[tuple[str, str, str], SelfTest] = field(default_factory=dict)
    parameters: dict[tuple[str, int, int], bytes] = field(default_factory=dict)
    frames: dict[tuple[str, int, int], bytes] = field(default_factory=dict)
    counters: dict[tuple[str, str], Counter] = field(default_factory=dict)
    was_cleared: bool = False
    formless: list[Message] = field(default_factory=list)

    def take(self, message: Message) -> None:
        """Add what one whole answer says."""
        self.responders.add(message.responder)
        head, body = message.data[0], message.data[1:]
        try:
            if head == services.NEGATIVE:
                service, why = services.refusal(body)
                if body[1] != services.PENDING:
                    self.refused.add((message.responder, f"{service:02X}"))
                self.notes.append(f"line {message.line}: {message.responder}: {why}")
                return
            self._positive(message, head - services.POSITIVE, body)
        except services.MalformedError as why:
            self._problem(message, f"answer {head:02X}: {why}")
            if head in _LISTS:
                self.formless.append(message)

    def second_lists(self) -> Iterator[TranscriptProblem]:
        """Yield lists of codes that have not their form, beside one that was read."""
        for message in self.formless:
            service = message.data[0] - services.POSITIVE
            if (message.responder, f"{service:02X}") in self.answered:
                told = "a list of codes that cannot be read stands beside one that was"
                yield TranscriptProblem(
                    message.line, message.responder, told, is_second_word=True
                )

    def _positive(self, message: Message, service: int, body: bytes) -> None:
        reader = _READERS.get(service)
        if reader is None:
            self._unread(message, service)
            return
        if reader(self, message, service, body):
            self.reported.add(f"{service:02X}")
            self.answered.add((message.responder, f"{service:02X}"))

    def _unread(self, message: Message, service: int) -> None:
        if not 0 < service <= 0x0A:
            self._problem(message, f"{message.data[0]:02X} begins no OBD answer")
        else:
            self._note(message, f"an answer of service {service:02X} was not read")

    def data(self, message: Message, service: int, body: bytes) -> bool:
        """Keep a service 01 answer."""
        records = services.parameters(body)
        if not records:
            self._problem(message, "answer 41 without a PID")
            return False
        for pid, data in records:
            self._keep(message, service, pid, data)
            if pid in {STATUS, CYCLE_STATUS}:
                self._answer(message, self.status, pid, data)
        return True

    def frozen(self, message: Message, service: int, body: bytes) -> bool:
        """Keep a service 02 answer: the values when a code was stored."""
        records = services.frozen(body)
        if not records:
            self._problem(message, f"answer {service + 0x40:02X} without a PID")
            return False
        for pid, frame, data in records:
            self.frames[message.responder, frame, pid] = data
        return True

    def fault_codes(self, message: Message, service: int, body: bytes) -> bool:
        """Keep a service 03, 07 or 0A answer."""
        found = services.codes(body)
        self._answer(message, self.codes, service, found)
        if body[0] > len(found):
            self.blanks.add((message.responder, f"{service:02X}"))
        return True

    def add_codes(self, message: Message) -> None:
        """Keep codes that service 19 told, beside those of services 03 and 07."""
        service = message.data[0] - services.POSITIVE
        seen = self.codes.setdefault((message.responder, service), {})
        seen[services.codes(message.data[1:])] = None
        self.reported.add(f"{service:02X}")

    def tests_06(self, message: Message, service: int, body: bytes) -> bool:
        """Keep a service 06 answer."""
        if body and services.is_map(body[0]):
            for base, bits in services.maps(body):
                self._keep(message, service, base, bits)
            return True
        found, refused = services.self_tests(message.responder, body)
        for test in found:
            key = (test.responder, test.mid, test.tid)
            if self.tests.get(key, test) != test:
                what = f"MID {test.mid} TID {test.tid}"
                self._differs(message, what, is_second_word=True)
            self.tests[key] = test
        for what in refused:
            self._problem(message, what)
        return bool(found)

    def vehicle(self, message: Message, service: int, body: bytes) -> bool:
        """Keep a service 09 answer."""
        if not body:
            self._problem(message, "answer 49 without an InfoType")
            return False
        info, rest = body[0], body[1:]
        if services.is_map(info):
            for base, bits in services.maps(body):
                self._keep(message, service, base, bits)
        elif info == 0x02:
            self._vin(message, services.vin(rest))
        elif info in _INFO:
            self._answer(message, self.texts, info, _INFO[info](rest))
        else:
            self._keep(message, service, info, rest)
            if info in {in_use.SPARK, in_use.COMPRESSION}:
                self._counted(message, in_use.counters(message.responder, info, rest))
        return True

    def _counted(self, message: Message, found: Iterable[in_use.Counter]) -> None:
        new = {(one.responder, one.name): one for one in found}
        differs = any(self.counters.get(key, one) != one for key, one in new.items())
        if differs and message.responder != UNKNOWN:
            self._differs(message, "what it counts in use", is_second_word=True)
        self.counters |= new

    def cleared(self, message: Message, service: int, body: bytes) -> bool:
        """Note a service 04 answer: codes and results before it are gone."""
        if body:
            self._problem(message, f"answer {service + 0x40:02X} carries no bytes")
            return False
        self._note(message, "codes and test results were cleared here")
        self.was_cleared = True
        return True

    def _vin(self, message: Message, text: str) -> None:
        if not vin.is_well_formed(text):
            self._problem(message, f"{text!r} has not the form of a VIN")
            return
        if not vin.has_check_digit(text):
            self._note(message, f"VIN {text}: position 9 is not the check digit")
        if any(text != other for other in self.vins):
            told = f"VIN {text} beside another VIN in this readout"
            self.problems.append(
                TranscriptProblem(
                    message.line,
                    message.responder,
                    told,
                    is_second_word=True,
                    is_mark=True,
                )
            )
        self.vins.add(text)

    def _answer(
        self, message: Message, held: Distinct[_T], item: int, answer: _T
    ) -> None:
        """Keep the last answer; lines without an id add up (several modules)."""
        seen = held.setdefault((message.responder, item), {})
        if message.responder != UNKNOWN:
            if seen and answer not in seen:
                service = message.data[0]
                self._differs(
                    message,
                    f"item {item:02X} of answer {service:02X}",
                    is_second_word=service in _LASTING
                    or (item == STATUS and self._lamp_differs(seen, answer)),
                )
            seen.clear()
        seen[answer] = None

    def _lamp_differs(self, seen: Iterable[object], answer: object) -> bool:
        """Return whether two answers of PID 01, with no clear there, differ in byte A.

        Readiness changes while a vehicle is driven; lamp and count are the codes'.
        """
        both = [data[:1] for data in (*seen, answer) if isinstance(data, bytes)]
        return not self.was_cleared and len(set(both)) > 1

    def _keep(self, message: Message, service: int, item: int, data: bytes) -> None:
        self.parameters[message.responder, service, item] = data

    def _differs(self, message: Message, what: str, *, is_second_word: bool) -> None:
        told = f"{what} was answered twice and differs; the last is kept"
        is_mark = is_second_word and message.data[0] == _MARKS
        self.problems.append(
            TranscriptProblem(
                message.line, message.responder, told, is_second_word, is_mark
            )
        )

    def _note(self, message: Message, what: str) -> None:
        self.notes.append(f"line {message.line}: {message.responder}: {what}")

    def _problem(self, message: Message, what: str) -> None:
        self.problems.append(TranscriptProblem(message.line, message.responder, what))


def _module_name(body: bytes) -> tuple[str, ...]:
    return (services.module_name(body),)


_READERS: dict[int, Callable[[VehicleAnswers, Message, int, bytes], bool]] = {
    0x01: VehicleAnswers.data,
    0x02: VehicleAnswers.frozen,
    0x03: VehicleAnswers.fault_codes,
    0x04: VehicleAnswers.cleared,
    0x06: VehicleAnswers.tests_06,
    0x07: VehicleAnswers.fault_codes,
    0x09: VehicleAnswers.vehicle,
    0x0A: VehicleAnswers.fault_codes,
}
_INFO: dict[int, Callable[[bytes], tuple[str, ...]]] = {
    0x04: services.calibration_ids,
    0x06: services.cvns,
    0x0A: _module_name,
}
