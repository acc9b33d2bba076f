"""Reading a vehicle over a CAN interface: requests out, every frame kept as text.

Ids and timing after ISO 15765-4:2005 (clauses 6.3 and 7, Tables 3 to 7) and ISO
15031-5:2006 (Table 5); framing after ISO 15765-2:2004. A request goes out as one
padded frame to all modules at once; each module that answers in several frames gets a
flow control on its own id. Answers are collected for a fixed window and never cut at
the first. Nothing is asked that changes the vehicle's memory.

The bus is any object with python-can's ``send`` and ``recv``.
"""

from __future__ import annotations

import hashlib
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Protocol

from auditkit.capture import ids, plan
from auditkit.capture.plan import PositiveAnswer
from auditkit.capture.result import Capture, RequestOutcome, SentRequest, Timing
from auditkit.errors import InputError
from auditkit.obd import isotp, services
from auditkit.obd.transcript import Frame

if TYPE_CHECKING:
    from can import Message

MOST_FRAMES = 20_000
"""A vehicle that sends more than this is not read to the end."""

_FRAME = 8
_FIRST_BYTES, _NEXT_BYTES = 6, 7
_LEAST_LONG = 8  # bytes of a message that does not fit a single frame
_PENDING = 0x78
_GO = bytes.fromhex("300000")  # flow control: send all, without a pause
_REFUSAL_BYTES = 3
_MOST_LATE = 2_000  # most frames read after a window: a busy bus never falls silent


class Bus(Protocol):
    """What is used of a python-can bus."""

    def send(self, msg: Message, timeout: float | None = None) -> None:
        """Send one frame."""

    def recv(self, timeout: float | None = None) -> Message | None:
        """Return the next frame; None where none came within ``timeout`` seconds."""


def capture(  # noqa: PLR0913  the clock and the wall time come from outside
    bus: Bus,
    *,
    started: float,
    extended: bool = False,
    timing: Timing | None = None,
    clock: Callable[[], float] = time.monotonic,
    told: Callable[[SentRequest, int], None] | None = None,
    goes_on: Callable[[], bool] = lambda: True,
) -> Capture:
    """Read a vehicle and return all that was said.

    ``started`` is the wall time in seconds at the beginning; ``clock`` counts seconds
    from any start. A request that ended broken, or without a module that had to answer,
    is asked once more, and both askings are kept. ``told`` is given each asking, with
    how many requests are known to be wanted; ``goes_on`` is asked whether to go on.
    Raises ``InputError`` where the interface fails before a module answered; after
    that, what came is kept and the rest is unasked.
    """
    session = _Session(bus, extended, timing or Timing(), clock, started, goes_on)
    asked: list[SentRequest] = []
    heard: dict[str, tuple[PositiveAnswer, ...]] = {}
    try:
        _ask_all(session, asked, heard, told)
    except InputError as error:
        if not any(one.responders for one in asked):
            raise
        session.ended = error.message
    unasked = tuple(one for one in plan.wanted_requests(heard) if one not in heard)
    return session.result(tuple(asked), unasked)


def _ask_all(
    session: _Session,
    asked: list[SentRequest],
    heard: dict[str, tuple[PositiveAnswer, ...]],
    told: Callable[[SentRequest, int], None] | None,
) -> None:
    session.quieten()
    while (request := plan.next_request(heard)) is not None and session.has_time():
        answers = dict[PositiveAnswer, None]()
        for _ in range(2):
            one, got = session.ask(request, heard)
            answers |= dict.fromkeys(got)
            asked.append(one)
            if told is not None:
                told(one, len(plan.wanted_requests({**heard, request: tuple(answers)})))
            if not _ask_again(request, one) or not session.has_time():
                break
        if session.has_time():  # else the limit may have cut the answers short
            heard[request] = tuple(answers)


def _ask_again(request: str, one: SentRequest) -> bool:
    silent = request == plan.FIRST and one.outcome is RequestOutcome.SILENT
    return silent or bool(one.missing) or one.outcome is RequestOutcome.BROKEN


