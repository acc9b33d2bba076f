"""``open``: a repair order begins in the log, perhaps with its first readout."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Unpack

import click

from auditkit.bay.one_step import refuse_open_again
from auditkit.bay.read_vehicle import of_vehicle
from auditkit.cli import common, in_bay
from auditkit.cli.reading_given import readout_known, tool_asked
from auditkit.errors import InputError
from auditkit.log.held_order import held
from auditkit.log.marks import VIN
from auditkit.obd.vin import has_check_digit, is_well_formed, model_year
from auditkit.output.readout_lines import readout_lines

if TYPE_CHECKING:
    from collections.abc import Iterator

    from auditkit.text.values import Json


class _OpenSaid(in_bay.Said):
    """What click hands on of the plain options of an opening."""

    vin: str | None
    odometer: str | None
    vehicle: str | None
    year: str | None
    ignition: str | None
    plate: str | None
    complaint: str | None
    customer: str | None
    contact: str | None


@click.command("open")
@click.argument("order")
@click.option("--vin", help="The vehicle's number; read from --raw where that has it.")
@click.option("--odometer", metavar="'VALUE km'", help="What it shows, km or mi.")
@click.option("--vehicle", metavar="TEXT", help="What it is, in a few words.")
@click.option("--year", metavar="YYYY", help="Its model year; the VIN may say it.")
@click.option("--ignition", help="spark or compression; a readout may say it.")
@click.option("--plate", help="Its registration plate.")
@click.option("--complaint", metavar="TEXT", help="What the customer says is wrong.")
@click.option("--customer", metavar="NAME", help="Kept out of packets unless revealed.")
@click.option("--contact", metavar="TEXT", help="Kept out of packets unless revealed.")
@click.option(
    "--raw",
    type=common.FilePath(path_type=Path),
    help="The first readout: a file that 'decode' reads, a CAN log, or - for a pipe.",
)
@click.option("--captured", metavar="TIME", help="When it was read, if not just now.")
@click.option("--tool", metavar="TEXT", help="What it was read with.")
@click.option("--protocol", metavar="TEXT", help="By what, if its ids do not show it.")
@in_bay.recording_options
def open_command(
    order: str,
    raw: Path | None,
    captured: str | None,
    tool: str | None,
    protocol: str | None,
    **said: Unpack[_OpenSaid],
) -> None:
    """Open a repair order: the vehicle, its odometer, what the customer says.

    Example: auditkit open RO-1001 --vin 0ZZTB1A18CA000123 --odometer '184210 km'
    --vehicle 'delivery van, 2.0 litre' --ignition spark --complaint 'engine lamp is on'
    """
    answers = {
        "vehicle.vin": said["vin"],
        "vehicle.odometer": said["odometer"],
        "vehicle.description": said["vehicle"],
        "vehicle.plate": said["plate"],
        "vehicle.model_year": said["year"],
        "vehicle.ignition": said["ignition"],
        "complaint": said["complaint"],
        "customer.name": said["customer"],
        "customer.contact": said["contact"],
    }
    sets = {path: text for path, text in answers.items() if text}
    given = in_bay.given(order, said).with_sets(sets)
    if raw is not None:
        tool = tool_asked(tool)  # before the passphrase is
    elif captured or tool or protocol:
        raise InputError(
            "no readout is given",
            where="--raw",
            what_to_do="name its file, or leave --captured, --tool, --protocol out",
        )
    with in_bay.bay(given) as bay:
        refuse_open_again(held(bay.ledger, order))
        told: list[str] = []
        known: dict[str, Json] = {"shop": bay.ledger.shop}
        events: list[dict[str, Json]] = []
        readout: dict[str, Json] | None = None
        if raw is not None:
            at = bay.time()
            readout, found, lines = readout_known(
                raw,
                at,
                {"captured": captured, "tool": tool, "protocol": protocol},
                None,
            )
            told += lines + readout_lines(found)
            for path, value, words in of_vehicle(found):
                if not _is_said(given, path):
                    known[path] = value
                    told.append(words)
        vin = str(known.get("vehicle.vin") or given.sets.get("vehicle.vin", "")).upper()
        year = model_year(vin) if is_well_formed(vin) else None
        if year is not None and not _is_said(given, "vehicle.model_year"):
            known["vehicle.model_year"] = year
            told.append(
                f"Model year {year}: by position 10 of the VIN; --year says else"
            )
        opening = bay.event("opening", known)
        events.append(opening)
        if readout is not None:
            events.append(
                {
                    "kind": "readout",
                    "at": opening["at"],
                    "by": opening["by"],
                    **readout,
                }
            )
        told += _vin(bay, vin)
        done = bay.take(events)
        bay.tell(done, told)


def _is_said(given: in_bay.Given, path: str) -> bool:
    return path in given.sets or path.split(".", maxsplit=1)[0] in given.file


def _vin(bay: in_bay.Bay, vin: str) -> Iterator[str]:
    if not is_well_formed(vin):
        return
    fits = (
        "fits"
        if has_check_digit(vin)
        else ("does not fit: a slip, or a vehicle from where none is used")
    )
    yield f"Check digit of the VIN: {fits}"
    earlier = sorted(bay.ledger.holders(VIN, vin) - {bay.given.order})
    if earlier:
        yield f"This vehicle was here before: {', '.join(earlier)}"
