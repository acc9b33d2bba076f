"""``receipt``: what the customer keeps when the vehicle goes home."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from auditkit.cli import common
from auditkit.errors import InputError
from auditkit.exhibit.source import recorded_moment
from auditkit.order.events import Event
from auditkit.proof.check_packet import parse_packet
from auditkit.proof.disclosure import reveal
from auditkit.proof.entry import parse_payload
from auditkit.proof.receipt import format_receipt, receipt_of
from auditkit.reader.steps import local_of, log_shop, other_shops, steps_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from auditkit.proof.check_packet import Packet
    from auditkit.proof.entry import Payload


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

    The same packet and time give the same page, byte for byte. Where the shop signed
    another verdict than is judged here, the page has both, the one judged here first;
    exit status 1 where the shop's is the better one. The text, and the code on the
    page, hold what was signed and nothing else: a packet is held against it.

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
    given = common.read(packet)
    receipt = receipt_of(given, where=str(packet))
    judged = common.judged_again(given, str(packet))
    found = parse_packet(given, where=str(packet))
    _refuse_before(made_at, found, str(packet))
    if out is not None:
        from auditkit.output.receipt_pdf import receipt_pdf

        local = local_of(steps_of(found))
        now = local(datetime.now(UTC).isoformat(timespec="seconds"))
        page = receipt_pdf(receipt, made_at or now, _about(found), judged)
        common.write_new(out, page)
        common.say(f"{out}: receipt written, {len(page)} bytes")
    if text_file is not None:
        common.write_new(text_file, format_receipt(receipt))
        common.say(f"{text_file}: receipt written")
    common.say(f"    repair order {receipt.repair_order}, log key {receipt.log_key}")
    common.tell_overstated(judged, str(out or text_file))


def _own(packet: Packet, kind: str) -> Iterator[Payload]:
    """Yield the repair order's payloads of one kind."""
    for signed, _ in packet.entries:
        payload = parse_payload(signed.payload)
        if (
            payload.repair_order == packet.repair_order
            and payload.event.get("kind") == kind
        ):
            yield payload


def _refuse_before(made_at: str | None, packet: Packet, where: str) -> None:
    """Raise InputError for a time before the verdict that the receipt is of.

    Raises VerificationError where the verdict was recorded at no time.
    """
    recorded = [
        (recorded_moment(payload.recorded_at, where), payload.recorded_at)
        for payload in _own(packet, "verdict")
    ]
    try:
        moment = datetime.fromisoformat(made_at or "")
    except ValueError:
        return  # none was given, or the page says what is wrong with it
    latest, last = max(recorded)
    if moment.tzinfo is not None and moment < latest:
        raise InputError(
            f"{made_at} is before the verdict was recorded, at "
            f"{local_of(steps_of(packet))(last)}",
            where="--made-at",
            what_to_do="give the time of hand-over",
        )


def _about(packet: Packet) -> dict[str, str]:
    """Return the log's shop, and the vehicle as the opening discloses it.

    A shop that the record names instead is told beside it.
    """
    steps = steps_of(packet)
    shop, others = log_shop(steps), other_shops(steps)
    if others:
        shop += f" (the record names {', '.join(others)})"
    given: dict[int, list[str]] = {}
    for seq, text in packet.disclosures:
        given.setdefault(seq, []).append(text)
    events = [
        Event(0, reveal(payload.event, payload.withheld, given.get(payload.seq, ()))[0])
        for payload in [*_own(packet, "opening"), *_own(packet, "amendment")]
    ]
    openings = [
        event.object("event") if event.kind == "amendment" else event.data
        for event in events
    ]
    last = Event(0, ([{}] + [o for o in openings if o.get("kind") == "opening"])[-1])
    vehicle = last.object("vehicle")
    what = ", ".join(
        str(vehicle[name]) for name in ("description", "model_year") if name in vehicle
    )
    return {
        "Shop": shop or "not disclosed",
        "Vehicle": what or "not disclosed",
        "VIN": str(vehicle.get("vin", "not disclosed")),
    }
