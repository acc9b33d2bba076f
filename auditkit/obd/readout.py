"""Captured text -> everything that the vehicle said in it.

The one function is ``decode``. It is pure: the same text gives the same readout.
The module is long because it gathers every service's answers into one readout.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import lru_cache
from itertools import chain
from typing import TYPE_CHECKING, TypeVar

from auditkit.errors import DecodeError
from auditkit.obd import dtc, forms, in_use, isotp, scaling, services, transcript, vin
from auditkit.obd import parameters as table
from auditkit.obd.dtc import Code
from auditkit.obd.monitors import (
    SINCE_CLEAR,
    THIS_CYCLE,
    Monitor,
    is_compression,
    mid_name,
    mil,
    monitors,
    tid_name,
)
from auditkit.obd.transcript import UNKNOWN, TranscriptProblem

if TYPE_CHECKING:
    from collections.abc import Callable
    from decimal import Decimal

    from auditkit.obd.in_use import Counter
    from auditkit.obd.isotp import Message
    from auditkit.obd.kline import KLineTest
    from auditkit.obd.parameters import Value
    from auditkit.obd.services import SelfTest

_T = TypeVar("_T")
_Answers = dict[tuple[str, int], dict[_T, None]]
"""(responder, item) -> its distinct answers, in order."""

LIMIT = 1 << 20
"""Most bytes of text that are decoded."""

_KINDS = {0x03: "confirmed", 0x07: "pending", 0x0A: "permanent"}
_STATUS, _CYCLE_STATUS = 0x01, 0x41
_CODE_ANSWERS = {0x43, 0x47, 0x4A}


@dataclass(frozen=True, slots=True)
class Parameter:
    """One answer kept as sent: ``data`` is hex; ``service`` and ``id`` two digits."""

    responder: str
    service: str
    id: str
    data: str


@dataclass(frozen=True, slots=True)
class Readout:
    """What the responders said; a responder that the text does not name is ``-``.

    ``reported`` holds the services with at least one well-formed positive answer:
    without "03" in it, no confirmed code means only that nobody answered.
    ``parameters`` keeps service 01 and 02 data, support maps and in-use counters as
    sent; ``values`` and ``counters`` are what they say. ``cleared`` is true where a
    positive answer to service 04 stands in the text. ``older_tests`` are results of a
    vehicle before CAN: one limit each, and no monitor id.
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

    @property
    def codes(self) -> tuple[Code, ...]:
        """Codes of all kinds: confirmed, pending, permanent."""
        return (*self.confirmed, *self.pending, *self.permanent)

    def value(self, identifier: str) -> Decimal | None:
        """Return the greatest number that any responder gave for a service 01 id.

        Responders that count the same thing may differ a little; the one that counts
        most has seen most.
        """
        found = [
            v.value
            for v in self.values
            if (v.service, v.id) == ("01", identifier) and v.value is not None
        ]
        return max(found, default=None)

    def to_json(self) -> dict[str, object]:
        """Return the readout as ``decode --format json`` prints it."""
        return {
            "responders": list(self.responders),
            "vin": self.vin,
            "codes": {
                "confirmed": _texts(self.confirmed),
                "pending": _texts(self.pending),
                "permanent": _texts(self.permanent),
            },
            "code_details": [
                {
                    "code": c.text,
                    "kind": c.kind,
                    "responder": c.responder,
                    "system": dtc.system(c.text),
                    "origin": dtc.origin(c.text),
                }
                for c in self.codes
            ],
            "monitors": _monitors_json(self.monitors, SINCE_CLEAR),
            "this_cycle": _monitors_json(self.monitors, THIS_CYCLE),
            "self_tests": [_self_test_json(test) for test in self.self_tests],
            "older_tests": [
                {
                    "responder": t.responder,
                    "tid": t.tid,
                    "component": t.component,
                    "raw_value": t.raw_value,
                    "raw_limit": t.raw_limit,
                    "limit_is": "minimum" if t.is_minimum else "maximum",
                    "outcome": t.outcome and t.outcome.value,
                    "sign_decides": t.sign_decides,
                }
                for t in self.older_tests
            ],
            "values": [_value_json(value) for value in self.values],
            "counters": [
                {"responder": c.responder, "name": c.name, "count": c.count}
                for c in self.counters
            ],
            "problems": [
                {"line": p.line, "responder": p.responder, "problem": p.problem}
                for p in self.problems
            ],
        }