@dataclass(slots=True)
class _Module:
    """One responder within one request: how long it may still be waited for."""

    until: float = 0.0
    due: int = 0  # consecutive frames of a message under way
    pending: bool = False


@dataclass(slots=True)
class _Session:
    bus: Bus
    extended: bool
    timing: Timing
    clock: Callable[[], float]
    started: float
    goes_on: Callable[[], bool]
    ended: str = ""  # why it ended before all was asked
    begun: float = 0.0
    lines: list[str] = field(default_factory=list)
    frames: list[Frame] = field(default_factory=list)  # of the request under way
    modules: dict[str, _Module] = field(default_factory=dict)
    other: int = 0
    errors: int = 0
    testers: int = 0

    def __post_init__(self) -> None:
        self.begun = self.clock()

    @property
    def end(self) -> float:
        return self.begun + self.timing.total

    def has_time(self) -> bool:
        if not self.ended and not self.goes_on():
            self.ended = "it was stopped"
        is_in_time = self.clock() < self.end and len(self.lines) < MOST_FRAMES
        return not self.ended and is_in_time

    def quieten(self) -> None:
        """Throw away what the interface held from before."""
        while self.has_time() and self._receive(0.0) is not None:
            self.other += 1

    def ask(
        self, request: str, heard: plan.AnswersSoFar
    ) -> tuple[SentRequest, tuple[PositiveAnswer, ...]]:
        """Send a request and collect its answers."""
        self.frames, self.modules = [], {}
        data = bytes.fromhex(request)
        everyone = ids.FUNCTIONAL_EXTENDED if self.extended else ids.FUNCTIONAL
        self._send(everyone, bytes([len(data)]) + data)
        window = self.clock() + self.timing.window
        late = 0
        while self.has_time() and late < _MOST_LATE:
            left = max([window, *(m.until for m in self.modules.values())])
            wait = min(left, self.end) - self.clock()
            message = self._receive(max(wait, 0.0))
            # What already waits in the interface came in time, however late we are.
            late += wait <= 0
            if message is not None:
                self._take(message)
            elif wait <= 0:
                break
        return self._judged(request, heard)

    def _send(self, can_id: int, data: bytes) -> None:
        from can import CanError, Message

        frame = data.ljust(_FRAME, b"\0")
        message = Message(
            arbitration_id=can_id, data=frame, is_extended_id=self.extended
        )
        try:
            self.bus.send(message, timeout=1.0)
        except (CanError, OSError) as error:
            raise InputError(
                f"the interface could not send: {error}",
                what_to_do="check the cable, the ignition and the bit rate",
            ) from error
        self._record(_name(message), frame)

    def _receive(self, timeout: float) -> Message | None:
        from can import CanError

        try:
            return self.bus.recv(timeout)
        except (CanError, OSError) as error:
            raise InputError(
                f"the interface stopped: {error}",
                what_to_do="check the cable, and read again",
            ) from error

    def _record(self, name: str, data: bytes) -> None:
        at = self.started + self.clock() - self.begun
        self.lines.append(f"({at:.6f}) can0 {name}#{data.hex().upper()}")

    def _take(self, message: Message) -> None:
        """Keep a frame of a responder; count every other."""
        name = _name(message)
        if message.is_error_frame:
            self.errors += 1
        elif (
            message.is_remote_frame
            or message.is_fd
            or not message.is_rx
            or message.is_extended_id != self.extended
            or not message.data
        ):
            self.other += 1
        elif ids.is_tester(name):
            self.testers += 1
            self._record(name, bytes(message.data))
        elif ids.is_responder(name):
            data = bytes(message.data)
            self._record(name, data)
            self.frames.append(Frame(len(self.lines), name, data))
            self._follow(name, data)
        else:
            self.other += 1

    def _follow(self, name: str, data: bytes) -> None:
        """Note how long to wait for a responder after one of its frames."""
        module = self.modules.setdefault(name, _Module())
        kind, now = data[0] >> 4, self.clock()
        if kind == 0:
            module.pending = _is_pending(data)
            module.due = 0
            module.until = now + self.timing.pending if module.pending else 0.0
        elif kind == 1 and len(data) == _FRAME:
            length = (data[0] & 0x0F) << 8 | data[1]
            module.pending = False
            if length < _LEAST_LONG:
                return
            module.due = -(-(length - _FIRST_BYTES) // _NEXT_BYTES)
            self._send(ids.physical(name), _GO)
            module.until = self.clock() + self.timing.gap
        elif kind == 2:
            module.due = max(module.due - 1, 0)
            module.until = now + self.timing.gap if module.due else 0.0

    def _judged(
        self, request: str, heard: plan.AnswersSoFar
    ) -> tuple[SentRequest, tuple[PositiveAnswer, ...]]:
        """Return what the frames of a request say, each responder by itself."""
        messages, problems = isotp.reassemble(self.frames)
        answers: list[PositiveAnswer] = []
        refused: set[str] = set()
        notes = [f"{p.responder}: {p.problem}" for p in problems]
        broken = {p.responder for p in problems if p.responder}
        for message in messages:
            code = _refusal(request, message.data)
            if plan.is_answer(request, message.data):
                answers.append(PositiveAnswer(message.responder, message.data))
            elif code is None:
                began = message.data[:2].hex(" ").upper()
                notes.append(f"{message.responder}: {began} answers another request")
            elif code != _PENDING:
                refused.add(message.responder)
                _, why = services.refusal(message.data[1:])
                notes.append(f"{message.responder}: {why}")
        for name, module in self.modules.items():
            if module.pending:
                broken.add(name)
                notes.append(f"{name}: said that the answer is pending; none came")
        spoke = {answer.responder for answer in answers}
        known = plan.must_answer(request, heard)
        missing = known - spoke - refused - broken
        notes += [f"{name}: had to answer and was silent" for name in sorted(missing)]
        asked = SentRequest(
            request,
            _outcome(broken, spoke, refused),
            tuple(sorted(spoke)),
            tuple(sorted(missing)),
            tuple(notes),
        )
        return asked, tuple(answers)

    def result(
        self, asked: tuple[SentRequest, ...], unasked: tuple[str, ...]
    ) -> Capture:
        """Return everything, with what was counted on the way."""
        text = "".join(f"{line}\n" for line in self.lines)
        notes = []
        if self.ended:
            notes.append(f"{self.ended}: what came until then is kept")
        elif unasked:
            limit = f"{self.timing.total:g} s or {MOST_FRAMES} frames"
            notes.append(f"the limit of {limit} left requests unasked")
        for count, what in (
            (self.other, "frames of other kinds or ids were not kept"),
            (self.errors, "error frames were seen on the bus"),
            (self.testers, "requests were not ours: another tool is on the bus"),
        ):
            if count:
                notes.append(f"{count} {what}")
        digest = hashlib.sha256(text.encode()).hexdigest()
        return Capture(text, len(self.lines), asked, unasked, tuple(notes), digest)


def _outcome(broken: set[str], spoke: set[str], refused: set[str]) -> RequestOutcome:
    if broken:
        return RequestOutcome.BROKEN
    if spoke:
        return RequestOutcome.ANSWERED
    return RequestOutcome.REFUSED if refused else RequestOutcome.SILENT


def _refusal(request: str, data: bytes) -> int | None:
    """Return the code of a negative answer to a request; None for all else."""
    negative = bytes([services.NEGATIVE, int(request[:2], 16)])
    if data[:2] != negative or len(data) != _REFUSAL_BYTES:
        return None
    return data[2]


def _is_pending(data: bytes) -> bool:
    return data[:2] == b"\x03\x7f" and data[3:4] == bytes([_PENDING])


def _name(message: Message) -> str:
    return ids.id_text(message.arbitration_id, extended=message.is_extended_id)
