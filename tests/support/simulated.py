"""A bus whose time only passes while someone waits: no thread, no sleeping."""

from dataclasses import dataclass, field

import can
from auditkit_demo.simulation import Fault, Simulation
from auditkit_demo.vehicle import modules

from auditkit.capture.result import Capture, Timing
from auditkit.capture.session import capture


@dataclass
class SteppedBus:
    """A python-can bus on one side, a simulated vehicle on the other."""

    simulation: Simulation
    now: float = 100.0
    sent: list[can.Message] = field(default_factory=list)

    def clock(self) -> float:
        return self.now

    def send(self, msg: can.Message, timeout: float | None = None) -> None:
        self.sent.append(msg)
        self.simulation.take(msg.arbitration_id, bytes(msg.data), self.now)

    def recv(self, timeout: float | None = None) -> can.Message | None:
        at = self.simulation.next_at()
        until = self.now + (timeout or 0.0)
        if at is None or at > until:
            self.now = until
            return None
        self.now = max(self.now, at)
        can_id, data = self.simulation.pop()
        return can.Message(
            arbitration_id=can_id,
            data=data,
            is_extended_id=self.simulation.extended,
            timestamp=self.now,
        )


def read(
    *faults: Fault,
    state: str = "before",
    timing: Timing | None = None,
    **options: bool,
) -> tuple[Capture, SteppedBus]:
    """Return a capture of the simulated vehicle, and its bus."""
    bus = SteppedBus(Simulation(list(modules(state)), faults, **options))
    got = capture(
        bus,
        started=1_700_000_000,
        clock=bus.clock,
        timing=timing,
        extended=options.get("extended", False),
    )
    return got, bus
