"""``readiness``: what an inspection station would see in a readout."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from auditkit.cli import common
from auditkit.cli.given_readouts import read_readout
from auditkit.errors import InputError
from auditkit.inspection.jurisdiction import InspectionAnswer
from auditkit.inspection.pre_test import Vehicle, ignition_of, pre_test
from auditkit.obd.vin import has_check_digit, model_year
from auditkit.output.pre_test_lines import pre_test_lines
from auditkit.text.display_text import nearest

if TYPE_CHECKING:
    from auditkit.inspection.jurisdiction import Jurisdiction
    from auditkit.obd import Readout


@click.command("readiness")
@click.argument("readout", type=click.Path(path_type=Path))
@click.option("--rules", "rules", metavar="NAME", help="Whose rules.")
@click.option("--model-year", type=int, help="Model year; else as the VIN tells.")
@click.option(
    "--ignition",
    type=click.Choice(["spark", "compression"]),
    help="Ignition; else as PID 01 tells.",
)
@click.option(
    "--lamp",
    type=click.Choice(["lit", "dark", "not-looked"]),
    default="not-looked",
    show_default=True,
    help="What the lamp did with key on and engine off.",
)
@common.format_option
def readiness_command(
    readout: Path,
    rules: str | None,
    model_year: int | None,
    ignition: str | None,
    lamp: str,
    form: str,
) -> None:
    """Show what an inspection station would see, and what its rule answers.

    READOUT is a readout as `auditkit decode` reads it. Exit status 0 where every
    reading of the rule accepts, 1 where one does not.

    Example: auditkit readiness after.txt --rules california --lamp lit
    """
    chosen = _jurisdiction(rules)
    read = read_readout(readout)
    vehicle = _vehicle(read, readout, model_year, ignition)
    found = pre_test(read, chosen, vehicle, lamp_seen=lamp)
    if form == "json":
        common.print_json(found.to_json())
    else:
        common.print_lines(pre_test_lines(chosen, found))
    if any(result.answer is not InspectionAnswer.ACCEPT for result in found.results):
        raise click.exceptions.Exit(1)


def _jurisdiction(name: str | None) -> Jurisdiction:
    from auditkit.plugin.loading import load_catalogue

    known = {j.name: j for j in load_catalogue().jurisdictions}
    if name is None:
        raise InputError(
            "it is not said whose inspection rules to ask",
            where="--rules",
            what_to_do=f"give one of {', '.join(sorted(known))}",
        )
    if name not in known:
        near = nearest(name, known)
        raise InputError(
            f"no inspection rules are called {name!r}",
            where="--rules",
            what_to_do=f"did you mean {near[0]}?"
            if near
            else f"use {', '.join(sorted(known))}",
        )
    return known[name]


def _vehicle(
    read: Readout, path: Path, year: int | None, ignition: str | None
) -> Vehicle:
    told = ignition_of(read)
    if year is None and read.vin is not None and has_check_digit(read.vin):
        year = model_year(read.vin)
    if year is None:
        raise InputError(
            "the readout does not tell the model year",
            where=str(path),
            what_to_do="give --model-year",
        )
    if ignition is None and told is None:
        raise InputError(
            "the readout does not tell the ignition (no readiness, PID 01)",
            where=str(path),
            what_to_do="give --ignition",
        )
    return Vehicle(year, ignition or told or "")
