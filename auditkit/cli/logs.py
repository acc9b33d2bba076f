"""``init``, ``list``, ``show``, ``packet``, ``checkpoint``: the shop's log."""

from __future__ import annotations

import dataclasses
from dataclasses import asdict
from pathlib import Path

import click

from auditkit.cli import common
from auditkit.ledger import Ledger
from auditkit.report import text


@click.command("init")
@click.option("--shop", required=True, metavar="NAME", help="The shop's name.")
@click.option(
    "--origin", metavar="NAME", help="The log's name, such as garage.example/log."
)
@click.option(
    "--person", default="owner", show_default=True, help="Id of the first person."
)
@common.log_option
@common.passphrase_option
def init_command(
    shop: str, origin: str | None, person: str, log: Path, passphrase_file: Path | None
) -> None:
    """Begin a shop's log and its keys.

    Example: auditkit init --shop "Example Yard Garage"
    """
    word = common.passphrase(passphrase_file, new=True)
    with Ledger.create(
        log, shop=shop, origin=origin, person=person, passphrase=word
    ) as ledger:
        click.echo(f"{log}: log begun for {shop}, {person} may sign")
        click.echo(f"    log key {ledger.log_key.thumbprint}")
        click.echo("    next: print that key on your paperwork, so that others can")
        click.echo(f"    compare it; keep a copy of {log}.keys in a safe place")


@click.command("list")
@common.log_option
@common.format_option
def list_command(log: Path, form: str) -> None:
    """List the repair orders of the log.

    Example: auditkit list --format json
    """
    with Ledger.open(log) as ledger:
        orders = ledger.orders()
    if form == "json":
        common.print_json([dataclasses.asdict(order) for order in orders])
    elif orders:
        common.print_lines(text.list_lines(orders))
    else:
        click.echo(f"{log}: no repair order yet; see 'auditkit record'")


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
                "event": dict(line.event),
            }
            for line in found.lines
        ]
        verdict = found.verdict.get("verdict") if found.verdict else None
        common.print_json(
            {"repair_order": found.id, "verdict": verdict, "entries": entries}
        )
    else:
        common.print_lines(text.order_lines(found))


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
    help="Write a page too that carries the packet and checks it in a browser.",
)
@common.log_option
def packet_command(
    order: str, out: Path | None, reveal: tuple[str, ...], page: Path | None, log: Path
) -> None:
    """Write the packet of one closed repair order.

    Example: auditkit packet RO-1001 --out RO-1001.packet.json
    """
    with Ledger.open(log) as ledger:
        made = ledger.packet(order, reveal=reveal)
    if page is not None:
        from auditkit.web.page import packet_page

        common.write_new(page, packet_page(made))
        click.echo(f"{page}: page of {order} written; open it in a browser", err=True)
    if out is None and page is None:
        click.echo(made, nl=False)
    elif out is None:
        return
    else:
        common.write_new(out, made)
        told = ", ".join(reveal) or "no person"
        click.echo(f"{out}: packet of {order} written; it discloses {told}")


@click.command("checkpoint")
@click.option(
    "--out", type=click.Path(path_type=Path), help="Where to write it; else printed."
)
@common.log_option
def checkpoint_command(out: Path | None, log: Path) -> None:
    """Print the newest signed checkpoint, to give to others.

    Example: auditkit checkpoint --out monday.checkpoint
    """
    with Ledger.open(log) as ledger:
        note = ledger.checkpoint()
    if out is None:
        click.echo(note, nl=False)
    else:
        common.write_new(out, note)
        click.echo(f"{out}: checkpoint written; give it to someone you do not control")
