"""``decode``: what the vehicle said."""

from __future__ import annotations

from pathlib import Path

import click

from auditkit.cli import common
from auditkit.errors import InputError
from auditkit.obd.transcript import read
from auditkit.output.readout_lines import readout_lines


@click.command("decode")
@click.argument("file", type=click.Path(path_type=Path))
@common.format_option
def decode_command(file: Path, form: str) -> None:
    """Show what the vehicle said in a readout.

    FILE holds requests and responses as hex text, with or without responder ids, or
    lines of a CAN log.

    Example: auditkit decode readout.txt
    """
    text = common.read_text(file)
    found = read(text)
    if not found.items and (found.problems or not found.notes):
        message = "this is no readout: no line of it is a request or a response"
        what_to_do = (
            "name a file of requests and responses as hex text, or a CAN log; what the "
            "readouts of a repair record or packet say, 'auditkit compare FILE' shows"
        )
        raise InputError(message, where=str(file), what_to_do=what_to_do)
    readout = common.decoded(text, file)
    if form == "json":
        common.print_json(readout.to_json())
    else:
        common.print_lines(readout_lines(readout))