@lru_cache(maxsize=256)
def decode(text: str) -> Readout:
    """Return what the vehicle said in ``text``; what cannot be read is a problem.

    Raises ``DecodeError`` for a text of more than 1 MiB, and for nothing else.
    """
    if len(text) > LIMIT or len(text.encode(errors="surrogatepass")) > LIMIT:
        what = f"the text is longer than {LIMIT} bytes"
        raise DecodeError(what, what_to_do="give one readout at a time")
    read = transcript.read(text)
    messages, broken = isotp.reassemble(read.items)
    form = forms.carry_over(messages)
    builder = _Builder(
        [*read.problems, *broken, *form.problems], [*read.notes, *form.notes]
    )
    builder.responders |= {message.responder for message in messages}
    for message in form.messages:
        builder.take(message)
    return replace(builder.readout(), older_tests=tuple(form.tests))


@dataclass(slots=True)
class _Builder:
    problems: list[TranscriptProblem]
    notes: list[str]
    responders: set[str] = field(default_factory=set)
    reported: set[str] = field(default_factory=set)
    vins: set[str] = field(default_factory=set)
    codes: _Answers[tuple[str, ...]] = field(default_factory=dict)
    status: _Answers[bytes] = field(default_factory=dict)
    texts: _Answers[tuple[str, ...]] = field(default_factory=dict)
    tests: dict[tuple[str, str, str], SelfTest] = field(default_factory=dict)
    parameters: dict[tuple[str, int, int], bytes] = field(default_factory=dict)
    frames: dict[tuple[str, int, int], bytes] = field(default_factory=dict)
    counters: dict[tuple[str, str], Counter] = field(default_factory=dict)
    was_cleared: bool = False

    def take(self, message: Message) -> None:
        """Add what one whole answer says."""
        self.responders.add(message.responder)
        head, body = message.data[0], message.data[1:]
        try:
            if head == services.NEGATIVE:
                _, why = services.refusal(body)
                self.notes.append(f"line {message.line}: {message.responder}: {why}")
                return
            self._positive(message, head - services.POSITIVE, body)
        except services.MalformedError as why:
            self._problem(message, f"answer {head:02X}: {why}")

    def _positive(self, message: Message, service: int, body: bytes) -> None:
        reader = _READERS.get(service)
        if reader is None:
            self._unread(message, service)
            return
        if reader(self, message, service, body):
            self.reported.add(f"{service:02X}")

    def _unread(self, message: Message, service: int) -> None:
        if not 0 < service <= 0x0A:  # noqa: PLR2004
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
            if pid in {_STATUS, _CYCLE_STATUS}:
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
        self._answer(message, self.codes, service, services.codes(body))
        return True

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
        elif info == 0x02:  # noqa: PLR2004
            self._vin(message, services.vin(rest))
        elif info in _INFO:
            self._answer(message, self.texts, info, _INFO[info](rest))
        else:
            self._keep(message, service, info, rest)
            if info in {in_use.SPARK, in_use.COMPRESSION}:
                for one in in_use.counters(message.responder, info, rest):
                    self.counters[one.responder, one.name] = one
        return True

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
            self._problem(message, f"VIN {text} beside another VIN in this readout")
        self.vins.add(text)

    def _answer(
        self, message: Message, held: _Answers[_T], item: int, answer: _T
    ) -> None:
        """Keep the last answer; lines without an id add up: many may have spoken."""
        seen = held.setdefault((message.responder, item), {})
        if message.responder != UNKNOWN:
            if seen and answer not in seen:
                service = message.data[0]
                self._differs(
                    message,
                    f"item {item:02X} of answer {service:02X}",
                    is_second_word=service in _CODE_ANSWERS,
                )
            seen.clear()
        seen[answer] = None

    def _keep(self, message: Message, service: int, item: int, data: bytes) -> None:
        self.parameters[message.responder, service, item] = data

    def _differs(self, message: Message, what: str, *, is_second_word: bool) -> None:
        told = f"{what} was answered twice and differs; the last is kept"
        self.problems.append(
            TranscriptProblem(message.line, message.responder, told, is_second_word)
        )

    def _note(self, message: Message, what: str) -> None:
        self.notes.append(f"line {message.line}: {message.responder}: {what}")

    def _problem(self, message: Message, what: str) -> None:
        self.problems.append(TranscriptProblem(message.line, message.responder, what))

    def readout(self) -> Readout:
        """Return everything, sorted."""
        problems = sorted(self.problems, key=lambda p: p.line)
        if not self.responders:
            problems.append(TranscriptProblem(0, None, "no answer was found"))
        first = [key for key in self.status if key[1] == _STATUS]
        return Readout(
            responders=tuple(sorted(self.responders)),
            vin=next(iter(self.vins)) if len(self.vins) == 1 else None,
            confirmed=self._codes(0x03),
            pending=self._codes(0x07),
            permanent=self._codes(0x0A),
            monitors=self._monitors(),
            self_tests=tuple(self.tests[key] for key in sorted(self.tests)),
            calibration_ids=self._texts(0x04),
            cvns=self._texts(0x06),
            mil=tuple(
                (key[0], any(mil(data) for data in self.status[key]))
                for key in sorted(first)
            ),
            reported=frozenset(self.reported),
            notes=tuple(self.notes),
            problems=tuple(problems),
            module_names=self._texts(0x0A),
            parameters=tuple(
                Parameter(who, f"{service:02X}", f"{item:02X}", data.hex().upper())
                for (who, service, item), data in sorted(self.parameters.items())
            ),
            values=self._values(),
            counters=tuple(self.counters.values()),
            cleared=self.was_cleared,
        )

    def _values(self) -> tuple[Value, ...]:
        """Return what the data of services 01 and 02 say."""
        found = [
            table.value_of(who, pid, data, self._scales(who))
            for (who, service, pid), data in sorted(self.parameters.items())
            if service == 1
        ]
        found += [
            table.value_of(who, pid, data, self._scales(who), frame=frame)
            for (who, frame, pid), data in sorted(self.frames.items())
        ]
        return tuple(value for value in found if value is not None)

    def _scales(self, who: str) -> dict[int, bytes]:
        return {i: self.parameters.get((who, 1, i), b"\0") for i in (0x4F, 0x50)}

    def _codes(self, service: int) -> tuple[Code, ...]:
        return tuple(
            Code(text, responder, _KINDS[service])
            for (responder, its), answers in sorted(self.codes.items())
            if its == service
            for text in dict.fromkeys(chain.from_iterable(answers))
        )

    def _texts(self, info: int) -> tuple[tuple[str, str], ...]:
        return tuple(
            (responder, text)
            for (responder, its), answers in sorted(self.texts.items())
            if its == info
            for text in chain.from_iterable(answers)
        )

    def _monitors(self) -> tuple[Monitor, ...]:
        found: dict[tuple[str, str, str], Monitor] = {}
        for (who, pid), answers in sorted(self.status.items()):
            cycle = SINCE_CLEAR if pid == _STATUS else THIS_CYCLE
            for data in answers:
                # Bit 3 of PID 41 is reserved in the 2006 text: PID 01 decides.
                kind = next(reversed(self.status.get((who, _STATUS), answers)))
                diesel = is_compression(data if pid == _STATUS else kind)
                for one in monitors(who, data, cycle, compression=diesel):
                    key = (cycle, who, one.monitor)
                    found[key] = _merged(found[key], one) if key in found else one
        return tuple(found.values())


