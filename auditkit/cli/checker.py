"""``checker``: the page with which anyone checks a packet in a browser."""

from __future__ import annotations

from pathlib import Path

import click

from auditkit.cli import common
from auditkit.reader.page.build import checker_page, checker_sha256


@click.command("checker")
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    required=True,
    help="Where to write the page.",
)
def checker_command(out: Path) -> None:
    """Write the page that checks any packet in a browser, offline.

    The page is the same bytes every time: publish its SHA-256, so that whoever got
    the page elsewhere can compare.

    Example: auditkit checker --out check.html
    """
    common.write_new(out, checker_page())
    common.say(f"{out}: checker page written, SHA-256 {checker_sha256()}")
