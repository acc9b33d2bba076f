"""``compare``: what changed between two readouts."""

from __future__ import annotations

from pathlib import Path

import click

from auditkit.cli import common
from auditkit.obd.comparison import compare
from auditkit.output.comparison_lines import comparison_lines


@click.command("compare")
@click.argument("before", type=click.Path(path_type=Path))
@click.argument("after", type=click.Path(path_type=Path))
@common.format_option
def compare_command(before: Path, after: Path, form: str) -> None:
    """Show side by side what changed between two readouts.

    BEFORE and AFTER are readouts of one vehicle as `auditkit decode` reads them.

    Example: auditkit compare before.txt after.txt
    """
    found = compare(common.read_readout(before), common.read_readout(after))
    if form == "json":
        common.print_json(found.to_json())
    else:
        common.print_lines(comparison_lines(found))
