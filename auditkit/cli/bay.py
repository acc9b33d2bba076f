"""``bay``: the page in the shop on which a repair is recorded as it happens."""

from __future__ import annotations

from contextlib import suppress
from ipaddress import ip_address
from pathlib import Path
from typing import TYPE_CHECKING

import click

from auditkit.cli import common, passphrases
from auditkit.cli.beside_log import (
    POLICY,
    REGISTERS,
    policy_path,
    register_path,
    say_taken,
)
from auditkit.errors import InputError
from auditkit.log.ledger import Ledger
from auditkit.plugin.loading import load_plugins

if TYPE_CHECKING:
    from collections.abc import Sequence

    from auditkit.bay.addresses import Address
    from auditkit.bay.certificate import BayCertificate
    from auditkit.bay.pages.desk import Desk

_TRUST = (
    "A tablet's browser warns, since nobody but this computer vouches for the "
    "certificate: go on only where the one that it shows has this SHA-256 fingerprint. "
    "To be asked no more, install {authority} on the tablet as a trusted authority: it "
    "can speak for this bay alone."
)


@click.command("bay")
@click.option("--port", type=click.IntRange(1, 65535), default=8750, show_default=True)
@click.option(
    "--lan",
    is_flag=True,
    help="Serve to tablets in the shop's network too, over TLS alone.",
)
@click.option(
    "--name",
    "also",
    multiple=True,
    help="With --lan: a name or an address by which tablets reach this computer, "
    "beside those that it knows itself. Again for more.",
)
@click.option(
    "--can",
    "cables",
    multiple=True,
    metavar="INTERFACE:CHANNEL",
    help="Read vehicles over this CAN interface, as socketcan:can0, from the page.",
)
@click.option(
    "--bitrate",
    type=click.IntRange(10_000, 1_000_000),
    default=500_000,
    show_default=True,
    help="Bits a second of it.",
)
@click.option("--extended", is_flag=True, help="Use 29-bit ids on it.")
@click.option(
    "--simulated",
    is_flag=True,
    help="Read the invented vehicle of the demo, to try it.",
)
@common.log_option
@common.instruments_option
@common.policy_option
@common.passphrase_option
def bay_command(
    port: int,
    lan: bool,
    also: tuple[str, ...],
    cables: tuple[str, ...],
    bitrate: int,
    extended: bool,
    simulated: bool,
    log: Path,
    register: Path | None,
    policy_file: Path | None,
    passphrase_file: Path | None,
) -> None:
    """Serve the page on which a repair is recorded, to a browser on this computer.

    Whoever starts it unlocks the log's key, which signs a checkpoint after each step.
    With --lan tablets in the shop's network reach it too, over TLS, by a certificate
    that is made at the first start and kept beside the log. Ctrl-C stops it: what was
    taken on is written first.

    Example: auditkit bay --lan
    """
    try:
        from auditkit.bay.pages.desk import KeptBeside
        from auditkit.bay.serve import desk_of
        from auditkit.capture.interface import cable_of, need_can, simulated_cables
    except ModuleNotFoundError as error:
        raise missing(error) from error
    if also and not lan:
        raise InputError(
            "names are for tablets, and this computer alone is served",
            where="--name",
            what_to_do="give --lan too, or leave it out",
        )
    found = [cable_of(name, bitrate, extended=extended) for name in cables]
    if simulated:
        found += simulated_cables()
    if found:
        need_can()
    of_register, of_policy = register_path(log, register), policy_path(log, policy_file)
    say_taken(of_register, register, "--instruments")
    say_taken(of_policy, policy_file, "--policy")
    kept = KeptBeside(
        of_register or log.parent / REGISTERS[0], of_policy or log.parent / POLICY
    )
    policy = common.read_policy(kept.policy if kept.policy.exists() else None)
    known = common.read_register(kept.register if kept.register.exists() else None)
    plugins = load_plugins()
    with Ledger.open(log) as ledger:
        log_key = ledger.log_signer(passphrases.log_passphrase(passphrase_file))
    with desk_of(
        log,
        log_key=log_key,
        catalogue=plugins.catalogue,
        policy=policy,
        register=known,
        kept=kept,
        is_secure=lan,
        cables=found,
    ) as desk:
        if lan:
            _serve_tablets(desk, also, port)
        else:
            serve_here(desk, port)
    common.say("The bay has stopped: all that was taken on is in the log.")


