"""``report``: the page of a repair order's bench tests."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import click

from auditkit.cli import common
from auditkit.errors import InputError
from auditkit.order.events import RepairOrder
from auditkit.order.instruments import with_specifications
from auditkit.output.bench_report import bench_report
from auditkit.plugin.loading import load_catalogue


@click.command("report")
@click.argument("record", type=click.Path(path_type=Path))
@click.option(
    "--out", type=click.Path(path_type=Path), required=True, help="The page's new file."
)
@common.instruments_option
@click.option(
    "--issued",
    type=click.DateTime(["%Y-%m-%d"]),
    help="The day of issue; else today (UTC).",
)
def report_command(
    record: Path, out: Path, register: Path | None, issued: datetime | None
) -> None:
    """Write the report of a repair record's computed bench tests (HTML).

    Example: auditkit report RO-1001.json --out RO-1001-bench.html
    """
    if out.suffix.lower() == ".pdf":
        raise InputError(
            "the report is a page (HTML), to be read in a browser and printed",
            where=str(out),
            what_to_do=f"name {out.with_suffix('.html')}",
        )
    catalogue = load_catalogue()
    read = common.read_record(record, catalogue)
    read = with_specifications(read, common.read_register(register))
    order = RepairOrder.fold(read.repair_order, read.events)
    day = (issued or datetime.now(UTC)).date().isoformat()
    common.write_new(out, bench_report(order, catalogue, day))
    common.say(f"{out}: report of the bench tests of {order.id} written")
