"""``checkpoint``: the signed statement that others hold, and what they say of it."""

from __future__ import annotations

from pathlib import Path
from typing import ClassVar

import click
from click.core import ParameterSource

from auditkit.cli import common
from auditkit.cli.lazy import LazyGroup, Sections
from auditkit.errors import InputError
from auditkit.log.ledger import Ledger
from auditkit.log.newest_checkpoint import refuse_behind


class CheckpointGroup(LazyGroup):
    """What is done with a checkpoint besides printing it."""

    sections: ClassVar[Sections] = {
        "Commands": {
            "stamp": (
                "checkpoint_stamp",
                "Have it stamped with the time, or check a stamp.",
            ),
            "keep": ("checkpoint_keep", "Keep in the log what outsiders said of it."),
        }
    }


@click.group("checkpoint", cls=CheckpointGroup, invoke_without_command=True)
@click.option(
    "--out", type=click.Path(path_type=Path), help="Where to write it; else printed."
)
@common.log_option
@click.pass_context
def checkpoint_command(ctx: click.Context, out: Path | None, log: Path) -> None:
    """Print the newest signed checkpoint, to give to others.

    Who holds one can tell a rewritten log. An outside authority can say when it
    existed (stamp), and the log can keep what outsiders said of it (keep).

    Example: auditkit checkpoint --out monday.checkpoint
    """
    if ctx.invoked_subcommand is not None:
        _refuse_before(ctx, ctx.invoked_subcommand)
        return
    with Ledger.open(log) as ledger:
        refuse_behind(ledger)
        note = ledger.checkpoint()
    if out is None:
        common.print_exactly(note)
    else:
        common.write_new(out, note)
        common.say(f"{out}: checkpoint written; give it to someone you do not control")


def _refuse_before(ctx: click.Context, command: str) -> None:
    """Raise InputError for an option before a command that would ignore it."""
    for param in ctx.command.params:
        source = ctx.get_parameter_source(param.name or "")
        if source is ParameterSource.COMMANDLINE:
            raise InputError(
                f"this stands before '{command}', where it counts for nothing",
                where=param.opts[-1],
                what_to_do=f"write it after '{command}', if that takes it",
            )
