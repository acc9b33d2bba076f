"""``init``, ``list``, ``show``, ``packet``, ``checkpoint``: the shop's log."""

from __future__ import annotations

import dataclasses
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path

import click

from auditkit.cli import common
from auditkit.errors import AuditkitError, InputError
from auditkit.keystore import folder_of
from auditkit.ledger import Ledger
from auditkit.newest import refuse_behind
from auditkit.note import checkpoint_text, parse_checkpoint
from auditkit.report import text
from auditkit.verification import plural


@click.command("init")
@click.option("--shop", metavar="NAME", help="The shop's name.")
@click.option(
    "--origin", metavar="NAME", help="The log's name, such as garage.example/log."
)
@click.option(
    "--person", default="owner", show_default=True, help="Id of the first person."
)
@click.option(
    "--after",
    type=click.Path(path_type=Path),
    metavar="LOG",
    help="Continue this log under a new name: after a loss, or for a new key.",
)
@click.option("--reason", metavar="TEXT", help="Why, for the new log's first entry.")
@click.option(
    "--new-key",
    is_flag=True,
    help="With --after: a new log key, where the old one is lost, known to others, "
    "or to be replaced.",
)
@click.option(
    "--lost",
    "lost_file",
    type=click.Path(path_type=Path),
    metavar="CHECKPOINT-FILE",
    help="With --after: the largest checkpoint that others hold and this copy lacks.",
)
@click.option(
    "--token",
    metavar="URI",
    help="Keep the log's key in a security token (PKCS#11 URI, RFC 7512); the PIN is "
    "asked for, or stands in AUDITKIT_PIN.",
)
@common.log_option
@common.passphrase_option
def init_command(  # noqa: PLR0913, PLR0917  one a choice of the command line
    shop: str | None,
    origin: str | None,
    person: str,
    after: Path | None,
    reason: str | None,
    new_key: bool,  # noqa: FBT001  click passes it by name
    lost_file: Path | None,
    token: str | None,
    log: Path,
    passphrase_file: Path | None,
) -> None:
    """Begin a shop's log and its keys.

    With --after, begin the log that continues another, which can be signed no more: an
    older copy was put back, or its key is lost, known to others or to be replaced.

    Example: auditkit init --shop "Example Yard Garage"
    """
    if after is not None:
        if shop or origin or token:
            message = "a log that continues another takes shop, name and key from it"
            mend = "leave out --shop, --origin and --token"
            raise InputError(message, where="--after", mend=mend)
        _continue(after, log, reason, passphrase_file, lost_file, person, new_key)
        return
    if shop is None or reason or new_key or lost_file:
        message = (
            "the shop's name is missing, or an option that belongs to --after is in"
        )
        raise InputError(message, mend='write: auditkit init --shop "NAME"')
    word = common.passphrase(passphrase_file, new=True)
    log_key = None
    if token is not None:
        common.refuse_existing(log)  # before a key is made that nobody uses
        log_key = common.token_key(token)
    with Ledger.create(
        log, shop=shop, origin=origin, person=person, passphrase=word, log_key=log_key
    ) as ledger:
        click.echo(f"{log}: log begun for {shop}, {person} may sign")
        click.echo(f"    log key {ledger.log_key.thumbprint}")
        click.echo("    next: print that key on your paperwork, so that others can")
        click.echo(f"    compare it; keep a copy of {log}.keys in a safe place")
        if token is not None:
            click.echo("    a token's key cannot be copied: a lost token ends this log")
            click.echo("    (see 'auditkit init --after')")


