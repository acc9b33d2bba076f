"""``cautions``: the hazard notices, each as it is read before its step."""

from __future__ import annotations

import click

from auditkit.cli import common
from auditkit.errors import InputError
from auditkit.output.caution_lines import caution_lines
from auditkit.plugin.loading import load_catalogue
from auditkit.text.display_text import quoted


@click.command("cautions")
@click.argument("name", required=False)
def cautions_command(name: str | None) -> None:
    """List the cautions, or show one as it is to be read before a step.

    Example: auditkit cautions fuel-vapour
    """
    known = load_catalogue().cautions
    if name is None:
        common.print_table([(c.id, c.signal_word, c.hazard) for c in known.values()])
    elif name not in known:
        raise InputError(
            f"no caution is called {quoted(name)}",
            what_to_do=f"use one of {', '.join(known)}",
        )
    else:
        common.print_lines(caution_lines(known[name]))
