"""A text of answers, told apart from others by what was said in it, not how.

Nothing is decoded further than to whole answers, so that a log can keep these marks
beside its entries and a better decoder changes none of them.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from auditkit.obd import isotp, transcript
from auditkit.obd.isotp import Message
from auditkit.obd.vin import is_well_formed

_COMMENT = re.compile(r"(?:^|\s)[#;].*$", re.MULTILINE)
_WITH_VIN = (b"\x49\x02", b"\x62\xf8\x02", b"\x62\xf1\x90")
_VIN = 17
_CURRENT, _COUNTERS = 0x41, (b"\x49\x08", b"\x49\x0b")
# Service 01 ids that neither live nor count: support maps, readiness and its reasons,
# the standard built to, fuel (ISO 15031-5:2006 Annex B).
_STANDING = frozenset(
    {*range(0, 0x100, 0x20), 0x01, 0x02, 0x1C, 0x13, 0x1D, 0x41, 0x51}
)
_OF_CODES = (b"\x43", b"\x47", b"\x4a", b"\x41\x01", b"\x59")
_RESULTS, _OWN = b"\x46", 2
_FEWEST = 3  # values that two moments will not share by chance: our choice


@dataclass(frozen=True, slots=True)
class Fingerprint:
    """What a text is known by.

    ``said`` is the SHA-256, as hex, of all its answers; ``live`` of those that live or
    count alone, empty where it holds fewer than three; ``vins`` the VINs answered.
    ``responders`` are all that answered; ``has_two_unnamed`` is true where one question
    about codes or lamp has more than one answer without a responder.
    """

    said: str
    live: str
    vins: tuple[str, ...]
    responders: tuple[str, ...] = ()
    has_two_unnamed: bool = False


def said_sha256(text: str) -> str:
    """Return the SHA-256, as hex, of the answers in a text, sorted by responder.

    Comments, spacing, time stamps, requests and order do not count. A text without a
    VIN may honestly be that of two vehicles: there the text itself counts, without
    comments and spacing.
    """
    return fingerprint(text).said


def live_sha256(text: str) -> str:
    """Return the SHA-256, as hex, of the live and counting values in a text.

    Two moments do not give the same ones, nor do two vehicles: a readout in which all
    of them equal another's is a copy, whatever else was changed in it. Empty where
    there are fewer than three of them.
    """
    return fingerprint(text).live


def answers_but_vin(text: str) -> str:
    """Return the SHA-256, as hex, of the answers in a text without those with a VIN.

    Two healthy vehicles of one model share readiness, codes and calibrations. So it is
    empty where fewer than two answers count, live, or give results of self-tests.
    """
    answers, _ = isotp.messages_in(text)
    own = [m.data for m in answers if _lives(m.data) or _is_result(m.data)]
    if len(own) < _OWN:
        return ""
    return _sha256(_lines([m for m in answers if not m.data.startswith(_WITH_VIN)]))


def _is_result(data: bytes) -> bool:
    """Return whether an answer gives results of self-tests, not a map of them."""
    return data[:1] == _RESULTS and data[1:2] != b"" and data[1] % 0x20 != 0


@lru_cache(maxsize=1024)
def fingerprint(text: str) -> Fingerprint:
    """Return what a text of answers is known by."""
    answers, _ = isotp.messages_in(text)
    lines = _lines(answers)
    if not any(m.data.startswith(_WITH_VIN) for m in answers):
        lines = _COMMENT.sub("", text).upper().split()
    live = _lines([m for m in answers if _lives(m.data)])
    return Fingerprint(
        _sha256(lines),
        _sha256(live) if len(live) >= _FEWEST else "",
        tuple(dict.fromkeys(filter(is_well_formed, map(_vin, answers)))),
        tuple(dict.fromkeys(m.responder for m in answers)),
        _has_two(m.data for m in answers if m.responder == transcript.UNKNOWN),
    )


def _has_two(answers: Iterable[bytes]) -> bool:
    given = list(answers)
    return any(sum(d.startswith(head) for d in given) > 1 for head in _OF_CODES)


def _lines(answers: tuple[Message, ...] | list[Message]) -> list[str]:
    return sorted({f"{m.responder} {m.data.hex()}" for m in answers})


def _sha256(lines: list[str]) -> str:
    return hashlib.sha256("\n".join(lines).encode(errors="surrogatepass")).hexdigest()


def _lives(data: bytes) -> bool:
    if data[:1] == bytes([_CURRENT]):
        return data[1:2] != b"" and data[1] not in _STANDING
    return data.startswith(_COUNTERS)


def _vin(answer: Message) -> str:
    """Return the VIN that an answer ends with, if it is one of those that hold one."""
    if not answer.data.startswith(_WITH_VIN):
        return ""
    return answer.data[-_VIN:].decode("ascii", "replace")
