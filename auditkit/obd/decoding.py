"""Captured text -> everything that the vehicle said in it.

The one function is ``decode``. It is pure: the same text gives the same readout.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from functools import lru_cache
from itertools import chain

from auditkit.errors import DecodeError
from auditkit.obd import forms, isotp, left_out, transcript, uds
from auditkit.obd import parameters as table
from auditkit.obd.answers import STATUS, VehicleAnswers
from auditkit.obd.dtc import Code
from auditkit.obd.fingerprint import fingerprint
from auditkit.obd.forms import CanMessages
from auditkit.obd.monitors import (
    SINCE_CLEAR,
    THIS_CYCLE,
    Monitor,
    is_compression,
    mil,
    monitors,
)
from auditkit.obd.parameters import Value
from auditkit.obd.readout import CodeStatus, Parameter, Readout
from auditkit.obd.responders import SERVICES
from auditkit.obd.services import POSITIVE
from auditkit.obd.transcript import Frame, Item, Request, TranscriptProblem

LIMIT = 1 << 20
"""Most bytes of text that are decoded."""

_BY_STATUS = frozenset({0x02, 0x0A})  # reports of service 19: by status, all codes
_MASK_AT = {0x02: 2, 0x42: 3}  # where a request of service 19 has its status mask
_COUNT = 0x7F  # PID 01 byte A, bits 0 to 6 (ISO 15031-5:2006 B.3)
_KINDS = {0x03: "confirmed", 0x07: "pending", 0x0A: "permanent"}


@lru_cache(maxsize=256)
def decode(text: str) -> Readout:
    """Return what the vehicle said in ``text``; what cannot be read is a problem.

    Raises ``DecodeError`` for a text of more than 1 MiB, and for nothing else.
    """
    if len(text) > LIMIT or len(text.encode(errors="surrogatepass")) > LIMIT:
        raise DecodeError(
            f"the text is longer than {LIMIT} bytes",
            what_to_do="give one readout at a time",
        )
    read = transcript.read(text)
    fingerprint(text)  # asked for next, and of many texts when this one is forgotten
    messages, broken = isotp.messages_in(text)
    form = forms.carry_over(messages)
    beside = left_out.second_words(read, messages)
    said = VehicleAnswers(
        [*read.problems, *broken, *form.problems, *beside], [*read.notes, *form.notes]
    )
    said.responders |= {message.responder for message in messages}
    for message in form.messages:
        said.take(message)
    said.refused |= form.refused
    said.answered |= {(who, "19") for who, *_ in form.reports}
    said.formless += form.formless
    said.problems += said.second_lists()
    for message in form.carried:
        said.add_codes(message)
    unread = frozenset(_begun(read.items, form)) - said.answered - said.refused
    requests = (i.data.hex().upper() for i in read.items if isinstance(i, Request))
    found = _readout(said, form, tuple(_asked(read.items, form)), unread)
    return replace(found, requests=tuple(dict.fromkeys(requests)))


def _begun(items: Iterable[Item], form: CanMessages) -> Iterator[tuple[str, str]]:
    """Yield who began to answer which service, whether or not all of it was read.

    The head of an answer is the second byte of a single frame and the third of a first
    frame (ISO 15765-2:2004, Table 3).
    """
    heads = [(m.responder, m.data[:1]) for m in form.messages]
    heads += [
        (item.responder, item.data[kind + 1 : kind + 2])
        for item in items
        if isinstance(item, Frame) and (kind := item.data[0] >> 4) in {0, 1}
    ]
    older = {(test.responder, "06") for test in form.tests}
    for who, head in heads:
        service = f"{head[0] - POSITIVE:02X}" if head else ""
        if service in SERVICES and (who, service) not in older:
            yield who, service


def _asked(items: Iterable[Item], form: CanMessages) -> Iterator[tuple[str, int]]:
    """Yield the status mask that was asked for, of each report of service 19."""
    requests = [item for item in items if isinstance(item, Request)]
    for who, report, line in form.reports:
        due = [r for r in requests if r.line < line and r.responder in {None, who}]
        data = due[-1].data if due else b""
        place = _MASK_AT.get(report.subfunction)
        is_its = data[:2] == bytes([uds.CODES, report.subfunction])
        if is_its and place is not None and place < len(data):
            yield who, data[place]


def _readout(
    said: VehicleAnswers,
    form: CanMessages,
    asked: tuple[tuple[str, int], ...],
    unread: frozenset[tuple[str, str]],
) -> Readout:
    """Return everything, sorted."""
    problems = sorted(said.problems, key=lambda p: p.line)
    if not said.responders:
        problems.append(TranscriptProblem(0, None, "no answer was found"))
    first = [key for key in said.status if key[1] == STATUS]
    return Readout(
        responders=tuple(sorted(said.responders)),
        vin=next(iter(said.vins)) if len(said.vins) == 1 else None,
        confirmed=_codes(said, 0x03),
        pending=_codes(said, 0x07),
        permanent=_codes(said, 0x0A),
        monitors=_monitors(said),
        self_tests=tuple(said.tests[key] for key in sorted(said.tests)),
        calibration_ids=_texts(said, 0x04),
        cvns=_texts(said, 0x06),
        mil=tuple(
            (key[0], any(mil(data) for data in said.status[key]))
            for key in sorted(first)
        ),
        reported=frozenset(said.reported),
        notes=tuple(said.notes),
        problems=tuple(problems),
        module_names=_texts(said, 0x0A),
        parameters=tuple(
            Parameter(who, f"{service:02X}", f"{item:02X}", data.hex().upper())
            for (who, service, item), data in sorted(said.parameters.items())
        ),
        values=_values(said),
        counters=tuple(said.counters.values()),
        cleared=said.was_cleared,
        older_tests=tuple(form.tests),
        answered=frozenset(said.answered),
        refused=frozenset(said.refused),
        unread=unread,
        blanks=frozenset(said.blanks),
        statuses=tuple(
            CodeStatus(who, fault.code, fault.text, fault.status, report.subfunction)
            for who, report, _ in form.reports
            if not report.is_permanent
            for fault in report.faults
            if fault.code is not None
        ),
        availability=tuple(
            (who, report.mask)
            for who, report, _ in form.reports
            if report.subfunction in _BY_STATUS
        ),
        asked=asked,
        counts=tuple(
            (who, data[0] & _COUNT)
            for (who, pid), answers in sorted(said.status.items())
            if pid == STATUS
            for data in answers
            if data
        ),
    )


def _values(said: VehicleAnswers) -> tuple[Value, ...]:
    """Return what the data of services 01 and 02 say."""
    found = [
        table.value_of(who, pid, data, _scales(said, who))
        for (who, service, pid), data in sorted(said.parameters.items())
        if service == 1
    ]
    found += [
        table.value_of(who, pid, data, _scales(said, who), frame=frame)
        for (who, frame, pid), data in sorted(said.frames.items())
    ]
    return tuple(value for value in found if value is not None)


def _scales(said: VehicleAnswers, who: str) -> dict[int, bytes]:
    return {i: said.parameters.get((who, 1, i), b"\0") for i in (0x4F, 0x50)}


def _codes(said: VehicleAnswers, service: int) -> tuple[Code, ...]:
    return tuple(
        Code(text, responder, _KINDS[service])
        for (responder, its), answers in sorted(said.codes.items())
        if its == service
        for text in dict.fromkeys(chain.from_iterable(answers))
    )


def _texts(said: VehicleAnswers, info: int) -> tuple[tuple[str, str], ...]:
    return tuple(
        (responder, text)
        for (responder, its), answers in sorted(said.texts.items())
        if its == info
        for text in chain.from_iterable(answers)
    )


def _monitors(said: VehicleAnswers) -> tuple[Monitor, ...]:
    found: dict[tuple[str, str, str], Monitor] = {}
    for (who, pid), answers in sorted(said.status.items()):
        cycle = SINCE_CLEAR if pid == STATUS else THIS_CYCLE
        for data in answers:
            # Bit 3 of PID 41 is reserved in the 2006 text: PID 01 decides.
            kind = next(reversed(said.status.get((who, STATUS), answers)))
            diesel = is_compression(data if pid == STATUS else kind)
            for one in monitors(who, data, cycle, compression=diesel):
                key = (cycle, who, one.monitor)
                found[key] = _merged(found[key], one) if key in found else one
    return tuple(found.values())


def _merged(one: Monitor, other: Monitor) -> Monitor:
    """Return what two modules without ids say: incomplete if either is."""
    if not (one.supported and other.supported):
        return one if one.supported else other
    return one if one.complete is False else other
