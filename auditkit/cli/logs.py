"""``list``, ``show``, ``packet``: the shop's log."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Mapping
from dataclasses import asdict
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from auditkit.cli import common
from auditkit.errors import AuditkitError, InputError, VerificationError
from auditkit.log.ledger import Ledger
from auditkit.order.policy import DEFAULT
from auditkit.output import listings
from auditkit.plugin.loading import load_catalogue
from auditkit.proof.check_packet import parse_packet
from auditkit.proof.disclosure import path_of
from auditkit.proof.entry import parse_payload
from auditkit.proof.note import checkpoint_text, parse_checkpoint
from auditkit.text.display_text import plural, quoted

if TYPE_CHECKING:
    from auditkit.log.logged_order import LoggedOrder, OrderLine
    from auditkit.proof.packet import Packet
    from auditkit.text.values import Json


_SHORTEST_VIN = 4  # characters of its end: our own choice
_NEWEST = 20  # repair orders that are listed unless more are asked for


def _date(_ctx: click.Context, _param: click.Parameter, given: str) -> str:
    """Return a date as events have it; InputError for what is none."""
    try:
        return date.fromisoformat(given).isoformat() if given else ""
    except ValueError as error:
        raise InputError(
            f"{quoted(given)} is no date",
            where="--day",
            what_to_do="write year, month and day, such as 2026-03-02",
        ) from error


def _vin(_ctx: click.Context, _param: click.Parameter, given: str) -> str:
    """Return a VIN, or its end; InputError for what is too short to tell vehicles."""
    if given and len(given.strip()) < _SHORTEST_VIN:
        raise InputError(
            f"{quoted(given)} is too short: many VINs may end so",
            where="--vin",
            what_to_do=f"give the last {_SHORTEST_VIN} characters at least",
        )
    return given


@click.command("list")
@click.argument("order", default="")
@click.option(
    "--vin",
    default="",
    metavar="VIN",
    callback=_vin,
    help="Only of a vehicle with this VIN, or whose VIN ends so (4 characters).",
)
@click.option(
    "--day",
    default="",
    metavar="YYYY-MM-DD",
    callback=_date,
    help="Only where the vehicle was taken in, read out or repaired on this day.",
)
@click.option(
    "--open",
    "only_open",
    is_flag=True,
    help="Only those not closed yet, or closed and waiting for a later readout.",
)
@click.option("--all", "every", is_flag=True, help="Not the 20 newest alone.")
@common.log_option
@common.format_option
def list_command(
    order: str,
    vin: str,
    day: str,
    only_open: bool,
    every: bool,
    log: Path,
    form: str,
) -> None:
    """List repair orders of the log, the newest last; those whose number begins so.

    Exit status 1 where none fits what was looked for.

    Example: auditkit list RO-10 --day 2026-03-02
    """
    most = None if every else _NEWEST
    with Ledger.open(log) as ledger:
        found = ledger.orders(
            starts=order,
            vin=vin,
            day=day,
            only_open=only_open,
            most=None if most is None else most + 1,
        )
    orders = found if most is None else found[-most:]
    if len(found) > len(orders):
        said = f"these are the newest {len(orders)}; --all lists the older ones too"
        click.echo(said, err=True)
    if form == "json":
        common.print_json([dataclasses.asdict(order) for order in orders])
    elif orders:
        common.print_table([_listed(order) for order in orders])
        common.print_lines(
            f"{order.id}: {order.problem}" for order in orders if order.problem
        )
    elif order or vin or day or only_open:
        common.say(f"{log}: no repair order fits; see 'auditkit list'")
    else:
        common.say(f"{log}: no repair order yet; see 'auditkit record'")
    if any(order.problem for order in orders):
        said = "not all of it is as it was signed; run 'auditkit verify' on it"
        raise VerificationError(said, where=str(log))
    if not orders and (order or vin or day or only_open):
        raise click.exceptions.Exit(1)


def _listed(order: OrderLine) -> tuple[str, ...]:
    if order.problem:
        where = f"entries {order.first_seq} to {order.last_seq}"
        return (order.id, "not as it was signed", "", where, "", "")
    return (
        order.id,
        (order.verdict or "open") + ", waiting" * order.waiting,
        plural(order.events, "event", "events"),
        f"entries {order.first_seq} to {order.last_seq}",
        order.opened_at[:10],
        order.vehicle,
    )


@click.command("show")
@click.argument("order")
@common.log_option
@common.format_option
def show_command(order: str, log: Path, form: str) -> None:
    """Show one repair order of the log.

    Example: auditkit show RO-1001
    """
    with Ledger.open(log) as ledger:
        found = ledger.show(order)
    if form == "json":
        entries = [
            {
                "seq": line.seq,
                "recorded_at": line.recorded_at,
                "signed_by": line.signed_by,
                "withheld": sum(1 for t in line.texts if t.state == "withheld"),
                "texts": [asdict(t) for t in line.texts],
                "attachment": line.attachment and asdict(line.attachment),
                "event": dict(line.event),
            }
            for line in found.lines
        ]
        verdict = found.verdict.get("verdict") if found.verdict else None
        common.print_json(
            {"repair_order": found.id, "verdict": verdict, "entries": entries}
        )
    else:
        lines = listings.order_lines(found, load_catalogue())
        common.print_lines([*lines[:-1], *_withheld(found), lines[-1]])


def _withheld(order: LoggedOrder) -> list[str]:
    """Return what a packet can be asked to disclose, by its paths."""
    held = sorted(
        {
            str(t.path)
            for line in order.lines
            for t in line.texts
            if t.state == "withheld"
        }
    )
    if not held:
        return []
    return [
        f"Withheld: {', '.join(held)}",
        f"    to give away: auditkit packet {order.id} --reveal PATH",
    ]


@click.command("packet")
@click.argument("order")
@click.option(
    "--out", type=click.Path(path_type=Path), help="Where to write it; else printed."
)
@click.option(
    "--reveal",
    multiple=True,
    metavar="PATH",
    help="Withheld text to give away, such as customer.name; * for all.",
)
@click.option(
    "--page",
    type=click.Path(path_type=Path),
    help="Write a page too that shows the packet, and carries it to be checked.",
)
@click.option(
    "--since",
    "since_files",
    multiple=True,
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="A checkpoint or a receipt that the reader holds: the packet then proves that "
    "the log only grew since.",
)
@click.option(
    "--with-attachments", is_flag=True, help="Put in the pictures kept beside the log."
)
@common.log_option
def packet_command(
    order: str,
    out: Path | None,
    reveal: tuple[str, ...],
    page: Path | None,
    since_files: tuple[Path, ...],
    with_attachments: bool,
    log: Path,
) -> None:
    """Write the packet of one closed repair order.

    Example: auditkit packet RO-1001 --out RO-1001.packet.json
    """
    for path in (out, page):
        if path is not None:
            common.refuse_existing(path)
    with Ledger.open(log) as ledger:
        since = [_since(path, ledger) for path in since_files]
        made = ledger.packet(
            order, reveal=reveal, since=since, with_attachments=with_attachments
        )
        held = (line.attachment for line in ledger.show(order).lines)
        kept = {file.sha256 for file in held if file and file.state == "kept"}
    if page is not None:
        from auditkit.reader.page.packet_page import packet_page

        common.write_new(page, packet_page(made, load_catalogue().bench_tests))
        said = "it shows the packet, and says how to check it"
        click.echo(f"{page}: page of {order} written; {said}", err=True)
    if out is None and page is None:
        common.print_exactly(made)
    elif out is None:
        return
    else:
        common.write_new(out, made)
        packet = parse_packet(made)
        told = ", ".join(_disclosed(packet)) or "no person"
        pictures = len(packet.attachments)
        carried = f" and carries {plural(pictures, 'picture', 'pictures')}"
        said = f"{out}: packet of {order} written; it discloses {told}"
        common.say(said + carried * bool(pictures))
        left_out = kept - {digest for digest, _ in packet.attachments}
        if left_out:
            common.say(
                f"    {plural(len(left_out), 'picture', 'pictures')} left out: for its "
                "reader nothing is photographed; --with-attachments puts them in"
            )


def _disclosed(packet: Packet) -> list[str]:
    """Return the paths of what a packet discloses, each once.

    What is withheld unless a policy says else, and was sealed in clear, is disclosed.
    """
    payloads = {s.seq: parse_payload(s.payload) for s, _ in packet.entries}
    given = ((payloads[seq], text) for seq, text in packet.disclosures)
    told = {path_of(said.event, said.withheld, t) for said, t in given}
    return sorted(told | {p for e in payloads.values() for p in _in_clear(e.event)})


def _in_clear(event: Mapping[str, Json]) -> Iterator[str]:
    for path in DEFAULT.paths(str(event.get("kind"))):
        value: Json = dict(event)
        for name in path.split("."):
            value = value.get(name) if isinstance(value, dict) else None
        if value is not None:
            yield path


def _since(path: Path, ledger: Ledger) -> tuple[int, bytes]:
    """Return size and root that a file states: a checkpoint or receipt of this log."""
    from auditkit.proof.receipt import as_written, is_receipt, parse_receipt

    given = common.read_text(path)
    if is_receipt(given):
        receipt = parse_receipt(as_written(given), where=str(path))
        stated = f"{receipt.origin}\n{receipt.size}\n{receipt.root}\n"
    else:
        stated = checkpoint_text(given, where=str(path)).rpartition("\n\n")[0] + "\n"
    try:
        found = parse_checkpoint(stated)
    except AuditkitError as error:
        raise InputError(
            error.message,
            where=str(path),
            what_to_do="name a checkpoint or a receipt's text",
        ) from error
    common.refuse_other_log(found, ledger.origin, path)
    return found.size, found.root
