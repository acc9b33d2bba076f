"""``instruments``: the shop's register, and what is in calibration."""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path

import click

from auditkit.cli import common
from auditkit.cli.beside_log import register_of
from auditkit.errors import InputError


@click.command("instruments")
@click.argument("register", required=False, type=common.FilePath(path_type=Path))
@click.option(
    "--on",
    "day",
    type=click.DateTime(["%Y-%m-%d"]),
    help="The day to ask about; else today (UTC).",
)
@common.log_option
@common.format_option
def instruments_command(
    register: Path | None, day: datetime | None, log: Path, form: str
) -> None:
    """List a register of instruments, and whether each is in calibration.

    REGISTER is the register's JSON, or a table of it as CSV (FILE.csv) whose first row
    names the columns: id, description, unit, low, high, resolution, calibrated on, due
    and others. Without it, instruments.json or instruments.csv beside the log: what
    records there takes that by itself, and writes each specification into the bench
    tests; --instruments names another.

    Exit status 1 where one is not in calibration.

    Example: auditkit instruments instruments.json
    """
    when: date = (day or datetime.now(UTC)).date()
    known = register_of(log, register)
    if not known:
        raise InputError(
            "no register of instruments lies beside the log",
            where=str(log),
            what_to_do="name one, or keep it there as instruments.csv",
        )
    states = {name: one.state(when) for name, one in sorted(known.items())}
    if form == "json":
        common.print_json(
            [{"id": n, "on": when.isoformat(), "state": s} for n, s in states.items()]
        )
    else:
        common.print_table(
            [(name, state, known[name].description) for name, state in states.items()]
        )
    if not all(state.startswith("in calibration") for state in states.values()):
        raise click.exceptions.Exit(1)
