"""``readiness``: what an inspection station would see in a readout."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from auditkit.cli import common
from auditkit.cli.given_readouts import (
    GivenFileOfReadouts,
    GivenReadout,
    hand_over_in,
    readouts_in,
)
from auditkit.cli.many_readouts import hold_against_each_other, refuse_options_of_one
from auditkit.errors import InputError
from auditkit.inspection.beside_packet import beside_packet
from auditkit.inspection.jurisdiction import InspectionAnswer
from auditkit.inspection.pre_test import Taken, pre_test
from auditkit.inspection.reasons import NOT_READY, Case, Connector, Lamp, Seen
from auditkit.inspection.standing import Standing
from auditkit.inspection.vehicle import COMPRESSION, ELECTRIC, SPARK, Given, vehicle_of
from auditkit.obd.dtc import is_code
from auditkit.obd.vin import is_well_formed
from auditkit.output.pre_test_lines import pre_test_lines
from auditkit.output.pre_test_page import pre_test_page
from auditkit.text.display_text import nearest, quoted

if TYPE_CHECKING:
    from auditkit.inspection.jurisdiction import Jurisdiction

_ODOMETER = re.compile(r"[0-9]+(\.[0-9]+)? (km|mi)")


def _day(_ctx: click.Context, _param: click.Parameter, given: str | None) -> str | None:
    """Return a date as it was given; InputError for what is none."""
    if given is not None:
        try:
            date.fromisoformat(given)
        except ValueError as error:
            raise InputError(
                f"{quoted(given)} is no date",
                where="--date",
                what_to_do="write year, month and day, such as 2026-03-02",
            ) from error
    return given


def _when(
    _ctx: click.Context, _param: click.Parameter, given: datetime | None
) -> date | None:
    return None if given is None else given.date()


def _vin(_ctx: click.Context, _param: click.Parameter, given: str | None) -> str | None:
    """Return a VIN; InputError for what has not its form."""
    if given is None:
        return None
    if not is_well_formed(vin := given.strip().upper()):
        raise InputError(
            f"{quoted(given)} has not the form of a VIN",
            where="--vin",
            what_to_do="give its 17 characters, without I, O and Q",
        )
    return vin


def _odometer(ctx: click.Context, param: click.Parameter, given: str) -> str:
    """Return an odometer's reading; InputError for what is none, or has no unit."""
    common.plain_text(ctx, param, given)
    if given and not _ODOMETER.fullmatch(given):
        raise InputError(
            f"{quoted(given)} is no odometer's reading",
            where="--odometer",
            what_to_do="write digits and km or mi, such as '120345 km'",
        )
    return given


def _earlier(
    _ctx: click.Context, _param: click.Parameter, given: tuple[str, ...]
) -> frozenset[str]:
    """Return how earlier visits ended; InputError for what is no code."""
    found = frozenset(one if one == NOT_READY else one.upper() for one in given)
    for one in found - {NOT_READY}:
        if not is_code(one):
            raise InputError(
                f"{quoted(one)} is no fault code",
                where="--earlier",
                what_to_do=f"give a code such as P0420, or {NOT_READY}",
            )
    return found


