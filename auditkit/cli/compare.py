"""``compare``: what changed between two readouts."""

from __future__ import annotations

from pathlib import Path

import click

from auditkit.cli import common
from auditkit.cli.given_readouts import read_readout, readouts_in
from auditkit.obd.comparison import compare
from auditkit.output.comparison_lines import comparison_lines


@click.command("compare")
@click.argument("before", type=click.Path(path_type=Path))
@click.argument("after", type=click.Path(path_type=Path), required=False)
@common.format_option
def compare_command(before: Path, after: Path | None, form: str) -> None:
    """Show side by side what changed between two readouts.

    BEFORE and AFTER are readouts of one vehicle as `auditkit decode` reads them. Or
    name one repair record or packet: then the first readout before the repair is held
    against the last one after it.

    Example: auditkit compare before.txt after.txt
    """
    if after is None:
        early, late = readouts_in(before).before_and_after()
        places = {"before": early.place, "after": late.place}
        found = compare(early.readout, late.readout)
    else:
        places = {"before": str(before), "after": str(after)}
        found = compare(read_readout(before), read_readout(after))
    if form == "json":
        common.print_json({**places, **found.to_json()})
    else:
        told = [f"{side}: {place}" for side, place in places.items()]
        first, *rest = comparison_lines(found)
        common.print_lines([first, *told * (after is None), *rest])
