"""``checkpoint keep``: keeping in the log what outsiders said of a checkpoint."""

from __future__ import annotations

from pathlib import Path

import click

from auditkit.cli import common, passphrases
from auditkit.errors import InputError, VerificationError
from auditkit.log.ledger import Ledger
from auditkit.proof.note import (
    checkpoint_text,
    open_checkpoint,
    parse_checkpoint,
    split_note,
)
from auditkit.text.display_text import plural

_WHAT_TO_DO = "give a checkpoint of this log ('auditkit checkpoint')"


@click.command("keep")
@click.argument("checkpoint", type=click.Path(path_type=Path))
@click.option(
    "--stamp",
    "stamp_file",
    type=click.Path(path_type=Path),
    help="The time stamp (.tsr) over this very file.",
)
@common.log_option
@common.passphrase_option
def keep_command(
    checkpoint: Path, stamp_file: Path | None, log: Path, passphrase_file: Path | None
) -> None:
    """Keep in the log what outsiders said of a CHECKPOINT of it.

    From then on packets carry it, and whoever believes those outsiders knows between
    which times each entry was recorded. Give the file that 'auditkit witness ask'
    wrote, or one with its time stamp.

    Example: auditkit checkpoint keep monday.checkpoint --stamp monday.tsr
    """
    text = checkpoint_text(common.read_text(checkpoint), where=str(checkpoint))
    token = None if stamp_file is None else common.read(stamp_file)
    with Ledger.open(log) as ledger:
        try:
            signed, lines = split_note(text)
            stated = parse_checkpoint(signed)
            common.refuse_other_log(stated, ledger.origin, checkpoint)
            open_checkpoint(text, ledger.log_key)
        except VerificationError as error:
            raise VerificationError(
                error.message, where=str(checkpoint), what_to_do=_WHAT_TO_DO
            ) from error
        word = passphrases.log_passphrase(passphrase_file)
        try:
            seq = ledger.attest(text, passphrase=word, token=token)
        except InputError as error:
            error.where = error.where or str(checkpoint)
            raise
        except VerificationError as error:
            error.where = error.where or str(stamp_file or checkpoint)
            raise
    size = stated.size
    many = plural(len(lines) - 1, "cosignature", "cosignatures")
    said = [many] if len(lines) > 1 else []
    said += ["a time stamp"] if token is not None else []
    common.say(f"{log}: {' and '.join(said)} over {size} entries kept by entry {seq}")
    common.say("    whom to believe is the reader's choice: see 'auditkit verify'")
