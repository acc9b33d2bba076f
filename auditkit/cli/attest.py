"""``attest``: keeping in the log what outsiders said of a checkpoint."""

from __future__ import annotations

from pathlib import Path

import click

from auditkit.cli import common
from auditkit.ledger import Ledger
from auditkit.note import checkpoint_text, parse_checkpoint, split_note
from auditkit.verification import plural


@click.command("attest")
@click.argument("checkpoint", type=click.Path(path_type=Path))
@click.option(
    "--stamp",
    "stamp_file",
    type=click.Path(path_type=Path),
    help="The time stamp (.tsr) over this very file.",
)
@common.log_option
@common.passphrase_option
def attest_command(
    checkpoint: Path, stamp_file: Path | None, log: Path, passphrase_file: Path | None
) -> None:
    """Keep in the log what outsiders said of a CHECKPOINT of it.

    From then on packets carry it, and whoever believes those outsiders knows between
    which times each entry was recorded. Give the file that 'auditkit witness ask'
    wrote, or one with its time stamp.

    Example: auditkit attest monday.checkpoint --stamp monday.tsr
    """
    text = checkpoint_text(common.read_text(checkpoint), where=str(checkpoint))
    token = None if stamp_file is None else common.read(stamp_file)
    with Ledger.open(log) as ledger:
        word = common.passphrase(passphrase_file)
        seq = ledger.attest(text, passphrase=word, token=token)
    signed, lines = split_note(text)
    size = parse_checkpoint(signed).size
    many = plural(len(lines) - 1, "cosignature", "cosignatures")
    said = [many] if len(lines) > 1 else []
    said += ["a time stamp"] if token is not None else []
    click.echo(f"{log}: {' and '.join(said)} over {size} entries kept by entry {seq}")
    click.echo("    whom to believe is the reader's choice: see 'auditkit verify'")
