"""``why-not-run``: which conditions keep a monitor from running."""

from __future__ import annotations

from pathlib import Path

import click

from auditkit.cli import common
from auditkit.cli.given_readouts import order_in, read_readout
from auditkit.order.events import RepairOrder
from auditkit.order.why_not_run import reasons_of, reasons_of_order
from auditkit.output.why_not_run_lines import reason_lines


@click.command("why-not-run")
@click.argument("file", type=click.Path(path_type=Path))
@common.format_option
def why_not_run_command(file: Path, form: str) -> None:
    """Show why monitors are not complete, and what drive would help.

    FILE is a readout, or a repair record or packet: then its last readout, captured or
    typed, and the conditions of its last road test count. Exit status 0 where every
    monitor is complete.

    Example: auditkit why-not-run demo/readout.txt
    """
    data, place = common.read(file), "this readout"
    _, order = order_in(file, data)
    if order is not None:
        found, place = reasons_of_order(order), _last_readout(order)
    else:
        found = reasons_of(read_readout(file, data), {})
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
