"""Connections of a server that strangers reach: bounded in number and in time.

A client that sends a byte now and then must not keep others out. So a request has one
deadline for all of it, from the wait for its first byte on, and one address has few of
the places.
"""

from __future__ import annotations

import io
import ipaddress
import sys
import threading
import time
from collections import Counter
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import socket

MAX_CONNECTIONS = 32
PER_ADDRESS = 8
TIMEOUT = 10.0  # seconds for a whole request
_IPV6_SITE = 64  # bits: whoever has one address of such a network has them all


class PatientReader(io.RawIOBase):
    """What a client sends, until a deadline; then TimeoutError, however it drips."""

    def __init__(self, connection: socket.socket) -> None:
        self._connection = connection
        self._until = 0.0

    def begin(self, seconds: float) -> None:
        """Begin a request, which has so many seconds."""
        self._until = time.monotonic() + seconds

    def readable(self) -> bool:
        """Return True: it is there to be read."""
        return True

    def readinto(self, buffer: Any) -> int:  # noqa: ANN401  as the base class has it
        """Read what is there; raise TimeoutError after the deadline."""
        left = self._until - time.monotonic()
        if left <= 0:
            raise TimeoutError
        self._connection.settimeout(left)
        return self._connection.recv_into(buffer)


class BoundedServer(ThreadingHTTPServer):
    """A server with few places, of which one address has fewer still.

    Connections beyond them are closed at once. An IPv6 address counts as its network
    of 64 bits.
    """

    daemon_threads = True
    request_queue_size = MAX_CONNECTIONS

    def __init__(
        self,
        address: tuple[str, int],
        handler: type[BaseHTTPRequestHandler],
        *,
        per_address: int = PER_ADDRESS,
    ) -> None:
        self._per_address = per_address
        self._taken: Counter[str] = Counter()
        self._lock = threading.Lock()
        super().__init__(address, handler)

    def process_request(self, request: Any, client_address: Any) -> None:  # noqa: ANN401  as the base class has it
        """Give the connection a place, or close it."""
        if not self._take(_network(client_address)):
            self.shutdown_request(request)
            return
        try:
            super().process_request(request, client_address)
        except RuntimeError:  # no thread can be started
            self._leave(_network(client_address))
            self.shutdown_request(request)

    def process_request_thread(self, request: Any, client_address: Any) -> None:  # noqa: ANN401  as the base class has it
        """Serve the connection, and give its place back."""
        try:
            super().process_request_thread(request, client_address)
        finally:
            self._leave(_network(client_address))

    def handle_error(self, request: Any, client_address: Any) -> None:  # noqa: ANN401  as the base class has it
        """Say nothing where a client went away; show every other fault."""
        if not isinstance(sys.exception(), OSError):
            super().handle_error(request, client_address)

    def _take(self, network: str) -> bool:
        with self._lock:
            if (
                self._taken.total() >= MAX_CONNECTIONS
                or self._taken[network] >= self._per_address
            ):
                return False
            self._taken[network] += 1
            return True

    def _leave(self, network: str) -> None:
        with self._lock:
            self._taken[network] -= 1
            if not self._taken[network]:
                del self._taken[network]


def _network(client_address: tuple[str, int]) -> str:
    host = ipaddress.ip_address(client_address[0].partition("%")[0])
    if host.version == 4:  # IPv4
        return str(host)
    return str(ipaddress.ip_network((host, _IPV6_SITE), strict=False))
