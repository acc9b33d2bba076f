"""A bay whose clock a test moves, that is stopped and started at the same address."""

from contextlib import ExitStack
from datetime import datetime, timedelta

from bay_desk import desk_over
from bay_served import HERE, free_port, served


class Clock:
    """A clock that stands still until it is moved."""

    def __init__(self, begins):
        self.now = datetime.fromisoformat(begins)

    def __call__(self):
        return self.now

    def pass_(self, **by):
        """Let time pass; ``by`` as ``timedelta`` has it."""
        self.now += timedelta(**by)


class Bay:
    """A bay of a log; ``more`` as ``desk_over`` has it."""

    def __init__(self, path, clock, passphrase, catalogue, **more):
        self.clock = clock
        self._log = (path, passphrase, catalogue)
        self._more = {**more, "clock": clock}
        self._port = free_port()
        self._running = ExitStack()
        self.url = f"http://{HERE}:{self._port}"

    def start(self):
        """Serve it."""
        self.desk = self._running.enter_context(desk_over(*self._log, **self._more))
        self._running.enter_context(served(self.desk, port=self._port))

    def stop(self):
        """End it."""
        self._running.close()
