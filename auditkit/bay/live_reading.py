"""A vehicle that is read while a page watches: in a thread, one reading a cable.

A reading that somebody began is recorded when it ends, whatever became of the page:
what the vehicle said once is not thrown away because something else was hoped for.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from threading import Event, Lock, Thread
from typing import TYPE_CHECKING

from auditkit.capture.session import capture
from auditkit.errors import AuditkitError, InputError

if TYPE_CHECKING:
    from auditkit.capture.interface import Cable
    from auditkit.capture.result import Capture, SentRequest

Finish = Callable[["Capture"], tuple[int, ...]]
"""Records what was captured; returns the entries."""


@dataclass
class Reading:
    """One reading, under way or over.

    ``asked`` grows as it is asked; ``wanted`` is how many requests are known to be.
    When it is over, there is what was captured with its ``entries``, or an ``error``.
    """

    order: str
    person: str
    cable: Cable
    begun_at: str
    asked: list[SentRequest] = field(default_factory=list)
    wanted: int = 1
    captured: Capture | None = None
    entries: tuple[int, ...] = ()
    error: AuditkitError | None = None
    is_over: bool = False
    clock: Callable[[], float] = time.monotonic
    _stopped: Event = field(default_factory=Event)
    _thread: Thread | None = None

    def stop(self) -> None:
        """Ask nothing more; what came is kept."""
        self._stopped.set()

    def wait(self) -> None:
        """Wait until it is over."""
        if self._thread is not None:
            self._thread.join()

    @property
    def count(self) -> int:
        """How many of the wanted requests were asked."""
        return len({one.request for one in self.asked})

    def begin(self, finish: Finish, done: Callable[[], None]) -> None:
        """Begin it; ``done`` is called when it is over."""

        def run() -> None:
            try:
                self._read(finish)
            except AuditkitError as error:
                self.error = error
            except BaseException as error:
                self.error = InputError(
                    f"the reading broke off: {error}", what_to_do="read again"
                )
                raise
            finally:
                self.is_over = True
                done()

        self._thread = Thread(target=run, name="vehicle reader")
        self._thread.start()

    def _read(self, finish: Finish) -> None:
        def told(one: SentRequest, wanted: int) -> None:
            self.asked.append(one)
            self.wanted = max(self.wanted, wanted)

        with self.cable.open() as bus:
            got = capture(
                bus,
                started=time.time(),
                extended=self.cable.extended,
                clock=self.clock,
                told=told,
                goes_on=lambda: not self._stopped.is_set(),
            )
        if not got.responders:
            raise InputError(
                "no module answered",
                what_to_do="check the cable, the ignition and the bit rate, and read "
                "again; nothing was recorded",
            )
        self.captured = got
        self.entries = finish(got)


class LiveReader:
    """The cables of a bay, and what is read over them; from any thread.

    ``clock`` counts seconds from any start.
    """

    def __init__(
        self, cables: Iterable[Cable] = (), clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._clock = clock
        self.cables = {cable.name: cable for cable in cables}
        self._running: dict[str, Reading] = {}
        self._last: dict[str, Reading] = {}
        self._lock = Lock()

    def begin(
        self, name: str, reading_of: tuple[str, str, str], finish: Finish
    ) -> None:
        """Begin to read over a cable; ``reading_of`` is order, person and time now.

        Raises InputError for no cable of this bay, and where one is under way on it.
        """
        cable = self.cables.get(name)
        if cable is None:
            raise InputError(
                "this bay has no such cable", what_to_do="open the page anew"
            )
        order, person, at = reading_of
        with self._lock:
            if name in self._running:
                other = self._running[name]
                raise InputError(
                    f"{other.person} reads {other.order} over {name} right now",
                    what_to_do="wait until that is over, or stop it there",
                )
            made = Reading(order, person, cable, at, clock=self._clock)
            self._running[name] = self._last[order] = made
            made.begin(finish, lambda: self._done(name))

    def _done(self, name: str) -> None:
        with self._lock:
            self._running.pop(name, None)

    def of(self, order: str) -> Reading | None:
        """Return the last reading of an order since the bay was started."""
        with self._lock:
            return self._last.get(order)

    def close(self) -> None:
        """Stop every reading, and wait until what came is recorded."""
        with self._lock:
            running = list(self._running.values())
        for one in running:
            one.stop()
        for one in running:
            one.wait()
