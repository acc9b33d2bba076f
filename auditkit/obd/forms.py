"""Answers of vehicles before CAN, and of SAE J1979-2 -> the CAN form of SAE J1979.

The readout reads one form. What the other forms say is carried over into it byte by
byte, with what does not fit kept beside it: tests of vehicles before CAN have one limit
and no monitor id, and the codes of J1979-2 have a failure type and a status.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from auditkit.obd import kline, services, uds
from auditkit.obd.isotp import Message
from auditkit.obd.transcript import TranscriptProblem

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from auditkit.obd.kline import KLineTest
    from auditkit.obd.uds import FaultReport

_CODES = (0x43, 0x47)
_TESTS, _INFO, _REPORT = 0x46, 0x49, 0x59
_WORDS = {0x22, 0x19, 0x14}


@dataclass(slots=True)
class CanMessages:
    """Messages in the CAN form, and what stands beside them.

    ``carried`` are lists of codes by status (service 19) in the form of services 03 and
    07: they add to what was answered there, and answer neither.
    """

    messages: list[Message] = field(default_factory=list)
    carried: list[Message] = field(default_factory=list)
    tests: list[KLineTest] = field(default_factory=list)
    reports: list[tuple[str, FaultReport, int]] = field(default_factory=list)  # line
    refused: set[tuple[str, str]] = field(default_factory=set)
    notes: list[str] = field(default_factory=list)
    problems: list[TranscriptProblem] = field(default_factory=list)
    formless: list[Message] = field(default_factory=list)  # reports of service 19

    def refuse(self, message: Message, why: object) -> None:
        """Report an answer that has not its form."""
        if message.data[0] == _REPORT and uds.is_read(message.data[1:]):
            self.formless.append(message)
        what = f"answer {message.data[0]:02X}: {why}"
        self.problems.append(TranscriptProblem(message.line, message.responder, what))

    def note(self, message: Message, what: str) -> None:
        """Note something that is no problem."""
        self.notes.append(f"line {message.line}: {message.responder}: {what}")


def carry_over(messages: Iterable[Message]) -> CanMessages:
    """Return all messages in the CAN form, in order of the line where each began."""
    forms = CanMessages()
    counts: dict[tuple[str, int], int] = {}
    gathered: dict[tuple[str, int, int], list[Message]] = {}
    for message in messages:
        head, body = message.data[0], message.data[1:]
        if kline.is_body(body) and head in {*_CODES, _TESTS, _INFO}:
            first = body[0] if head == _INFO else 0
            gathered.setdefault((message.responder, head, first), []).append(message)
        elif head == _INFO and len(body) == 2 and body[0] % 2:
            # How many numbered messages follow: without it a lost end goes unseen.
            _guarded(forms, message, lambda _, m: _count(counts, m))
        elif _newer(head, body):
            _guarded(forms, message, _NEWER.get(head, _refused))
        else:
            forms.messages.append(message)
    for (_, head, _), group in gathered.items():
        _older(forms, head, group, counts)
    forms.messages.sort(key=lambda message: message.line)
    return forms


def _newer(head: int, body: bytes) -> bool:
    return head in _NEWER or (
        head == services.NEGATIVE and body[:1] != b"" and body[0] in _WORDS
    )


def _guarded(
    forms: CanMessages, message: Message, reader: Callable[[CanMessages, Message], None]
) -> None:
    try:
        reader(forms, message)
    except services.MalformedError as why:
        forms.refuse(message, why)


def _count(counts: dict[tuple[str, int], int], message: Message) -> None:
    info, number = kline.message_count(message.data[1:])
    counts[message.responder, info] = number


def _older(
    forms: CanMessages,
    head: int,
    group: list[Message],
    counts: dict[tuple[str, int], int],
) -> None:
    first = group[0]
    bodies = [m.data[1:] for m in group]
    if head == _INFO:
        bodies = _asked_once(bodies)
    if head in _CODES:
        places = (body[n : n + 2] for body in bodies for n in range(0, len(body), 2))
        pairs = [pair for pair in places if any(pair)]  # unused places hold 0000
        data = bytes([head, len(pairs)]) + b"".join(pairs)
        forms.messages.append(Message(first.line, first.responder, data))
    elif head == _INFO:
        due = counts.get((first.responder, bodies[0][0]))
        _guarded(forms, first, lambda f, m: _information(f, m, bodies, due))
    else:
        for message in group:
            _guarded(forms, message, _older_test)


def _asked_once(bodies: list[bytes]) -> list[bytes]:
    """Return numbered messages once, where they were asked for again and are equal."""
    runs: list[list[bytes]] = []
    for body in bodies:
        if body[1] == 1 or not runs:
            runs.append([])
        runs[-1].append(body)
    return runs[0] if all(run == runs[0] for run in runs) else bodies


def _information(
    forms: CanMessages, message: Message, bodies: list[bytes], due: int | None
) -> None:
    info, data = kline.information(bodies)
    if due is not None and due != len(bodies):
        raise services.MalformedError(
            f"{due} messages were announced and {len(bodies)} came"
        )
    body = data if services.is_map(info) else kline.counted(info, data)
    whole = bytes([_INFO, info]) + body
    forms.messages.append(Message(message.line, message.responder, whole))


def _older_test(forms: CanMessages, message: Message) -> None:
    body = message.data[1:]
    if services.is_map(body[0]):
        base, bits = kline.self_test_map(body)
        data = bytes([_TESTS, base]) + bits
        forms.messages.append(Message(message.line, message.responder, data))
    else:
        forms.tests.append(kline.self_test(message.responder, body))


def _read(forms: CanMessages, message: Message) -> None:
    for did, data in uds.data_records(message.data[1:]):
        service, item = uds.mirrored(did) or (0, 0)
        head = bytes([service + services.POSITIVE, item])
        if service == 0:
            forms.note(message, f"identifier {did:04X} was not read")
        elif service == 6 and not services.is_map(item):
            words = b"".join(
                bytes.fromhex(f"{t.mid}{t.tid}{t.uasid}")
                + b"".join(
                    w.to_bytes(2) for w in (t.raw_value, t.raw_minimum, t.raw_maximum)
                )
                for t in uds.monitor_results(message.responder, item, data)
            )
            forms.messages.append(
                Message(message.line, message.responder, head[:1] + words)
            )
        else:
            body = data
            if service == 9 and not services.is_map(item):
                body = uds.counted(item, data)
            forms.messages.append(Message(message.line, message.responder, head + body))


def _faults(forms: CanMessages, message: Message) -> None:
    report = uds.faults(message.data[1:])
    what = f"service 19 report {report.subfunction:02X}"
    forms.reports.append((message.responder, report, message.line))
    if report.is_catalogue or report.count is not None:
        forms.note(message, f"{what} lists or counts codes and tells none that is set")
        return
    for fault in report.faults:
        status = ", ".join(uds.bit_names(fault.status, uds.STATUS)) or "no bit set"
        forms.note(message, f"{what}: {fault.text}: {status}")
    if not report.faults and not report.is_permanent:
        forms.note(message, f"{what} is empty: it tells only of what it was asked for")
        return
    kinds = (
        {0x4A: report.faults}
        if report.is_permanent
        else {
            0x43: [f for f in report.faults if f.is_confirmed],
            0x47: [f for f in report.faults if f.is_pending],
        }
    )
    for head, faults in kinds.items():
        codes = [code for f in faults if (code := f.code) is not None]
        if codes or report.is_permanent:
            pairs = b"".join(_pair(code) for code in dict.fromkeys(codes))
            data = bytes([head, len(pairs) // 2]) + pairs
            told = forms.messages if report.is_permanent else forms.carried
            told.append(Message(message.line, message.responder, data))


def _pair(code: str) -> bytes:
    """Return the two bytes of a code's text: the reverse of ``dtc.code_text``."""
    first = "PCBU".index(code[0]) << 2 | int(code[1])
    digits = code[2:]
    return (first << 12 | int(digits, 16)).to_bytes(2)


def _cleared(forms: CanMessages, message: Message) -> None:
    uds.cleared(message.data[1:])
    forms.messages.append(Message(message.line, message.responder, b"\x44"))


def _refused(forms: CanMessages, message: Message) -> None:
    found = uds.refusal(message.data[1:])
    if found.is_pending:
        told = f"service {found.service:02X}: {found.code:02X} {found.reason}"
        forms.note(message, told)
        return
    forms.refused.add((message.responder, f"{found.service:02X}"))
    what = f"service {found.service:02X} refused: {found.code:02X} {found.reason}"
    forms.note(message, what)


_NEWER: dict[int, Callable[[CanMessages, Message], None]] = {
    0x62: _read,
    _REPORT: _faults,
    0x54: _cleared,
}
