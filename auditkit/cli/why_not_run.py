"""``why-not-run``: which conditions keep a monitor from running."""

from __future__ import annotations

from pathlib import Path

import click

from auditkit.cli import common
from auditkit.cli.given_readouts import read_readout
from auditkit.order.events import RepairOrder
from auditkit.order.why_not_run import reasons_of, reasons_of_order
from auditkit.output.why_not_run_lines import reason_lines
from auditkit.plugin.loading import load_catalogue


@click.command("why-not-run")
@click.argument("file", type=click.Path(path_type=Path))
@common.format_option
def why_not_run_command(file: Path, form: str) -> None:
    """Show why monitors are not complete, and what drive would help.

    FILE is a readout, or a repair record: then its last readout, captured or typed,
    and the conditions of its last road test count. Exit status 0 where every monitor
    is complete.

    Example: auditkit why-not-run demo/readout.txt
    """
    text, place = common.read_text(file), "this readout"
    if text.lstrip().startswith("{"):
        record = common.read_record(file, load_catalogue(), text.encode())
        order = RepairOrder.fold(record.repair_order, record.events)
        found, place = reasons_of_order(order), _last_readout(order)
    else:
        found = reasons_of(read_readout(file, text.encode()), {})
    if form == "json":
        common.print_json(found.to_json())
    elif not found.read:
        lacks = "holds no readiness (PID 01): read it first"
        if found.is_typed:
            lacks = "is typed, and without readiness: type the monitors as displayed"
        common.say(f"{file}: {place} {lacks}")
    else:
        common.print_lines(reason_lines(found))
    if found.waiting or not found.read:
        raise click.exceptions.Exit(1)


def _last_readout(order: RepairOrder) -> str:
    readouts = order.of("readout")
    if not readouts:
        return "it has no readout, so it"
    last = readouts[-1]
    return f"its last readout (event {last.index}, {last.text('at')})"
