"""``receipt``: what the customer keeps when the vehicle goes home."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import click

from auditkit.cli import common
from auditkit.errors import InputError
from auditkit.receipt import format_receipt, receipt_of


@click.command("receipt")
@click.argument("packet", type=click.Path(path_type=Path))
@click.option("--out", type=click.Path(path_type=Path), help="The PDF to write.")
@click.option(
    "--text", "text_file", type=click.Path(path_type=Path), help="The text to write."
)
@click.option(
    "--made-at",
    metavar="TIME",
    help="The time to print, such as 2026-03-02T08:00:00+01:00; now where none.",
)
def receipt_command(
    packet: Path, out: Path | None, text_file: Path | None, made_at: str | None
) -> None:
    """Write the customer's receipt of a packet that verifies: a page, a text, or both.

    The same packet and time give the same page, byte for byte.

    Example: auditkit receipt RO-1001.packet.json --out RO-1001.receipt.pdf
    """
    if out is None and text_file is None:
        message = "no file to write was named"
        raise InputError(message, mend="give --out FILE.pdf, --text FILE or both")
    if out is not None and out == text_file:
        message = "the page and the text cannot be one file"
        raise InputError(message, where=str(out), mend="choose another name")
    for path in (out, text_file):
        if path is not None:
            common.refuse_existing(path)
    receipt = receipt_of(common.read(packet), where=str(packet))
    if out is not None:
        from auditkit.report.receipt_pdf import receipt_pdf

        now = datetime.now(UTC).isoformat(timespec="seconds")
        page = receipt_pdf(receipt, made_at or now)
        common.write_new(out, page)
        click.echo(f"{out}: receipt written, {len(page)} bytes")
    if text_file is not None:
        common.write_new(text_file, format_receipt(receipt))
        click.echo(f"{text_file}: receipt written")
    click.echo(f"    repair order {receipt.repair_order}, log key {receipt.log_key}")