def _continue(  # noqa: PLR0913, PLR0917  as the command line has them
    old: Path,
    new: Path,
    reason: str | None,
    passphrase_file: Path | None,
    lost_file: Path | None,
    person: str,
    new_key: bool,  # noqa: FBT001
) -> None:
    from auditkit.succession import refuse_unclear, succeed

    why = refuse_unclear(reason)
    lost = None
    if lost_file is not None:
        lost = checkpoint_text(common.read_text(lost_file), where=str(lost_file))
    done = succeed(
        old,
        new,
        reason=why,
        passphrase=common.passphrase(passphrase_file, new=True),
        new_key=new_key,
        person=person,
        lost=lost,
    )
    click.echo(f"{new}: log {done.origin} begun; it continues {old}")
    click.echo(f"    log key {done.log_key}{', as before' * done.is_same_key}")
    click.echo(f"    may sign: {', '.join(done.people)}")
    if done.lost > 0:
        gone = plural(done.lost, "entry is", "entries are")
        click.echo(f"    {gone} lost; whoever holds packets of them can verify those")
    if done.closed is None:
        click.echo(f"    {old} could not be closed: write nothing to it any more")
    else:
        click.echo(f"    {old} is closed by its entry {done.closed}")
    for name in done.without_key:
        click.echo(f"    next: auditkit key enrol {name} --log {new}")
    if not done.is_same_key:
        click.echo("    next: print the new key on your paperwork, and tell those who")
        click.echo("    hold the old one: they cannot know by themselves")
    click.echo(f"    keep {old} and its keys: its packets are made from it")


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
@click.option(
    "--since",
    "since_files",
    multiple=True,
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="A checkpoint or a receipt that the reader holds: the packet then proves that "
    "the log only grew since.",
)
@common.log_option
def packet_command(  # noqa: PLR0913, PLR0917  one a choice of the command line
    order: str,
    out: Path | None,
    reveal: tuple[str, ...],
    page: Path | None,
    since_files: tuple[Path, ...],
    log: Path,
) -> None:
    """Write the packet of one closed repair order.

    Example: auditkit packet RO-1001 --out RO-1001.packet.json
    """
    with Ledger.open(log) as ledger:
        made = ledger.packet(order, reveal=reveal, since=[*map(_since, since_files)])
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


def _since(path: Path) -> tuple[int, bytes]:
    """Return size and root that a checkpoint's or a receipt's file states."""
    from auditkit.receipt import RECEIPT_FORMAT, parse_receipt

    given = common.read_text(path)
    if given.startswith(RECEIPT_FORMAT):
        receipt = parse_receipt(given, where=str(path))
        stated = f"{receipt.origin}\n{receipt.size}\n{receipt.root}\n"
    else:
        stated = checkpoint_text(given, where=str(path)).rpartition("\n\n")[0] + "\n"
    try:
        found = parse_checkpoint(stated)
    except AuditkitError as error:
        mend = "name a checkpoint or a receipt's text"
        raise InputError(error.message, where=str(path), mend=mend) from error
    return found.size, found.root


@click.command("checkpoint")
@click.option(
    "--out", type=click.Path(path_type=Path), help="Where to write it; else printed."
)
@click.option(
    "--second",
    is_flag=True,
    help="Put the log's second signature (ML-DSA-44) below; see 'auditkit key second'.",
)
@common.log_option
@common.passphrase_option
def checkpoint_command(
    out: Path | None,
    second: bool,  # noqa: FBT001  click passes it by name
    log: Path,
    passphrase_file: Path | None,
) -> None:
    """Print the newest signed checkpoint, to give to others.

    Example: auditkit checkpoint --out monday.checkpoint
    """
    with Ledger.open(log) as ledger:
        note = ledger.checkpoint()
        if second:  # it says that this is the largest one
            refuse_behind(
                log, folder_of(log), ledger.leaves(), ledger.origin, ledger.log_key
            )
    if second:
        from auditkit import second_signature

        at = int(datetime.now(UTC).timestamp())
        note = second_signature.sign(log, note, common.passphrase(passphrase_file), at)
    if out is None:
        click.echo(note, nl=False)
    else:
        common.write_new(out, note)
        click.echo(f"{out}: checkpoint written; give it to someone you do not control")
