"""By which names and addresses this machine is reached, and sockets that listen there.

The machine's own system is asked; no packet is sent.
"""

from __future__ import annotations

import errno
import socket
from contextlib import ExitStack, contextmanager, suppress
from ipaddress import IPv4Address, IPv6Address, ip_address
from typing import TYPE_CHECKING

from auditkit.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

Address = IPv4Address | IPv6Address
LOOPBACK: tuple[Address, ...] = (ip_address("127.0.0.1"), ip_address("::1"))
# Documentation addresses (RFC 5737, RFC 3849): a route to them is the default route.
_ELSEWHERE = ((socket.AF_INET, "192.0.2.1"), (socket.AF_INET6, "2001:db8::1"))


def own_addresses() -> tuple[Address, ...]:
    """Return this machine's addresses in its networks, none of them loopback."""
    found: list[str] = []
    for family, elsewhere in _ELSEWHERE:
        with (
            suppress(OSError),
            socket.socket(family, socket.SOCK_DGRAM) as asking,
        ):
            asking.connect((elsewhere, 9))  # a datagram socket: nothing is sent
            found.append(asking.getsockname()[0])
    with suppress(OSError):
        found += [
            str(at[0])
            for *_, at in socket.getaddrinfo(socket.gethostname(), None)
            if "%" not in str(at[0])  # a link's own address, of use on that link alone
        ]
    addresses = (ip_address(text) for text in dict.fromkeys(found))
    return tuple(a for a in addresses if not (a.is_loopback or a.is_link_local))


def own_names() -> tuple[str, ...]:
    """Return this machine's name, and the one that tablets find it by (RFC 6762)."""
    name = socket.gethostname().lower()
    if not name.isascii() or name == "localhost":
        return ()
    return (name,) if "." in name else (name, f"{name}.local")


@contextmanager
def listening(addresses: Iterable[Address], port: int) -> Iterator[list[socket.socket]]:
    """Yield a socket that listens at each address; they are closed after use.

    Raises InputError where the port is taken, or an address is not of this machine. A
    machine without IPv6 has no ``::1``: that address is left out.
    """
    with ExitStack() as opened:
        yield [
            opened.enter_context(one)
            for address in dict.fromkeys(addresses)
            if (one := _listening(address, port)) is not None
        ]


def _listening(address: Address, port: int) -> socket.socket | None:
    is_six = isinstance(address, IPv6Address)
    family = socket.AF_INET6 if is_six else socket.AF_INET
    try:
        made = socket.socket(family, socket.SOCK_STREAM)
    except OSError:
        if address in LOOPBACK and is_six:
            return None
        raise
    try:
        made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        if is_six:
            made.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_V6ONLY, 1)
        made.bind((str(address), port))
        made.listen(128)
    except OSError as error:
        made.close()
        if error.errno == errno.EADDRNOTAVAIL and address in LOOPBACK and is_six:
            return None
        raise _refused(error, address, port) from error
    return made


def _refused(error: OSError, address: Address, port: int) -> InputError:
    where = f"{written(address)}:{port}"
    if error.errno == errno.EADDRINUSE:
        return InputError(
            f"another program listens at port {port} already",
            where=where,
            what_to_do="stop it, or choose another with --port",
        )
    return InputError(
        f"the bay cannot listen there: {error.strerror}",
        where=where,
        what_to_do="choose another port with --port, such as 8750; look at the "
        "machine's network",
    )


def written(address: Address) -> str:
    """Return an address as it stands in a URL (RFC 3986 3.2.2)."""
    return f"[{address}]" if isinstance(address, IPv6Address) else str(address)


def urls(scheme: str, places: Sequence[str | Address], port: int) -> tuple[str, ...]:
    """Return the URL of each name or address."""
    return tuple(
        f"{scheme}://{place if isinstance(place, str) else written(place)}:{port}/"
        for place in places
    )
