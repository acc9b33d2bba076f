"""``verify``: whether a log or a packet holds."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from auditkit.cli import common
from auditkit.errors import AuditkitError, InputError
from auditkit.note import parse_checkpoint
from auditkit.packet import is_packet, verify_packet
from auditkit.report.text import report_lines
from auditkit.verification import Report

_HEAD = b"SQLite format 3\x00"


@click.command("verify")
@click.argument("path", metavar="LOG|PACKET", type=click.Path(path_type=Path))
@click.option(
    "--trust",
    "trust_file",
    type=click.Path(path_type=Path),
    metavar="CHECKPOINT-FILE",
    help="An earlier checkpoint: the log must extend it.",
)
@click.option("--key", metavar="FINGERPRINT", help="The log key that you expect.")
@click.option(
    "--skip-signatures",
    is_flag=True,
    help="Check a log's chain, tree and checkpoints only (quick).",
)
@common.format_option
def verify_command(
    path: Path,
    trust_file: Path | None,
    key: str | None,
    skip_signatures: bool,  # noqa: FBT001  click passes it by name
    form: str,
) -> None:
    """Check a log or a packet.

    Example: auditkit verify RO-1001.packet.json --key FINGERPRINT
    """
    trust = None if trust_file is None else _checkpoint(trust_file)
    if _is_log(path):
        report = _verify_log(path, trust, key, signatures=not skip_signatures)
    else:
        text = common.read_text(path)
        if not is_packet(text):
            message = "this is neither a log nor a packet"
            mend = "name a file that 'auditkit init' or 'auditkit packet' made"
            raise InputError(message, where=str(path), mend=mend)
        report = verify_packet(
            text.encode(), where=str(path), expect_key=key, trust=trust
        )
    if form == "json":
        common.print_json(report.to_json())
    else:
        common.print_lines(report_lines(str(path), report))
    if not report.verified:
        raise click.exceptions.Exit(1)


def _checkpoint(path: Path) -> str:
    """Return a checkpoint's text; what merely looks like none is unusable input."""
    text = common.read_text(path)
    try:
        parse_checkpoint(text.rpartition("\n\n")[0] + "\n")
    except AuditkitError as error:
        message = f"this is not a checkpoint: {error.message}"
        mend = "name a file that 'auditkit checkpoint' wrote"
        raise InputError(message, where=str(path), mend=mend) from error
    return text


def _is_log(path: Path) -> bool:
    if not path.is_file():
        common.read(path)  # says what is wrong with it
    with path.open("rb") as file:
        return file.read(len(_HEAD)) == _HEAD


def _verify_log(
    path: Path, trust: str | None, key: str | None, *, signatures: bool
) -> Report:
    from auditkit.log_verify import verify_file

    if not sys.stderr.isatty():
        return verify_file(path, signatures=signatures, trust=trust, expect_key=key)
    with click.progressbar(length=1, label="Verifying", file=sys.stderr) as bar:

        def progress(done: int, total: int) -> None:
            bar.length = total
            bar.update(done - bar.pos)

        return verify_file(
            path, signatures=signatures, trust=trust, expect_key=key, progress=progress
        )
