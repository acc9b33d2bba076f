"""What was read over a cable -> a readout of an order, and how it is told meanwhile."""

from __future__ import annotations

import secrets
from collections.abc import Iterable
from typing import TYPE_CHECKING

from auditkit.bay.one_step import Form
from auditkit.bay.read_vehicle import readout_members
from auditkit.capture.result import RequestOutcome
from auditkit.obd import decode
from auditkit.obd.responders import SERVICES, module_in_words

if TYPE_CHECKING:
    from auditkit.bay.live_reading import Finish
    from auditkit.bay.one_step import Hands
    from auditkit.bay.writer import LogWriter
    from auditkit.capture.result import Capture, SentRequest
    from auditkit.text.values import Json


def finish(writer: LogWriter, order: str, hands: Hands, tool: str) -> Finish:
    """Return what records a reading of an order, in the hands of who began it."""
    form_id = secrets.token_urlsafe(16)

    def recorded(got: Capture) -> tuple[int, ...]:
        with writer.reading() as log:
            at = log.at()
        members, _ = readout_members(
            got.text, decode(got.text), at, {"tool": tool}, None
        )
        event: dict[str, Json] = {
            "kind": "readout",
            "at": at,
            "by": hands.person,
            **members,
        }
        return writer.take(order, Form(form_id, [event]), hands).result().seqs

    return recorded


def asked_lines(asked: Iterable[SentRequest]) -> tuple[str, ...]:
    """Return who answers, and each request that went wrong, the last asking of each."""
    last = {one.request: one for one in asked}.values()
    who = sorted({name for one in last for name in one.responders})
    lines = [f"{module_in_words(name)} answers" for name in who]
    for one in last:
        is_expected = one.outcome is RequestOutcome.SILENT and not one.missing
        if one.outcome is RequestOutcome.ANSWERED and not one.missing:
            continue
        why = f": {'; '.join(one.notes)}" if one.notes else ""
        if one.notes or not is_expected:
            lines.append(f"{request_in_words(one.request)}: {one.outcome}{why}")
        else:
            lines.append(f"{request_in_words(one.request)}: silent, no module answers")
    return tuple(lines)


def request_in_words(request: str) -> str:
    """Return a request by its service and id: ``0621`` is self-tests 21."""
    service, rest = request[:2], request[2:4]
    name = SERVICES.get(service, f"service {service}")
    return f"{name} {rest}".strip()
