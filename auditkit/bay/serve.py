"""Serving the bay's pages: one process, one log, until it is told to stop."""

from __future__ import annotations

from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING

import uvicorn

from auditkit.bay.drafts import Drafts
from auditkit.bay.pages.app import make_app
from auditkit.bay.pages.desk import Desk
from auditkit.bay.signed_in import SignIns
from auditkit.bay.unlocked import KeyOpener
from auditkit.bay.writer import LogWriter
from auditkit.log import key_files, open_log

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path

    from auditkit.log.sealing import Clock
    from auditkit.order.catalogue import Catalogue
    from auditkit.order.instruments import RegisteredInstrument
    from auditkit.order.policy import Policy
    from auditkit.proof.keys import SigningKey


@dataclass(frozen=True, slots=True)
class Place:
    """Where the bay is reached: an address of this machine and a port."""

    host: str
    port: int
    hosts: tuple[str, ...] = ("127.0.0.1", "localhost", "::1")


@contextmanager
def desk_of(  # noqa: PLR0913  what a bay needs, each by its name
    log: Path,
    *,
    log_key: SigningKey,
    catalogue: Catalogue,
    policy: Policy,
    register: Mapping[str, RegisteredInstrument],
    is_secure: bool = False,
    clock: Clock = open_log.now,
) -> Iterator[Desk]:
    """Open a log for its bay; it is written to its end, and closed, after use."""
    with LogWriter(log, log_key, clock=clock) as writer, Drafts(log) as drafts:
        sign_ins = SignIns(KeyOpener(key_files.folder_of(log)), writer.enrolment)
        yield Desk(
            writer=writer,
            sign_ins=sign_ins,
            drafts=drafts,
            catalogue=catalogue,
            policy=policy,
            log_key=log_key,
            register=register,
            is_secure=is_secure,
        )


def server(
    desk: Desk, place: Place, tls: tuple[Path, Path] | None = None
) -> uvicorn.Server:
    """Return the server of a desk; ``tls`` are the files of certificate and key."""
    config = uvicorn.Config(
        make_app(desk, place.hosts),
        host=place.host,
        port=place.port,
        loop="asyncio",
        http="h11",
        log_level="warning",
        access_log=False,
        server_header=False,
        ssl_certfile=tls and tls[0],
        ssl_keyfile=tls and tls[1],
        timeout_graceful_shutdown=2,
    )
    return uvicorn.Server(config)
