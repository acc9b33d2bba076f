"""Judging files on a Dask cluster, on many hosts, their outcomes in their order.

The client reads the files and sends their bytes, so that no worker needs its folders,
nor sees another; the workers send rows back, and the client alone writes. Certificates
are those of Dask's own configuration: any of its authority is let in, whatever host it
names. A worker of another version, or with other rules, is refused. What a worker sends
is trusted as much as the machine that it runs on.
"""

from __future__ import annotations

import re
import socket
from collections import deque
from collections.abc import Iterator, Sequence
from contextlib import closing
from typing import TYPE_CHECKING, NamedTuple

from auditkit.errors import AuditkitError, InputError
from auditkit.fleet.judging import FoundFile, Outcome, judged_files, rules_sha256
from auditkit.fleet.pool import chunks, judged_one_by_one
from auditkit.fleet.terms import program
from auditkit.order.policy import Policy

if TYPE_CHECKING:
    from distributed import Client, Future

_AHEAD = 3  # chunks under way for each worker
_WAIT = 10  # seconds until a scheduler that does not answer is given up
_TLS = "distributed.comm.tls"
"""Where Dask's own configuration names certificates."""
_ADDRESS = re.compile(r"(?:tcp|tls)://([^/]+):([0-9]{1,5})")


class FromWorker(NamedTuple):
    """What a worker gives back: which program and rules it has, and outcomes."""

    program: str
    rules_sha256: bytes
    outcomes: list[Outcome]


def judged_there(files: Sequence[FoundFile], policy: Policy) -> FromWorker:
    """Return what files give, with what judged them: this runs on a worker."""
    return FromWorker(program(), rules_sha256(), judged_files(files, policy))


def judged_on_cluster(
    files: Iterator[FoundFile], policy: Policy, address: str
) -> Iterator[Outcome]:
    """Yield what each file gives; one that kills its worker is refused by name.

    Raises InputError where no scheduler answers at the address, or a worker judges by
    other rules, and AuditkitError where the cluster goes away.
    """
    with closing(_client(address)) as client:
        workers = len(client.scheduler_info(n_workers=-1)["workers"])
        if not workers:
            raise InputError(
                "this scheduler has no workers",
                where=address,
                what_to_do="start some: 'dask worker' with its address",
            )
        under_way: deque[tuple[list[FoundFile], Future[FromWorker]]] = deque()
        waiting = chunks(files)
        while True:
            while len(under_way) < workers * _AHEAD:
                chunk = next(waiting, None)
                if chunk is None:
                    break
                # By default, an answer is remembered by its arguments.
                done = client.submit(judged_there, chunk, policy, pure=False)
                under_way.append((chunk, done))
            if not under_way:
                return
            chunk, done = under_way.popleft()
            yield from _outcomes(chunk, done, policy, address)


def _client(address: str) -> Client:
    try:
        from distributed import Client
    except ImportError as error:
        raise InputError(
            f"a cluster needs the library {error.name}, which is not installed",
            where="--scheduler",
            what_to_do="pip install 'auditkit[cluster]'",
        ) from error
    _refuse_without_certificates(address)
    _reach(address)
    try:
        return Client(  # type: ignore[no-untyped-call]
            address, timeout=_WAIT, set_as_default=False
        )
    except OSError as error:
        raise _nobody(address) from error


def _nobody(address: str) -> InputError:
    return InputError(
        "no scheduler answers there",
        where=address,
        what_to_do="write it as the scheduler prints it: tcp://HOST:PORT or "
        "tls://HOST:PORT, with certificates of the same authority",
    )


def _refuse_without_certificates(address: str) -> None:
    """Raise InputError where Dask's own configuration does not fit the address."""
    from distributed.security import Security

    try:
        security = Security()  # type: ignore[no-untyped-call]
        given = security.get_connection_args("client")  # type: ignore[no-untyped-call]
    except (OSError, ValueError) as error:
        raise InputError(
            f"the certificates that Dask's configuration names cannot be used: {error}",
            where=_TLS,
            what_to_do="check ca-file, and cert and key of the client",
        ) from error
    if address.startswith("tls:") and given.get("ssl_context") is None:
        raise InputError(
            "there is no certificate to reach it with",
            where=address,
            what_to_do="name ca-file, and cert and key of the client, in Dask's "
            f"configuration ({_TLS})",
        )
    if address.startswith("tcp:") and security.require_encryption:
        raise InputError(
            "Dask's configuration asks for TLS",
            where=address,
            what_to_do="write it as tls://HOST:PORT",
        )


def _reach(address: str) -> None:
    """Raise InputError where nobody listens at an address.

    A client that found nobody is closed by the library when it is collected, perhaps
    while another begins: both then wait for each other. So none is made.
    """
    found = _ADDRESS.fullmatch(address)
    if found is None:
        raise _nobody(address)
    host, port = found[1].strip("[]"), int(found[2])
    try:
        socket.create_connection((host, port), timeout=_WAIT).close()
    except (OSError, ValueError, OverflowError) as error:
        raise _nobody(address) from error


def _outcomes(
    chunk: Sequence[FoundFile], done: Future[FromWorker], policy: Policy, address: str
) -> Iterator[Outcome]:
    from distributed import KilledWorker

    try:
        found = done.result()
    except KilledWorker:
        # One of them is to blame: each by itself, in a process here.
        yield from judged_one_by_one(chunk, policy)
        return
    except Exception as error:
        raise AuditkitError(
            f"the cluster did not answer ({type(error).__name__})",
            where=address,
            what_to_do="look at its workers, then give the command again: what is "
            "committed is kept",
        ) from error
    finally:
        done.release()  # type: ignore[no-untyped-call]
    if (found.program, found.rules_sha256) != (program(), rules_sha256()):
        raise InputError(
            f"a worker judges by {found.program} and other rules than {program()} here",
            where=address,
            what_to_do="install the same auditkit and the same plugins on all workers",
        )
    yield from found.outcomes
