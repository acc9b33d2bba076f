"""``instruments``: the shop's register, and what is in calibration."""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path

import click

from auditkit.cli import common


@click.command("instruments")
@click.argument("register", type=click.Path(path_type=Path))
@click.option(
    "--on",
    "day",
    type=click.DateTime(["%Y-%m-%d"]),
    help="The day to ask about; else today (UTC).",
)
@common.format_option
def instruments_command(register: Path, day: datetime | None, form: str) -> None:
    """List a register of instruments, and whether each is in calibration.

    REGISTER is the register's JSON, or a table of it as CSV (FILE.csv) whose first row
    names the columns: id, description, unit, low, high, resolution, on, due and others.

    Exit status 1 where one is not. `auditkit check` and `auditkit record` take the
    register with --instruments and write each specification into the bench tests.

    Example: auditkit instruments instruments.json
    """
    when: date = (day or datetime.now(UTC)).date()
    known = common.read_register(register)
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
