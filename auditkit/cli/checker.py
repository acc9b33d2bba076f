"""``checker``: what checks a packet where nothing is installed: a page, or a file."""

from __future__ import annotations

import hashlib
from pathlib import Path

import click

from auditkit.cli import common


@click.command("checker")
@click.option(
    "--one-file",
    is_flag=True,
    help="Write a file for a bare Python 3.11 or newer, in the place of the page.",
)
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    required=True,
    help="Where to write it.",
)
def checker_command(out: Path, one_file: bool) -> None:
    """Write the page that checks any packet in a browser, offline.

    With --one-file, write one file that does it where there is a Python and nothing
    else; it is run with `python3 FILE PACKET`. Either is the same bytes every time:
    publish its SHA-256, so that whoever got it elsewhere can compare.

    Example: auditkit checker --out check.html
    """
    if one_file:
        from auditkit.reader.one_file.build import build

        data = build()
        common.write_new(out, data)
        digest = hashlib.sha256(data).hexdigest()
        common.say(f"{out}: one-file checker written, SHA-256 {digest}")
        common.say(f"    run it with: python3 {out} PACKET --key FINGERPRINT")
        return
    from auditkit.reader.page.build import checker_page

    page = checker_page()
    common.write_new(out, page)
    digest = hashlib.sha256(page.encode()).hexdigest()
    common.say(f"{out}: checker page written, SHA-256 {digest}")
