"""What to ask a vehicle, and in which order: pure, from the answers heard so far.

Services and ids after ISO 15031-5:2006 (SAE J1979). An id is asked for only where some
responder's support map names it (Annex A): a responder that lacks an id stays silent
(Table 7), so that silence to such a request says nothing. Codes are never cleared:
service 04 is not in the plan.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from auditkit.obd.services import MalformedError, is_map, maps, supported

FIRST = "0100"
"""The request that every responder must answer; where it is silent, nothing else is
asked."""

_BLOCK, _LAST_MAP, _MAP_BYTES = 0x20, 0xE0, 4
_PARAMETERS = (
    *(0x01, 0x1C, 0x1F, 0x21, 0x30, 0x31, 0x41, 0x4D, 0x4E, 0x51, 0xA6),
    *(0x05, 0x0F, 0x33, 0x46, 0x2F),
)
_CODES = ("03", "07", "0A")
_MUST_ANSWER = frozenset({FIRST, "03", "07"})
_FROZEN_CODE = "020200"
_FROZEN_MAP = "020000"
_FROZEN = (0x03, 0x04, 0x05, 0x06, 0x07, 0x0B, 0x0C, 0x0D, 0x0F, 0x11)
_VEHICLE = (0x02, 0x04, 0x06, 0x0A, 0x08, 0x0B)
_BODY = {0x01: 1, 0x02: 1, 0x06: 1, 0x09: 1}
_FROZEN_HEAD = 3  # 42, the id, the frame


@dataclass(frozen=True, slots=True)
class PositiveAnswer:
    """One whole positive answer; ``data`` begins with the service + 40."""

    responder: str
    data: bytes


AnswersSoFar = Mapping[str, tuple[PositiveAnswer, ...]]
"""Request in hex -> the positive answers to it; a request that was asked is a key."""


def wanted_requests(heard: AnswersSoFar) -> tuple[str, ...]:
    """Return every request that the answers so far call for, in order, as hex.

    The list grows as support maps come in; what stands in it stays in it.
    """
    if FIRST in heard and not heard[FIRST]:
        return (FIRST,)
    return tuple(_plan(heard))


def next_request(heard: AnswersSoFar) -> str | None:
    """Return the next request that was not asked yet; None where all were."""
    return next((one for one in wanted_requests(heard) if one not in heard), None)


def must_answer(request: str, heard: AnswersSoFar) -> frozenset[str]:
    """Return the responders that must answer a request.

    Those whose own map names the id; for services 03 and 07, all that are known: on
    CAN a module without codes answers too (ISO 15031-5:2006 clauses 7.3 and 7.7).
    """
    known = frozenset(answer.responder for answer in heard.get(FIRST, ()))
    if request in _MUST_ANSWER:
        return known
    service = int(request[:2], 16)
    if service not in _BODY or request in {_FROZEN_CODE, _FROZEN_MAP}:
        return frozenset()
    identifier = int(request[2:4], 16)
    held = _supported_by(heard, service)
    return frozenset(who for who, ids in held.items() if identifier in ids)


def is_answer(request: str, data: bytes) -> bool:
    """Return whether a positive answer belongs to a request: service and id echoed."""
    asked = bytes.fromhex(request)
    echoed = _BODY.get(asked[0], 0)
    return (
        bytes([asked[0] + 0x40]) == data[:1]
        and asked[1 : 1 + echoed] == (data[1 : 1 + echoed])
    )


def _plan(heard: AnswersSoFar) -> Iterator[str]:
    yield from _maps(heard, 0x01)
    yield from _ids(heard, 0x01, _PARAMETERS)
    yield from _CODES
    yield from _frozen(heard)
    yield from _maps(heard, 0x06)
    held = _all_supported(heard, 0x06)
    yield from _ids(heard, 0x06, tuple(i for i in sorted(held) if not is_map(i)))
    yield from _maps(heard, 0x09)
    yield from _ids(heard, 0x09, _VEHICLE)


def _maps(heard: AnswersSoFar, service: int) -> Iterator[str]:
    """Yield requests for maps: the next block only where a map says that it exists."""
    held = _all_supported(heard, service)
    for base in range(0, _LAST_MAP + 1, _BLOCK):
        if not base or base in held:
            yield f"{service:02X}{base:02X}"


def _ids(heard: AnswersSoFar, service: int, ids: tuple[int, ...]) -> Iterator[str]:
    held = _all_supported(heard, service)
    yield from (f"{service:02X}{one:02X}" for one in ids if one in held)


def _frozen(heard: AnswersSoFar) -> Iterator[str]:
    """Yield frame 00's code; where it names one, the map and a few values."""
    yield _FROZEN_CODE
    if not any(any(a.data[_FROZEN_HEAD:]) for a in heard.get(_FROZEN_CODE, ())):
        return
    yield _FROZEN_MAP
    held = set[int]()
    for answer in heard.get(_FROZEN_MAP, ()):
        if len(bits := answer.data[_FROZEN_HEAD:]) == _MAP_BYTES:
            held.update(supported(0, bits))
    yield from (f"02{one:02X}00" for one in _FROZEN if one in held)


def _all_supported(heard: AnswersSoFar, service: int) -> frozenset[int]:
    return frozenset().union(*_supported_by(heard, service).values())


def _supported_by(heard: AnswersSoFar, service: int) -> dict[str, frozenset[int]]:
    """Return the ids that each responder's maps of a service name."""
    found: dict[str, frozenset[int]] = {}
    for base in range(0, _LAST_MAP + 1, _BLOCK):
        for answer in heard.get(f"{service:02X}{base:02X}", ()):
            try:
                blocks = maps(answer.data[1:])
            except MalformedError:
                continue  # decoding tells it; a map that cannot be read names nothing
            ids = found.get(answer.responder, frozenset())
            for first, bits in blocks:
                named = supported(first, bits)
                # In the last block, bit 0 of D is reserved (Annex A).
                ids |= frozenset(i for i in named if i <= _LAST_MAP + _BLOCK - 1)
            found[answer.responder] = ids
    return found