def _merged(one: Monitor, other: Monitor) -> Monitor:
    """Return what two modules without ids say: incomplete if either is."""
    if not (one.supported and other.supported):
        return one if one.supported else other
    return one if one.complete is False else other


def _texts(codes: tuple[Code, ...]) -> list[str]:
    return list(dict.fromkeys(code.text for code in codes))


def _monitors_json(found: tuple[Monitor, ...], cycle: str) -> list[dict[str, object]]:
    return [
        {
            "responder": one.responder,
            "monitor": one.monitor,
            "supported": one.supported,
            "complete": one.complete,
        }
        for one in found
        if one.cycle == cycle
    ]


def _decimal_text(value: Decimal | None) -> str | None:
    return None if value is None else format(value, "f")


def _value_json(value: Value) -> dict[str, object]:
    return {
        "responder": value.responder,
        "service": value.service,
        "id": value.id,
        "frame": value.frame,
        "name": value.name,
        "value": _decimal_text(value.value),
        "unit": value.unit,
        "meaning": value.meaning,
        "source": value.source,
    }


def _self_test_json(test: SelfTest) -> dict[str, object]:
    return {
        "responder": test.responder,
        "mid": test.mid,
        "tid": test.tid,
        "uasid": test.uasid,
        "value": _decimal_text(test.value),
        "minimum": _decimal_text(test.minimum),
        "maximum": _decimal_text(test.maximum),
        "unit": test.unit,
        "outcome": test.outcome.value,
        "monitor": mid_name(int(test.mid, 16)),
        "test": tid_name(int(test.tid, 16)),
        "source": scaling.source(int(test.uasid, 16)),
        "raw_value": test.raw_value,
        "raw_minimum": test.raw_minimum,
        "raw_maximum": test.raw_maximum,
    }


def _module_name(body: bytes) -> tuple[str, ...]:
    return (services.module_name(body),)


_READERS: dict[int, Callable[[_Builder, Message, int, bytes], bool]] = {
    0x01: _Builder.data,
    0x02: _Builder.frozen,
    0x03: _Builder.fault_codes,
    0x04: _Builder.cleared,
    0x06: _Builder.tests_06,
    0x07: _Builder.fault_codes,
    0x09: _Builder.vehicle,
    0x0A: _Builder.fault_codes,
}
_INFO: dict[int, Callable[[bytes], tuple[str, ...]]] = {
    0x04: services.calibration_ids,
    0x06: services.cvns,
    0x0A: _module_name,
}
