"""What a capture gives back."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class RequestOutcome(StrEnum):
    """How a request ended."""

    ANSWERED = "answered"
    SILENT = "silent"
    REFUSED = "refused"
    BROKEN = "broken"


@dataclass(frozen=True, slots=True)
class Timing:
    """How long to wait, in seconds.

    ``window``: P2 of 50 ms and a margin for the interface; ``pending``: P2* after a
    negative answer 78; ``gap``: N_Cr between frames; ``total``: the whole capture.
    """

    window: float = 0.075
    pending: float = 5.0
    gap: float = 0.15
    total: float = 60.0


@dataclass(frozen=True, slots=True)
class SentRequest:
    """One request and what became of it.

    ``broken`` stands above ``answered``, and that above ``refused``: where modules
    differ, ``notes`` says which did what. ``missing`` holds the modules that had to
    answer by their own support maps and did not.
    """

    request: str
    outcome: RequestOutcome
    responders: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Capture:
    """What was sent and received; ``decode(text)`` is the readout.

    ``text`` holds a line ``(seconds) can0 ID#BYTES`` for each of ``frames`` frames and
    ``sha256`` is its digest. ``unasked`` holds what the time limit left unasked.
    """

    text: str
    frames: int
    asked: tuple[SentRequest, ...]
    unasked: tuple[str, ...]
    notes: tuple[str, ...]
    sha256: str

    @property
    def responders(self) -> tuple[str, ...]:
        """The modules that answered at least once."""
        return tuple(sorted({who for one in self.asked for who in one.responders}))

    @property
    def faults(self) -> tuple[SentRequest, ...]:
        """The requests whose last asking ended broken or with a module missing."""
        last = {one.request: one for one in self.asked}
        return tuple(
            one
            for one in last.values()
            if one.outcome is RequestOutcome.BROKEN or one.missing
        )
