"""Lines of a text that may hold another answer than the one that was read."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

from auditkit.obd import services
from auditkit.obd.transcript import Request, Transcript, TranscriptProblem

if TYPE_CHECKING:
    from auditkit.obd.isotp import Message

_Asked = tuple[int, bytes]
_LASTING = frozenset({0x03, 0x06, 0x07, 0x09, 0x0A, 0x19})
_BY_ITEM = frozenset({0x06, 0x09, 0x19})
# First bytes of answers that are read: ISO 15031-5:2006 clause 7; ISO 14229-1 (from
# memory) for codes to clear and to list, and for data by identifier.
_ANSWERS = frozenset({*range(0x41, 0x4B), 0x54, 0x59, 0x62, services.NEGATIVE})


def second_words(
    read: Transcript, messages: Iterable[Message]
) -> Iterator[TranscriptProblem]:
    """Yield lines that were left out beside an answer to the same request.

    An answer in a comment, in bytes that cannot be read, or that begins as no answer
    does, may say something else than the answer that was read: of codes (services 03,
    07, 0A and 19), self-tests (06) and marks (09) that makes two. Before the first
    request it may be any.
    """
    every = tuple(messages)
    answered = {_key(m.data[0] - services.POSITIVE, m.data[1:]) for m in every}
    answered = {key for key in answered if key[0] in _LASTING}
    strange = {m.line for m in every if m.data[0] not in _ANSWERS}
    requests = [i for i in read.items if isinstance(i, Request) and i.data]
    for line in sorted({*read.left_out, *strange}):
        before = [r.data for r in requests if r.line < line]
        asked = _key(before[-1][0], before[-1][1:]) if before else None
        if answered and (asked is None or asked in answered):
            yield TranscriptProblem(
                line,
                None,
                "an answer in a comment, or in bytes that cannot be read, stands "
                "beside the answer that was read",
                is_second_word=True,
            )


def _key(service: int, rest: bytes) -> _Asked:
    return service, rest[:1] if service in _BY_ITEM else b""