@click.command("readiness")
@click.argument(
    "readouts",
    metavar="READOUT...",
    nargs=-1,
    required=True,
    type=common.FilePath(path_type=Path),
)
@click.option(
    "--rules",
    "names",
    multiple=True,
    metavar="NAME",
    help="Whose rules, such as california; give several. Left out, it tells the names.",
)
@click.option(
    "--reading",
    metavar="NAME",
    help="Where a rule is interpreted in several ways: ask this one, on any date.",
)
@click.option("--which", type=int, help="Which readout of a record, from 1; else last.")
@click.option("--model-year", type=int, help="Model year; else as record or VIN tell.")
@click.option(
    "--ignition",
    type=click.Choice([SPARK, COMPRESSION, ELECTRIC]),
    help="Ignition; else as PID 01 or the record tells.",
)
@click.option("--vin", callback=_vin, help="The VIN on the vehicle; else the record's.")
@click.option("--gvwr", type=int, metavar="LB", help="Gross vehicle weight rating.")
@click.option(
    "--first-used",
    type=click.DateTime(["%Y-%m-%d"]),
    callback=_when,
    metavar="YYYY-MM-DD",
    help="Day of first use, where a rule asks for it.",
)
@click.option(
    "--odometer",
    default="",
    callback=_odometer,
    metavar="READING",
    help="Such as '120345 km'; else the record's.",
)
@click.option(
    "--date",
    "day",
    callback=_day,
    metavar="YYYY-MM-DD",
    help="Day of the inspection; else of the readout, else today.",
)
@click.option(
    "--lamp",
    type=click.Choice(["lit", "dark", "not-looked"]),
    default="not-looked",
    show_default=True,
    help="What the lamp did with key on and engine off.",
)
@click.option(
    "--lamp-running",
    type=click.Choice([str(one) for one in Lamp]),
    default="not-looked",
    show_default=True,
    help="What the lamp did with the engine running.",
)
@click.option(
    "--connector",
    type=click.Choice([str(one) for one in Connector]),
    default="not-looked",
    show_default=True,
    help="What was found at the connector.",
)
@click.option(
    "--earlier",
    multiple=True,
    callback=_earlier,
    metavar="CODE|not-ready",
    help="What an earlier visit ended in: a code that failed, or not-ready.",
)
@click.option(
    "--beside",
    "repair",
    type=click.Path(path_type=Path),
    metavar="PACKET",
    help="The packet of a repair: what is read today is held against what its shop "
    "read at the hand-over.",
)
@click.option(
    "--page", type=click.Path(path_type=Path), help="Write a page to print, too."
)
@common.format_option
def readiness_command(
    readouts: tuple[Path, ...],
    names: tuple[str, ...],
    reading: str | None,
    which: int | None,
    model_year: int | None,
    ignition: str | None,
    vin: str | None,
    gvwr: int | None,
    first_used: date | None,
    odometer: str,
    day: str | None,
    lamp: str,
    lamp_running: str,
    connector: str,
    earlier: frozenset[str],
    repair: Path | None,
    page: Path | None,
    form: str,
) -> None:
    """Show what an inspection station would see, and what its rules answer.

    READOUT is a readout as `auditkit decode` reads it, a repair record or a packet.
    Several, or a folder of them or of the records that --format json prints, are held
    against each other: which may be another vehicle's is asked, with the files.
    Without --rules the record is shown alone. With --beside: is it that vehicle, is a
    repaired fault back, did its counts go on, or was it cleared in between? Exit status
    0 where every interpretation of the rules accepts, and the repair holds as far as
    this readout shows; 1 where not.

    Example: auditkit readiness after.txt --rules california --lamp lit
    """
    if len(readouts) > 1 or readouts[0].is_dir():
        refuse_options_of_one(click.get_current_context())
        hold_against_each_other(readouts, form)
        return
    (readout,) = readouts
    chosen = _jurisdictions(names)
    if page is not None:
        common.refuse_existing(page)
    file = readouts_in(readout, may_be_silent=True)
    given = file.chosen(which)
    opening = file.order.opening if file.order is not None else None
    written = opening.object("vehicle") if opening is not None else {}
    known = Given(model_year, ignition, vin, gvwr, first_used, odometer)
    vehicle = vehicle_of(given.readout, known, dict(written))
    seen = Seen(Lamp(lamp), Lamp(lamp_running), Connector(connector), earlier)
    is_typed = given.event is not None and not given.event.text("raw")
    when, how = _date(day, given)
    place = file.readouts.index(given)
    past = tuple(one.readout for one in file.readouts[:place])
    case = Case(given.readout, vehicle, seen, when, is_typed, how, past)
    found = pre_test(_taken(file, given), case, chosen, reading)
    if repair is not None:
        then = hand_over_in(repair)
        raw = given.raw
        held = beside_packet(then, given.readout, raw=raw, is_typed=is_typed)
        found = replace(found, beside=held)
    if page is not None:
        common.write_new(page, pre_test_page(found))
    if form == "json":
        common.print_json(found.to_json())
    else:
        common.print_lines(pre_test_lines(found))
        if page is not None:
            common.say(f"{page}: page written")
    if not chosen:
        said = f"no rules were asked; --rules takes {', '.join(sorted(_known()))}"
        click.echo(said, err=True)
    stands = found.beside is None or found.beside.answer is Standing.HOLDS
    accepts = all(one.answer is InspectionAnswer.ACCEPT for one in found.results)
    if not (stands and accepts):
        raise click.exceptions.Exit(1)


def _known() -> dict[str, Jurisdiction]:
    from auditkit.plugin.loading import load_catalogue

    return {j.name: j for j in load_catalogue().jurisdictions}


def _jurisdictions(names: tuple[str, ...]) -> list[Jurisdiction]:
    known = _known()
    for name in names:
        if name not in known:
            near = nearest(name, known)
            raise InputError(
                f"no inspection rules are called {name!r}",
                where="--rules",
                what_to_do=(f"did you mean {near[0]}? " if near else "")
                + f"known are {', '.join(sorted(known))}",
            )
    return [known[name] for name in dict.fromkeys(names)]


def _date(day: str | None, given: GivenReadout) -> tuple[date, str]:
    """Return the day of the inspection, and in words how it is known."""
    text = given.event.text("captured") if given.event is not None else ""
    captured = datetime.fromisoformat(text).date() if text else None
    if day is None and captured is not None:
        return captured, "as the readout was captured"
    if day is None:
        return datetime.now(UTC).date(), "today (UTC)"
    when = date.fromisoformat(day)
    differs = captured not in {None, when}
    but = f"; but the readout was captured on {captured}" if differs else ""
    return when, f"as it was given{but}"


def _taken(file: GivenFileOfReadouts, given: GivenReadout) -> Taken:
    event = given.event
    if event is None:
        return Taken(str(file.path), file.sha256)
    return Taken(
        f"{file.path}: {given.place}",
        file.sha256,
        event.text("captured"),
        event.text("tool"),
        event.text("protocol"),
    )
