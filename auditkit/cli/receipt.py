"""``receipt``: what the customer keeps when the vehicle goes home."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import click

from auditkit.cli import beside_log, common
from auditkit.errors import InputError
from auditkit.exhibit.receipt_page import receipt_of_packet
from auditkit.proof.receipt import format_receipt


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
@common.log_option
@common.policy_option
def receipt_command(
    packet: Path,
    out: Path | None,
    text_file: Path | None,
    made_at: str | None,
    log: Path,
    policy_file: Path | None,
) -> None:
    """Write the customer's receipt of a packet that verifies: a page, a text, or both.

    The page tells the repair; its pictures are those that the packet carries
    ('auditkit packet --with-attachments'). The text, and the code on the page, hold
    the log's checkpoint and digests of what was signed and of what the page tells: a
    packet is held against it. The shop's policy may name a checker page, which the
    code then opens (checker_url), and whom to ask for the packet (packet_from).

    The same packet, policy and time give the same page, byte for byte. Where the shop
    signed another verdict than is judged here, the page has both, the one judged here
    first; exit status 1 where the shop's is the better one.

    Example: auditkit receipt RO-1001.packet.json --out RO-1001.receipt.pdf
    """
    if out is None and text_file is None:
        raise InputError(
            "no file to write was named",
            what_to_do="give --out FILE.pdf, --text FILE or both",
        )
    if out is not None and out == text_file:
        raise InputError(
            "the page and the text cannot be one file",
            where=str(out),
            what_to_do="choose another name",
        )
    for path in (out, text_file):
        if path is not None:
            common.refuse_existing(path)
    policy = beside_log.policy_of(log, policy_file)
    made = receipt_of_packet(common.read(packet), str(packet), made_at or "", policy)
    receipt, judged = made.receipt, made.judged
    if out is not None:
        page = made.page(made_at or made.local(datetime.now(UTC)))
        common.write_new(out, page)
        common.say(f"{out}: receipt written, {len(page)} bytes")
    if text_file is not None:
        common.write_new(text_file, format_receipt(receipt))
        common.say(f"{text_file}: receipt written")
    common.say(f"    repair order {receipt.repair_order}, log key {receipt.log_key}")
    common.tell_overstated(judged, str(out or text_file))