def missing(error: ModuleNotFoundError) -> InputError:
    """Return what to raise where a library of the bay is not installed."""
    return InputError(
        f"the bay needs the library {error.name}, which is not installed",
        what_to_do="in the project's folder: pip install '.[bay]'",
    )


def serve_here(desk: Desk, port: int, *more: str) -> None:
    """Serve a desk to a browser on this computer, until told to stop."""
    from auditkit.bay.addresses import LOOPBACK, listening
    from auditkit.bay.serve import BayServer

    with listening(LOOPBACK, port) as sockets:
        common.say(f"{desk.shop}: open http://127.0.0.1:{port} in a browser here.")
        for line in more:
            common.say(f"    {line}")
        common.say("    Ctrl-C stops it.")
        BayServer(desk).serve_at(sockets)


def _serve_tablets(desk: Desk, also: Sequence[str], port: int) -> None:
    from auditkit.bay.addresses import (
        LOOPBACK,
        listening,
        own_addresses,
        own_names,
        urls,
    )
    from auditkit.bay.serve import HERE, BayServer, Secured

    own = own_addresses()
    if not own:
        raise InputError(
            "this computer has no address in a network",
            where="--lan",
            what_to_do="join the shop's network, or leave --lan out",
        )
    names, addresses = _places(also)
    # In one order, whatever the system's: the certificate stays while they do.
    names = tuple(sorted({*names, *own_names(), "localhost"}))
    addresses = tuple(sorted({*addresses, *own, *LOOPBACK}, key=str))
    with listening((*own, *LOOPBACK), port) as sockets:
        secured = Secured.of(desk, names, addresses)
        first, *more = urls("https", [*also, *own, *own_names()], port)
        common.say(f"{desk.shop}: open {first} on a tablet or here.")
        if more:
            common.say(f"    or {', '.join(more)}")
        _draw_code(first)
        common.say(f"    SHA-256 of the certificate: {secured.certificate.fingerprint}")
        trust = _TRUST.format(authority=secured.certificate.authority)
        common.say(f"    {trust}")
        common.say("    Ctrl-C stops it.")
        hosts = (*HERE, *names, *map(str, addresses))
        BayServer(desk, hosts, secured, _tell_renewed).serve_at(sockets)


def _places(also: Sequence[str]) -> tuple[tuple[str, ...], tuple[Address, ...]]:
    """Return what was given as names, and as addresses."""
    addresses: dict[str, Address] = {}
    for text in also:
        with suppress(ValueError):
            addresses[text] = ip_address(text)
    names = tuple(text.lower() for text in also if text not in addresses)
    for name in names:
        if not all(c.isalnum() or c in "-." for c in name) or not name.isascii():
            raise InputError(
                f"{name}: this is no name of a computer",
                where="--name",
                what_to_do="write it as tablets will, such as garage.local, no port",
            )
    return names, tuple(addresses.values())


def _draw_code(url: str) -> None:
    """Draw a QR code of an address on a terminal that is wide enough, if segno is."""
    import io

    try:
        import segno
    except ModuleNotFoundError:
        return
    code = segno.make_qr(url)
    columns = common.width()
    if columns is None or columns < code.symbol_size()[0]:
        return
    drawn = io.StringIO()
    code.terminal(drawn, compact=True)
    click.echo(drawn.getvalue())


def _tell_renewed(now: BayCertificate) -> None:
    common.say(
        f"The certificate was renewed. Its SHA-256 from now on: {now.fingerprint}"
    )
