"""The invented vehicle on a CAN bus, with faults on demand.

Frames after ISO 15765-2:2004, ids after ISO 15765-4:2005. ``Simulation`` has no clock
and no thread: it is told the time. ``SimulatedVehicle`` runs one in a thread on a
virtual bus of python-can.
"""

from __future__ import annotations

import heapq
import threading
import time
from dataclasses import dataclass, field
from types import TracebackType
from typing import TYPE_CHECKING, Self

if TYPE_CHECKING:
    from auditkit_demo.vehicle import Module

FUNCTIONAL, FUNCTIONAL_EXTENDED = 0x7DF, 0x18DB33F1
WAIT_FOR_FLOW = 0.075  # N_Bs of ISO 15765-4:2005 Table 6, in seconds

_FIRST_ANSWER = 0x7E8


@dataclass(frozen=True, slots=True)
class Fault:
    """What goes wrong in one module's answers to a request (hex; None: to any).

    ``times`` is how often; None for ever. Frames are numbered from 0 within a message:
    those in ``drop`` are lost, those in ``repeat`` sent twice, and that of ``skip``
    carries a sequence number one too high. ``extra`` frames follow a message.
    ``delay`` seconds pass before an answer. ``refuse`` is a response code sent instead.
    """

    module: int = 0
    request: str | None = None
    times: int | None = None
    drop: frozenset[int] = frozenset()
    repeat: frozenset[int] = frozenset()
    skip: int | None = None
    extra: int = 0
    delay: float = 0.0
    silent: bool = False
    refuse: int | None = None


_NONE = Fault(module=-1)


@dataclass(slots=True)
class Simulation:
    """The vehicle's modules on a bus whose time is told; ``pop`` gives what they send.

    With ``mingle`` the modules send at the same time, frame by frame.
    """

    modules: list[Module]
    faults: tuple[Fault, ...] = ()
    extended: bool = False
    mingle: bool = False
    cvn_seconds: float = 0.2
    sent: list[tuple[float, int, int, bytes]] = field(default_factory=list)
    waiting: dict[int, tuple[float, list[bytes]]] = field(default_factory=dict)
    used: dict[Fault, int] = field(default_factory=dict)
    count: int = 0

    def answers_on(self, module: int) -> int:
        """Return the id on which a module answers."""
        return (0x18DAF110 if self.extended else _FIRST_ANSWER) + module

    def hears_on(self, module: int) -> int:
        """Return the id on which a module alone is asked."""
        if self.extended:
            return 0x18DA00F1 | (0x10 + module) << 8
        return _FIRST_ANSWER - 8 + module

    def take(self, can_id: int, data: bytes, now: float) -> None:
        """Hear one frame of a tool at a time in seconds."""
        everyone = FUNCTIONAL_EXTENDED if self.extended else FUNCTIONAL
        for number in range(len(self.modules)):
            if can_id == everyone or can_id == self.hears_on(number):
                if data[0] >> 4 == 0:
                    self._asked(number, data[1 : 1 + data[0]], now)
                elif data[0] == 0x30 and can_id != everyone:
                    self._go(number, now)

    def next_at(self) -> float | None:
        """Return when the next frame is sent; None where none waits."""
        return self.sent[0][0] if self.sent else None

    def pop(self) -> tuple[int, bytes]:
        """Return the next frame: id and bytes."""
        _, _, can_id, data = heapq.heappop(self.sent)
        return can_id, data

    def _asked(self, number: int, request: bytes, now: float) -> None:
        module = self.modules[number]
        answer = module.answer(request) if request else None
        if answer is None:
            return
        fault = self._fault(number, request)
        if request[0] == 0x04:
            self.modules[number] = module.cleared()
        if fault.silent:
            return
        at = now + 0.002 + fault.delay + (0 if self.mingle else 0.003 * number)
        if fault.refuse is not None:
            self._send(number, bytes([3, 0x7F, request[0], fault.refuse]), at)
            return
        if request == b"\x09\x06" and not number and self.cvn_seconds:
            self._send(number, b"\x03\x7f\x09\x78", at)
            at += self.cvn_seconds
        first, *rest = _frames(answer, fault)
        for data in first:
            self._send(number, data, at)
        if rest:
            self.waiting[number] = (
                at + WAIT_FOR_FLOW,
                [data for group in rest for data in group],
            )

    def _go(self, number: int, now: float) -> None:
        """Send the rest of a message that waited for its flow control."""
        until, frames = self.waiting.pop(number, (now, []))
        for place, data in enumerate(frames, start=1):
            if now <= until:
                gap = 0.002 if self.mingle else 0.0002
                self._send(number, data, now + gap * place)

    def _send(self, number: int, data: bytes, at: float) -> None:
        self.count += 1
        frame = data.ljust(8, b"\xaa")
        heapq.heappush(self.sent, (at, self.count, self.answers_on(number), frame))

    def _fault(self, number: int, request: bytes) -> Fault:
        for fault in self.faults:
            used = self.used.get(fault, 0)
            if (
                fault.module == number
                and fault.request in {None, request.hex().upper()}
                and (fault.times is None or used < fault.times)
            ):
                self.used[fault] = used + 1
                return fault
        return _NONE


def _frames(payload: bytes, fault: Fault) -> list[list[bytes]]:
    """Return a message frame by frame; a faulty frame is there twice or not at all."""
    if len(payload) < 8:
        whole = [bytes([len(payload)]) + payload]
    else:
        whole = [bytes([0x10 | len(payload) >> 8, len(payload) & 0xFF]) + payload[:6]]
        pieces = [payload[at : at + 7] for at in range(6, len(payload), 7)]
        pieces += [bytes(7)] * fault.extra
        whole += [
            bytes([0x20 | (n + (n == fault.skip)) & 0x0F]) + piece
            for n, piece in enumerate(pieces, start=1)
        ]
    return [
        [data] * (0 if n in fault.drop else 2 if n in fault.repeat else 1)
        for n, data in enumerate(whole)
    ]


class SimulatedVehicle:
    """A simulation in a thread on a virtual bus; a context manager.

    An error of the thread is raised on leaving.
    """

    def __init__(self, channel: str, simulation: Simulation) -> None:
        self.channel = channel
        self.simulation = simulation
        self._stop = threading.Event()
        self._error: Exception | None = None
        self._ready = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)

    def __enter__(self) -> Self:
        self._thread.start()
        self._ready.wait()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._stop.set()
        self._thread.join()
        if self._error is not None:
            raise self._error

    def _run(self) -> None:
        try:
            self._serve()
        except Exception as error:  # noqa: BLE001  raised again on leaving
            self._error = error
        finally:
            self._ready.set()

    def _serve(self) -> None:
        import can

        with can.Bus(interface="virtual", channel=self.channel) as bus:
            self._ready.set()
            while not self._stop.is_set():
                at = self.simulation.next_at()
                wait = 0.02 if at is None else min(at - time.monotonic(), 0.02)
                heard = bus.recv(max(wait, 0.0))
                if heard is not None:
                    self.simulation.take(
                        heard.arbitration_id, bytes(heard.data), time.monotonic()
                    )
                at = self.simulation.next_at()
                if at is not None and at <= time.monotonic():
                    can_id, data = self.simulation.pop()
                    bus.send(
                        can.Message(
                            arbitration_id=can_id,
                            data=data,
                            is_extended_id=self.simulation.extended,
                        )
                    )
