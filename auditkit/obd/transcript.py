"""Captured text -> frames, payloads and requests, in the order they were seen.

Reads what a technician has: hex lines with or without spaces, responder ids and time
stamps; several frames on a line; prompts, echoes, comments; CAN logs in the
``(time) can0 7E8#0641...`` form; and numbered lines (``014``, ``0: 49 02 ...``).
CAN ids after ISO 15765-4:2005 clause 6.3 and Tables 3-5. What can be read in two ways
is a problem, never a guess.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from functools import lru_cache

from auditkit.obd import kline, services, uds
from auditkit.obd.services import MalformedError
from auditkit.text.display_text import plural

UNKNOWN = "-"
"""The responder of a line that names none."""

_COMMENT = re.compile(r"(?:^|\s)[#;].*$")
_STAMP = re.compile(
    r"^(?:\([0-9]+(?:\.[0-9]+)?\)"
    r"|\[?(?:[0-9]{4}-[0-9]{2}-[0-9]{2}[T ])?[0-9]{1,2}:[0-9]{2}:[0-9]{2}"
    r"(?:[.,][0-9]+)?(?:Z|[+-][0-9]{2}:[0-9]{2})?\]?"
    r"|[0-9]+\.[0-9]+)(?:\s+|$)",
    re.IGNORECASE,
)
_CAN_LOG = re.compile(r"^(?:\w{1,15}\s+)?([0-9A-F]{3}|[0-9A-F]{8})#(\S*)(?:\s+[TR])?$")
_CAN_VIEW = re.compile(
    r"^(?:\w{1,15}\s+)?([0-9A-F]{3}|[0-9A-F]{8})\s+\[([0-9]{1,2})\]\s*+([0-9A-F ]*)$"
)
_NUMBERED = re.compile(r"^([0-9A-F])\s*:\s*+([0-9A-F\s]+)$")
_SEARCHING = re.compile(r"^SEARCHING\s*\.*\s*")
_WORDS = re.compile(r"^(?:NO DATA|OK|\?|BUS INIT: ?\.*(?:OK)?|UNABLE TO CONNECT)$")
_GREETING = re.compile(r"^(?=.*[G-Z])[A-Z0-9][A-Z0-9 _./-]* V?[0-9]+\.[0-9][0-9A-Z.]*$")
_ANSWER = re.compile(
    r"\s?[#;].*\b(?:7E[89A-F]|18DAF1[0-9A-F]{2})(?:\s+[0-9A-F]{2}){2}", re.DOTALL
)
_SETTING = re.compile(r"^AT ?[A-Z][A-Z0-9 @]*$")
_HEX = re.compile(r"[0-9A-F]+")
_LONG_ID = re.compile(r"18D[AB][0-9A-F]{4}")
_PLAIN = re.compile(r"(7E[89A-F]|18DAF1[0-9A-F]{2})((?: [0-9A-F]{2}){1,8})")
_TESTER = re.compile(r"7DF|7E[0-7]|18DB33F1|18DA(?!F1)[0-9A-F]{2}F1")
_RESPONDER = re.compile(r"7E[89A-F]|18DAF1[0-9A-F]{2}")
_ID, _LONG, _BYTES = 3, 8, 8
_ID_FRAME, _LONG_FRAME = _ID + 2 * _BYTES, _LONG + 2 * _BYTES
_NEGATIVE = 6
ANSWERS = frozenset({*range(0x41, 0x4B), 0x54, 0x59, 0x62, services.NEGATIVE})
"""First bytes of answers that are read: ISO 15031-5:2006 clause 7; ISO 14229-1 (from
memory) for codes to clear and to list, and for data by identifier."""
_REQUEST_BYTES = {
    0x01: (2, 7),
    0x02: (2, 7),
    0x03: (1, 1),
    0x04: (1, 1),
    0x05: (2, 3),
    0x06: (2, 7),
    0x07: (1, 1),
    0x08: (2, 7),
    0x09: (2, 7),
    0x0A: (1, 1),
}


@dataclass(frozen=True, slots=True)
class TranscriptProblem:
    """A line that could not be read as it stands; line 0 is the whole text.

    ``is_second_word`` marks codes or a self-test that a responder gave otherwise
    before; ``is_mark`` that it is VIN, calibration or count (service 09).
    """

    line: int
    responder: str | None
    problem: str
    is_second_word: bool = False
    is_mark: bool = False


@dataclass(frozen=True, slots=True)
class Frame:
    """One CAN frame of a responder, with its protocol control byte."""

    line: int
    responder: str
    data: bytes


@dataclass(frozen=True, slots=True)
class AssembledAnswer:
    """One whole answer, already reassembled by the tool that captured it."""

    line: int
    responder: str
    data: bytes


@dataclass(frozen=True, slots=True)
class Request:
    """A request. It ends what is still awaited from ``responder`` (None: from all).

    ``data`` are its bytes where they stand alone; none where they were not told.
    """

    line: int
    responder: str | None
    data: bytes = b""


Item = Frame | AssembledAnswer | Request


@dataclass(frozen=True, slots=True)
class Transcript:
    """What a text holds, in order, with what was noted and what was refused.

    ``left_out`` are lines that nothing was made of, with what stands there: an answer
    in a comment, or what is not readable.
    """

    items: tuple[Item, ...]
    notes: tuple[str, ...]
    problems: tuple[TranscriptProblem, ...]
    left_out: tuple[tuple[int, str], ...] = ()


class _RefusedError(Exception):
    """A line is not readable; the message says why."""


@lru_cache(maxsize=16)  # a readout is decoded, and its fingerprint taken
def read(text: str) -> Transcript:
    """Return the frames, payloads and requests that ``text`` holds."""
    reader = _Reader()
    for number, line in enumerate(re.split(r"\r\n|\r|\n", text), start=1):
        reader.take(number, line)
    reader.end()
    return Transcript(
        tuple(reader.items),
        tuple(reader.notes),
        tuple(reader.problems),
        tuple(sorted([*reader.commented, *reader.unread])),
    )


def is_request(data: bytes) -> bool:
    """Return whether bytes have the shape of an OBD request (ISO 15031-5:2006, 7)."""
    low, high = _REQUEST_BYTES.get(data[0], (1, 0)) if data else (1, 0)
    return low <= len(data) <= high or uds.is_request(data)


@dataclass(slots=True)
class _Reader:
    items: list[Item] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    problems: list[TranscriptProblem] = field(default_factory=list)
    foreign: set[str] = field(default_factory=set)
    commented: list[tuple[int, str]] = field(default_factory=list)
    unread: list[tuple[int, str]] = field(default_factory=list)
    length: tuple[int, int] | None = None  # line and value of a length line

    def take(self, number: int, line: str) -> None:
        """Read one line into items, notes or problems."""
        # The commonest line by far; what it takes needs none of the rest.
        if plain := _PLAIN.fullmatch(line):
            self._drop_length()
            self.items.append(Frame(number, plain[1], bytes.fromhex(plain[2])))
            return
        text = _COMMENT.sub("", line.removeprefix("\ufeff")).strip()
        if (told := _COMMENT.search(line)) and _ANSWER.match(told[0].upper()):
            self.commented.append((number, told[0].upper()))
        text = _STAMP.sub("", text).strip().upper()
        prompted = text.startswith(">")
        text = text.strip("> \t")
        if text.startswith("SEARCHING"):
            self.notes.append(f"line {number}: SEARCHING")
            text = _SEARCHING.sub("", text)
        if not text:
            return
        if _WORDS.match(text) or _SETTING.match(text) or _GREETING.match(text):
            self.notes.append(f"line {number}: {text}")
            return
        try:
            self._data(number, text, prompted=prompted)
        except _RefusedError as why:
            self._unreadable(number, None, str(why), text)

    def end(self) -> None:
        """Close the text: nothing may be left waiting."""
        self._drop_length()
        if self.commented:
            lines = ", ".join(str(number) for number, _ in self.commented[:5])
            more = ", ..." if len(self.commented) > 5 else ""
            many = plural(len(self.commented), "answer stands", "answers stand")
            self.notes.append(f"{many} in comments, left out: line {lines}{more}")
        if self.foreign:
            ids = ", ".join(sorted(self.foreign))
            self.notes.append(f"other traffic on the bus was not read: {ids}")

    def _data(self, number: int, text: str, *, prompted: bool) -> None:
        numbered = _NUMBERED.match(text)
        if numbered is None:
            self._drop_length()
        if numbered:
            self._segment(number, int(numbered[1], 16), numbered[2])
        elif logged := _CAN_LOG.match(text):
            self._logged(number, logged[1], logged[2])
        elif viewed := _CAN_VIEW.match(text):
            self._viewed(number, viewed)
        elif len(text) == _ID and _HEX.fullmatch(text):
            self.length = (number, int(text, 16))
        else:
            self._line(number, text, prompted=prompted)

    def _line(self, number: int, text: str, *, prompted: bool) -> None:
        tokens = text.split()
        if not all(_HEX.fullmatch(token) for token in tokens):
            shown = text if len(text) <= 40 else f"{text[:40]}..."
            raise _RefusedError(f"neither hex bytes nor a known word: {shown!r}")
        if _counted_request(tokens):
            self.items.append(Request(number, None))
            return
        for can_id, digits in split_ids(tokens):
            if can_id is None:
                self._payload(number, _to_bytes(digits), prompted=prompted)
            else:
                self._frame(number, can_id, digits)

    def _payload(self, number: int, data: bytes, *, prompted: bool) -> None:
        if kline.is_message(data):
            self._bus_message(number, data)
        elif is_request(data) or (prompted and data[0] < 0x40):
            self.items.append(Request(number, None, data))
        elif data[0] not in ANSWERS:
            told = f"{data[0]:02X} begins neither a request nor an answer"
            raise _RefusedError(f"no responder id, and {told}")
        else:
            self.items.append(AssembledAnswer(number, UNKNOWN, data))

    def _bus_message(self, number: int, data: bytes) -> None:
        """Read a message with header and check byte, of a bus before CAN."""
        try:
            found = kline.message(data)
        except MalformedError as why:
            raise _RefusedError(str(why)) from why
        if found.responder is None:
            self.items.append(Request(number, None))
        else:
            self.items.append(AssembledAnswer(number, found.responder, found.payload))

    def _frame(self, number: int, can_id: str, digits: str) -> None:
        data = _to_bytes(digits)
        if not data:
            self._problem(number, can_id, "an id without bytes")
        elif _RESPONDER.fullmatch(can_id) and len(data) > _BYTES:
            told = f"{len(data)} bytes in one CAN frame"
            self._unreadable(number, can_id, told, data.hex(" ").upper())
        elif _RESPONDER.fullmatch(can_id):
            self.items.append(Frame(number, can_id, data))
        elif not _TESTER.fullmatch(can_id):
            self._unreadable(
                number, can_id, "not the id of an OBD responder", data.hex(" ").upper()
            )
        elif data[0] >> 4 == 0 and is_request(data[1 : 1 + data[0]]):
            asked = data[1 : 1 + data[0]]
            self.items.append(Request(number, _answerer(can_id), asked))

    def _logged(self, number: int, can_id: str, digits: str) -> None:
        if not (_RESPONDER.fullmatch(can_id) or _TESTER.fullmatch(can_id)):
            self.foreign.add(can_id)
        elif digits and not _HEX.fullmatch(digits):
            self._problem(number, can_id, "not a classic CAN data frame")
        else:
            self._frame(number, can_id, digits)

    def _viewed(self, number: int, viewed: re.Match[str]) -> None:
        digits = viewed[3].replace(" ", "")
        if len(digits) != 2 * int(viewed[2]):
            self._problem(number, viewed[1], "the byte count is not the bytes'")
        else:
            self._logged(number, viewed[1], digits)

    def _segment(self, number: int, index: int, digits: str) -> None:
        data = _to_bytes("".join(digits.split()))
        if self.length is None:
            head = bytes([0x20 | index])
        elif index == 0:
            length = self.length[1]
            head = bytes([0x10 | length >> 8, length & 0xFF])
            self.length = None
        else:
            self._drop_length()
            head = bytes([0x20 | index])
        self.items.append(Frame(number, UNKNOWN, head + data))

    def _drop_length(self) -> None:
        if self.length is not None:
            line, value = self.length
            told = "three digits alone, with no 0: line after them"
            if _RESPONDER.fullmatch(f"{value:03X}"):
                self._unreadable(line, None, told, f"{value:03X}")
            else:
                self._problem(line, None, told)
            self.length = None

    def _unreadable(
        self, number: int, responder: str | None, what: str, text: str
    ) -> None:
        self._problem(number, responder, what)
        self.unread.append((number, text))

    def _problem(self, number: int, responder: str | None, what: str) -> None:
        self.problems.append(TranscriptProblem(number, responder, what))


def _counted_request(tokens: list[str]) -> bool:
    """Return whether a request stands there with an answer-count digit after it."""
    digits = "".join(tokens)
    if len(digits) % 2 == 0 or not digits.startswith("0") or len(digits) <= _ID:
        return False
    return is_request(bytes.fromhex(digits[:-1]))


def split_ids(tokens: list[str]) -> list[tuple[str | None, str]]:
    """Return (id, hex digits) for each frame of a line; id None is a bare payload."""
    if _LONG_ID.fullmatch("".join(tokens[:4])) and len(tokens[0]) == 2:
        return _units("".join(tokens), _LONG, _LONG_FRAME)
    found: list[tuple[str | None, list[str]]] = []
    for token in tokens:
        started = _started(token, found[-1][0] if found else None, bool(found))
        if started:
            found.extend((can_id, [digits]) for can_id, digits in started)
        elif not found:
            found.append((None, [token]))
        else:
            found[-1][1].append(token)
    return [(can_id, "".join(digits)) for can_id, digits in found]


def _started(
    token: str,
    current: str | None,
    inside: bool,  # noqa: FBT001
) -> list[tuple[str | None, str]]:
    """Return the frames that a token starts; none where it carries on."""
    size = len(token)
    bare = inside and current is None
    if size >= _LONG and _LONG_ID.match(token):
        if inside and (bare or len(current or "") == _ID):
            raise _RefusedError(f"{token[:_LONG]} may be an id or bytes")
        return _units(token, _LONG, _LONG_FRAME)
    if size == _ID or (size % 2 and token.startswith("7")):
        if bare:
            raise _RefusedError(f"{token} after bytes that have no responder id")
        return _units(token, _ID, _ID_FRAME)
    if size % 2:
        raise _RefusedError(f"an odd number of hex digits in {token[:40]!r}")
    if token.startswith("7E") and size > _NEGATIVE and not inside:
        return _even_run(token)
    return []


def _even_run(token: str) -> list[tuple[str | None, str]]:
    if _is_run(token):
        return _units(token, _ID, _ID_FRAME)
    raise _RefusedError("may be an id with half a byte missing or bytes without an id")


def _is_run(token: str) -> bool:
    """Return whether a run of digits is whole 11-bit frames of eight bytes."""
    return len(token) % _ID_FRAME == 0 and all(
        token[at] == "7" for at in range(0, len(token), _ID_FRAME)
    )


def _units(token: str, head: int, whole: int) -> list[tuple[str | None, str]]:
    starts = range(0, len(token), whole)
    mark = token[: 4 if head == _LONG else 1]
    if len(token) > whole and not all(token.startswith(mark, at) for at in starts):
        return [(token[:head], token[head:])]
    return [(token[at : at + head], token[at + head : at + whole]) for at in starts]


def _answerer(can_id: str) -> str | None:
    """Return the id that answers a physical request; None for a functional one."""
    if can_id in {"7DF", "18DB33F1"}:
        return None
    if len(can_id) == _ID:
        return f"{int(can_id, 16) + 8:03X}"
    return f"18DAF1{can_id[4:6]}"


def _to_bytes(digits: str) -> bytes:
    if len(digits) % 2:
        raise _RefusedError("an odd number of hex digits")
    return bytes.fromhex(digits)
