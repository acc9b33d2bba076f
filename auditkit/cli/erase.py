"""``erase``: withheld text and pictures go, and the log says that they went."""

from __future__ import annotations

from pathlib import Path

import click

from auditkit.cli import common, passphrases
from auditkit.log.ledger import Ledger


@click.command("erase")
@click.argument("order")
@click.option(
    "--path",
    "paths",
    multiple=True,
    metavar="PATH",
    help="Withheld text to erase, such as customer.name; may be given again.",
)
@click.option(
    "--attachment",
    "attachments",
    multiple=True,
    metavar="SHA256",
    help="Picture to erase, by the start of its SHA-256; may be given again.",
)
@click.option(
    "--reason",
    required=True,
    callback=common.plain_text,
    help="Why, for the log; it stays, so name nobody.",
)
@common.log_option
@common.passphrase_option
def erase_command(
    order: str,
    paths: tuple[str, ...],
    attachments: tuple[str, ...],
    reason: str,
    log: Path,
    passphrase_file: Path | None,
) -> None:
    """Erase withheld text and pictures of a repair order for good.

    The log and its packets stay valid. Copies elsewhere are not reached: packets
    that disclose them, backups, the record and the files beside it, and what a drive
    keeps of a file that was overwritten (a solid-state drive, a snapshot). Law may
    ask you to keep what you would erase: that is for you to know.

    Example: auditkit erase RO-1001 --path customer.name --reason "asked by letter"
    """
    with Ledger.open(log) as ledger:
        word = passphrases.log_passphrase(passphrase_file)
        with common.placed_as_typed({"/reason": "--reason"}):
            gone = ledger.erase(
                order,
                paths=paths,
                attachments=attachments,
                reason=reason,
                passphrase=word,
            )
    common.say(f"{log}: erased from {gone.order_id}, as entry {gone.seq} says")
    for seq, path in gone.texts:
        common.say(f"    {path} of entry {seq}")
    for digest in gone.attachments:
        common.say(f"    attachment {digest}")
    common.say(
        "    what to do: do away with old packets, backups, record files and "
        "photographs that hold it"
    )
