"""A connection to the bay has a deadline, and an address has few of them.

Whoever sends a byte now and then would hold a place for ever: uvicorn's own timer runs
between requests only. Nobody in a shop needs more; the numbers are our own choice.
"""

from __future__ import annotations

import socket
from asyncio import AbstractEventLoop, TimerHandle, Transport
from collections import Counter
from typing import TYPE_CHECKING, Any, ClassVar

from uvicorn.protocols.http.h11_impl import H11Protocol

if TYPE_CHECKING:
    from uvicorn.config import Config
    from uvicorn.protocols.http.h11_impl import RequestResponseCycle
    from uvicorn.server import ServerState

HEAD = 10.0  # seconds from the first byte of a request until its head is there
WHOLE = 120.0  # seconds until all of it is; a photograph over a weak network fits
AT_ONCE = 32  # connections of one address; a browser opens six to one place


class Connection(H11Protocol):
    """A connection that is closed where its request does not come in time."""

    at_once: ClassVar[int] = AT_ONCE
    head: ClassVar[float] = HEAD
    whole: ClassVar[float] = WHOLE

    def __init__(
        self,
        config: Config,
        server_state: ServerState,
        app_state: dict[str, Any],
        _loop: AbstractEventLoop | None = None,
    ) -> None:
        super().__init__(config, server_state, app_state, _loop)
        self._deadline: TimerHandle | None = None
        self._begun: object | None = None

    def connection_made(self, transport: Transport) -> None:  # type: ignore[override]
        """Take a place; close at once where this address has all of its own."""
        super().connection_made(transport)
        held = Counter(
            one.client[0]
            for one in self.connections
            if isinstance(one, Connection) and one.client is not None
        )
        if self.client is not None and held[self.client[0]] > self.at_once:
            transport.abort()
            return
        _at_once(transport)
        self._until(self.head)

    def data_received(self, data: bytes) -> None:
        """Take bytes of a request; once its head came, all of it has longer."""
        if self._deadline is None:
            self._until(self.head)
        super().data_received(data)
        cycle: RequestResponseCycle | None = self.cycle
        if cycle is None:
            return
        is_new, self._begun = cycle is not self._begun, cycle
        if is_new and cycle.more_body:
            self._until(self.whole)
        elif not cycle.more_body and (is_new or not cycle.response_complete):
            self._at_ease()  # it is whole: what takes longer now is ours

    def connection_lost(self, exc: Exception | None) -> None:
        """Give the place back."""
        super().connection_lost(exc)
        self._at_ease()

    def _at_ease(self) -> None:
        if self._deadline is not None:
            self._deadline.cancel()
            self._deadline = None

    def _until(self, seconds: float) -> None:
        self._at_ease()
        self._deadline = self.loop.call_later(seconds, self._late)

    def _late(self) -> None:
        self._deadline = None
        self.transport.abort()


def _at_once(transport: Transport) -> None:
    """Send what is written without waiting to be told that what came before arrived.

    A page's head and body are written one after the other; a peer that puts off its
    acknowledgement (RFC 1122 section 4.2.3.2) would make each wait 40 ms and more.
    """
    found = transport.get_extra_info("socket")
    if found is not None and found.family in {socket.AF_INET, socket.AF_INET6}:
        found.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
