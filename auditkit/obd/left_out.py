"""Lines of a text that may hold another answer than the one that was read."""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Collection, Iterable, Iterator, Mapping
from typing import TYPE_CHECKING

from auditkit.obd import services
from auditkit.obd.transcript import (
    ANSWERS,
    Frame,
    Request,
    Transcript,
    TranscriptProblem,
)

if TYPE_CHECKING:
    from auditkit.obd.isotp import Message

_Key = tuple[int, bytes]
_Given = Mapping[tuple[str, _Key], Mapping[int, list[bytes]]]
"""(responder, what is answered) -> its answers of each size, in order of bytes."""
_LASTING = frozenset({0x03, 0x06, 0x07, 0x09, 0x0A, 0x19})
_BY_ITEM = frozenset({0x06, 0x09, 0x19})
_BYTE = re.compile(r"(?<![0-9A-Z])[0-9A-F]{2}(?![0-9A-Z])")
_BYTES_SEEN = re.compile(
    r"(?<![0-9A-Z])[0-9A-F]{2}\s+[0-9A-F]{2}(?![0-9A-Z])"
    r"|(?:[0-9A-F]{2}[^0-9A-Z]+){3}[0-9A-F]{2}|[0-9A-F]{8}"
)
_ALONE = re.compile(r"7E[89A-F]")
_SINGLE, _FIRST = 0, 1


def second_words(
    read: Transcript, messages: Iterable[Message]
) -> Iterator[TranscriptProblem]:
    """Yield lines that may hold another answer than the one that was read.

    Of codes (services 03, 07, 0A and 19), self-tests (06) and marks (09) that makes two
    answers: an answer in a comment, in bytes that cannot be read, that begins as no
    answer does, or of which the module's id stands alone, where the request before it
    was answered, or a byte of it begins such an answer; and a frame that begins an
    answer otherwise than its module gave it whole. Before the first request a line may
    be any answer.
    """
    every = tuple(messages)
    given = _given(every)
    whole = {key for _, key in given}
    lines = [
        (line, text)
        for line, text in read.left_out
        if _BYTES_SEEN.search(text) or _is_mostly_hex(text) or _ALONE.fullmatch(text)
    ]
    lines += [
        (m.line, m.data.hex(" ").upper()) for m in every if m.data[0] not in ANSWERS
    ]
    requests = [i for i in read.items if isinstance(i, Request) and i.data]
    for line, text in sorted(set(lines)):
        before = bisect_left(requests, line, key=lambda request: request.line)
        if whole and (not before or _is_told(requests[before - 1].data, text, whole)):
            told = "an answer in a comment, or in bytes that cannot be read,"
            yield _problem(line, None, told)
    for frame in read.items:
        if isinstance(frame, Frame) and _begins_otherwise(frame, given):
            yield _problem(frame.line, frame.responder, "a frame of another answer")


def _given(messages: Iterable[Message]) -> _Given:
    """Return the distinct answers that last, each list sorted."""
    found: dict[tuple[str, _Key], dict[int, list[bytes]]] = {}
    for responder, data in sorted({(m.responder, m.data) for m in messages}):
        key = _key(data)
        if key[0] in _LASTING:
            sizes = found.setdefault((responder, key), {})
            sizes.setdefault(len(data), []).append(data)
    return found


def _is_mostly_hex(text: str) -> bool:
    """Return whether a line looks as bytes do, some of them mistyped: our choice."""
    signs = [sign for sign in text if sign.isalnum()]
    hexes = sum(sign in "0123456789ABCDEF" for sign in signs)
    return sum(map(str.isdigit, signs)) >= 4 and 2 * hexes >= len(signs)


def _is_told(request: bytes, text: str, whole: Collection[_Key]) -> bool:
    heads = {int(byte, 16) - services.POSITIVE for byte in _BYTE.findall(text)}
    asked = (request[0], request[1:2] if request[0] in _BY_ITEM else b"")
    return asked in whole or any(service in heads for service, _ in whole)


def _begins_otherwise(frame: Frame, given: _Given) -> bool:
    kind, rest = frame.data[0] >> 4, frame.data[1:]
    head, size = rest[: frame.data[0]], frame.data[0]
    if kind == _FIRST:
        head, size = rest[1:], (frame.data[0] & 0x0F) << 8 | int.from_bytes(rest[:1])
    if kind not in {_SINGLE, _FIRST} or not head:
        return False
    sizes = given.get((frame.responder, _key(head)))
    if sizes is None:
        return False
    alike = sizes.get(size, [])
    at = bisect_left(alike, head)  # where the first that begins so would stand
    return at == len(alike) or not alike[at].startswith(head)


def _key(answer: bytes) -> _Key:
    service = answer[0] - services.POSITIVE
    return service, answer[1:2] if service in _BY_ITEM else b""


def _problem(line: int, responder: str | None, what: str) -> TranscriptProblem:
    told = f"{what} stands beside the answer that was read"
    return TranscriptProblem(line, responder, told, is_second_word=True)
