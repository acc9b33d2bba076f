"""Serving the bay's pages: one process, one log, until it is told to stop."""

from __future__ import annotations

import asyncio
import gc
import signal
import threading
from collections.abc import Callable, Iterable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from typing import TYPE_CHECKING, ClassVar

import uvicorn

from auditkit.bay.certificate import BayCertificate, bay_certificate
from auditkit.bay.connections import HEAD, Connection
from auditkit.bay.drafts import Drafts
from auditkit.bay.live_reading import LiveReader
from auditkit.bay.pages.app import make_app
from auditkit.bay.pages.desk import Desk, KeptBeside
from auditkit.bay.signed_in import SignIns
from auditkit.bay.unlocked import KeyOpener
from auditkit.bay.writer import LogWriter
from auditkit.log import key_files, open_log

if TYPE_CHECKING:
    from collections.abc import Generator, Mapping
    from pathlib import Path
    from socket import socket

    from auditkit.bay.addresses import Address
    from auditkit.capture.interface import Cable
    from auditkit.log.sealing import Clock
    from auditkit.order.catalogue import Catalogue
    from auditkit.order.instruments import RegisteredInstrument
    from auditkit.order.policy import Policy
    from auditkit.proof.keys import SigningKey

HERE = ("127.0.0.1", "localhost", "::1")
"""By which names a browser on this computer asks."""
_AT_ONCE = 200  # connections in all
_HEAD_BYTES = 32 * 1024  # of a request's head
_TICK = 0.1  # seconds; uvicorn's own
_EACH = 30.0  # seconds between looks at who has been idle
_DAY = 864_000  # ticks after which uvicorn counts anew: a day
_COLLECTS = (2000, 10, 500)
"""When Python looks for what only refers to itself: seldom among all that there is.

That look takes a tenth of a second, in which nobody is answered; by Python's own
numbers it comes every few seconds where many work. Little is left for it: what nobody
refers to is freed at once.
"""


@contextmanager
def desk_of(  # noqa: PLR0913  what a bay needs, each by its name
    log: Path,
    *,
    log_key: SigningKey,
    catalogue: Catalogue,
    policy: Policy,
    register: Mapping[str, RegisteredInstrument],
    kept: KeptBeside | None = None,
    is_secure: bool = False,
    cables: Iterable[Cable] = (),
    clock: Clock = open_log.now,
) -> Iterator[Desk]:
    """Open a log for its bay; it is written to its end, and closed, after use.

    Over ``cables`` a vehicle can be read from its pages. ``kept`` says in which files
    a manager's choices are kept, else beside the log.
    """
    with (
        LogWriter(log, log_key, clock=clock) as writer,
        Drafts(log) as drafts,
        closing(LiveReader(cables)) as live,
    ):
        sign_ins = SignIns(KeyOpener(key_files.folder_of(log)), writer.enrolment)
        yield Desk(
            writer=writer,
            sign_ins=sign_ins,
            drafts=drafts,
            catalogue=catalogue,
            policy=policy,
            log_key=log_key,
            register=register,
            kept=kept or KeptBeside.of(log),
            is_secure=is_secure,
            live=live,
        )


@dataclass(frozen=True, slots=True)
class Secured:
    """The certificate under which a bay is reached, and for what it was made."""

    log: Path
    names: tuple[str, ...]
    addresses: tuple[Address, ...]
    certificate: BayCertificate

    @classmethod
    def of(
        cls, desk: Desk, names: tuple[str, ...], addresses: tuple[Address, ...]
    ) -> Secured:
        """Return the certificate beside a desk's log, made or renewed where due."""
        at, log = datetime.fromisoformat(desk.at()), desk.writer.path
        found = bay_certificate(log, names, addresses, at=at)
        return cls(log, names, addresses, found)

    def renewed(self, desk: Desk) -> Secured:
        """Return it as it is now: made anew where it would soon end."""
        return self.of(desk, self.names, self.addresses)


@contextmanager
def _seldom_collected() -> Iterator[None]:
    """Leave what was loaded so far out of Python's collections, and have fewer."""
    before = gc.get_threshold()
    gc.freeze()
    gc.set_threshold(*_COLLECTS)
    try:
        yield
    finally:
        gc.set_threshold(*before)
        gc.unfreeze()


class BayServer(uvicorn.Server):
    """Serves a desk until Ctrl-C or SIGTERM, and then returns.

    ``tell`` is called with the new certificate where it was renewed while it ran.
    ``handshake`` is how long a connection may take until it speaks TLS, in seconds.
    """

    handshake: ClassVar[float] = HEAD

    def __init__(
        self,
        desk: Desk,
        hosts: tuple[str, ...] = HERE,
        secured: Secured | None = None,
        tell: Callable[[BayCertificate], object] = lambda _: None,
    ) -> None:
        super().__init__(
            uvicorn.Config(
                make_app(desk, hosts),
                loop="asyncio",
                http=Connection,
                ws="none",
                lifespan="off",
                log_level="warning",
                access_log=False,
                server_header=False,
                proxy_headers=False,  # nobody stands between: an address is an address
                ssl_certfile=secured.certificate.chain if secured else None,
                ssl_keyfile=secured.certificate.key if secured else None,
                limit_concurrency=_AT_ONCE,
                timeout_keep_alive=5,
                h11_max_incomplete_event_size=_HEAD_BYTES,
                timeout_graceful_shutdown=2,
            )
        )
        self._desk = desk
        self._secured = secured
        self._tell = tell

    def serve_at(self, sockets: list[socket]) -> None:
        """Serve at sockets that listen, until told to stop."""
        with _seldom_collected():
            self.run(sockets=sockets)

    async def startup(self, sockets: list[socket] | None = None) -> None:
        """Begin to listen; who speaks no TLS in time is cut off, as in plain text."""
        loop = asyncio.get_running_loop()
        made = loop.create_server
        if self.config.ssl is not None:  # uvicorn hands no such time on
            loop.create_server = partial(  # type: ignore[method-assign]
                made, ssl_handshake_timeout=self.handshake
            )
        try:
            await super().startup(sockets)
        finally:
            loop.create_server = made  # type: ignore[method-assign]

    async def on_tick(self, counter: int) -> bool:
        """Forget the keys of who is idle; look each day whether the certificate ends.

        A tablet that was put away asks nothing any more.
        """
        if counter % int(_EACH / _TICK) == 0:
            self._desk.sign_ins.lock_idle()
        if counter == _DAY - 1:
            self.renew()
        return await super().on_tick(counter)

    def renew(self) -> None:
        """Take a new certificate for new connections where the old one soon ends."""
        if self._secured is None or self.config.ssl is None:
            return
        now = self._secured.renewed(self._desk)
        if now.certificate != self._secured.certificate:
            self.config.ssl.load_cert_chain(now.certificate.chain, now.certificate.key)
            self._secured = now
            self._tell(now.certificate)

    @contextmanager
    def capture_signals(self) -> Generator[None, None, None]:
        """Stop by a signal, and return: what was taken on is still to be written.

        uvicorn would raise the signal again, which ends the process before that.
        """
        if threading.current_thread() is not threading.main_thread():
            yield
            return
        stops = (signal.SIGINT, signal.SIGTERM)
        before = {one: signal.signal(one, self.handle_exit) for one in stops}
        try:
            yield
        finally:
            for one, handler in before.items():
                signal.signal(one, handler)
