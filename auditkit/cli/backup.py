"""``backup``: a whole copy of the log, verified."""

from __future__ import annotations

from pathlib import Path

import click

from auditkit.cli import common, progress
from auditkit.text.display_text import plural


@click.command("backup")
@click.argument("to", type=click.Path(path_type=Path))
@common.log_option
def backup_command(to: Path, log: Path) -> None:
    """Copy the log and its attachments to a new file TO, and verify the copy.

    Others may write to the log meanwhile. The private keys are not copied: keep a copy
    of their folder elsewhere.

    Example: auditkit backup /media/stick/2026-11-26.auditlog
    """
    from auditkit.log.backup import back_up

    with progress.verifying() as draw:
        made = back_up(log, to, progress=draw)
    entries = plural(made.report.entries, "entry", "entries")
    pictures = plural(made.attachments, "attachment", "attachments")
    common.say(
        f"{to}: {entries} and {pictures} copied, and the copy verified; the private "
        "keys are not in it"
    )
