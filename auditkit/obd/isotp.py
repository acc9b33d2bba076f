"""Frames -> whole messages, after ISO 15765-2:2004 (first nibble 0, 1, 2, 3).

One reassembly per responder; responders may interleave. A message with a lost, repeated
or reordered frame is dropped with a problem and never put in order: evidence that had
to be repaired is no evidence. Bytes past the stated length are padding of any value.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from typing import TYPE_CHECKING

from auditkit.obd.transcript import (
    AssembledAnswer,
    Frame,
    Request,
    TranscriptProblem,
    read,
)

if TYPE_CHECKING:
    from collections.abc import Iterable

    from auditkit.obd.transcript import Item

_SINGLE, _FIRST, _CONSECUTIVE, _FLOW = range(4)
_FRAME = 8
_SINGLE_MOST = 7
_MOST = 4095


@dataclass(frozen=True, slots=True)
class Message:
    """One whole answer of one responder; ``line`` is where it began."""

    line: int
    responder: str
    data: bytes


@dataclass(slots=True)
class _Run:
    """The state of one responder: a message under way, and the one just ended."""

    line: int = 0
    length: int = 0  # 0: none under way
    data: bytearray = field(default_factory=bytearray)
    sequence: int = 0
    ended: int | None = None  # place of the message that the last frame completed
    broken: bool = False  # frames are swallowed: their message is already reported


@dataclass(slots=True)
class _Assembler:
    messages: list[Message | None] = field(default_factory=list)
    problems: list[TranscriptProblem] = field(default_factory=list)
    runs: dict[str, _Run] = field(default_factory=dict)

    def take(self, item: Item) -> None:
        if isinstance(item, Request):
            self.request(item.responder)
            return
        run = self.runs.setdefault(item.responder, _Run())
        if isinstance(item, AssembledAnswer):
            self._whole(run, item, item.data)
        else:
            self._frame(run, item)

    def request(self, responder: str | None) -> None:
        """Report what is unfinished: an answer does not go on after a new request."""
        names = list(self.runs) if responder is None else [responder]
        for name in names:
            if (run := self.runs.pop(name, None)) is not None:
                self._unfinished(name, run)

    def _frame(self, run: _Run, frame: Frame) -> None:
        kind = frame.data[0] >> 4
        if len(frame.data) > _FRAME:
            self._break(run, frame, f"{len(frame.data)} bytes in one CAN frame")
        elif kind == _SINGLE:
            self._single(run, frame)
        elif kind == _FIRST:
            self._first(run, frame)
        elif kind == _CONSECUTIVE:
            self._consecutive(run, frame)
        elif kind != _FLOW:
            self._break(run, frame, f"{frame.data[0]:02X} begins no frame of ISO-TP")

    def _single(self, run: _Run, frame: Frame) -> None:
        length = frame.data[0]
        if not 1 <= length <= _SINGLE_MOST:
            self._break(run, frame, f"a single frame of length {length}")
        elif length > len(frame.data) - 1:
            self._break(run, frame, "a single frame shorter than its length")
        else:
            self._whole(run, frame, frame.data[1 : 1 + length])

    def _whole(self, run: _Run, item: Frame | AssembledAnswer, data: bytes) -> None:
        self._unfinished(item.responder, run)
        self.runs[item.responder] = _Run()
        if len(data) > _MOST:
            what = f"{len(data)} bytes are more than one message holds"
            self._problem(item.line, item.responder, what)
        else:
            self.messages.append(Message(item.line, item.responder, data))

    def _first(self, run: _Run, frame: Frame) -> None:
        if len(frame.data) != _FRAME:
            self._break(run, frame, "a first frame that has not eight bytes")
            return
        length = (frame.data[0] & 0x0F) << 8 | frame.data[1]
        if length <= _SINGLE_MOST:
            self._break(run, frame, f"a first frame of length {length}")
        elif run.length:
            # The next frames may belong to either message: both are given up.
            self._break(run, frame, "a new first frame before the message ended")
        else:
            self.runs[frame.responder] = _Run(
                frame.line, length, bytearray(frame.data[2:]), 1
            )

    def _consecutive(self, run: _Run, frame: Frame) -> None:
        if run.broken:
            return
        if not run.length:
            self._surplus(run, frame)
            return
        sequence = frame.data[0] & 0x0F
        if sequence != run.sequence:
            what = f"frame {sequence:X} came where frame {run.sequence:X} was due"
            self._break(run, frame, what)
            return
        missing = run.length - len(run.data)
        piece = frame.data[1 : 1 + missing]
        if len(piece) < min(missing, _FRAME - 1):
            self._break(run, frame, "a consecutive frame with bytes missing")
            return
        run.data += piece
        run.sequence = (sequence + 1) & 0x0F
        if len(run.data) == run.length:
            self.messages.append(Message(run.line, frame.responder, bytes(run.data)))
            self.runs[frame.responder] = _Run(ended=len(self.messages) - 1)

    def _surplus(self, run: _Run, frame: Frame) -> None:
        if run.ended is None:
            self._break(run, frame, "a consecutive frame without a first frame")
            return
        self.messages[run.ended] = None
        what = "more frames than the message's length; the message is dropped"
        self._break(run, frame, what)

    def _break(self, run: _Run, frame: Frame, what: str) -> None:
        dropped = f"; the message begun on line {run.line} is dropped"
        self._problem(
            frame.line, frame.responder, what + (dropped if run.length else "")
        )
        self.runs[frame.responder] = _Run(broken=True)

    def _unfinished(self, responder: str, run: _Run) -> None:
        if run.length:
            what = f"message not finished: {len(run.data)} of {run.length} bytes"
            self._problem(run.line, responder, what)

    def _problem(self, line: int, responder: str, what: str) -> None:
        self.problems.append(TranscriptProblem(line, responder, what))


@lru_cache(maxsize=16)  # as the transcripts are kept
def messages_in(
    text: str,
) -> tuple[tuple[Message, ...], tuple[TranscriptProblem, ...]]:
    """Return the messages and the problems of a text of answers; see ``reassemble``."""
    return reassemble(read(text).items)


def reassemble(
    items: Iterable[Item],
) -> tuple[tuple[Message, ...], tuple[TranscriptProblem, ...]]:
    """Return the messages that came whole and in order, and the problems."""
    assembler = _Assembler()
    for item in items:
        assembler.take(item)
    assembler.request(None)
    whole = tuple(m for m in assembler.messages if m is not None)
    return whole, tuple(assembler.problems)
