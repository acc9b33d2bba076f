"""A group of commands that are imported when they are called: start-up stays quick."""

from __future__ import annotations

import importlib
from collections.abc import Mapping
from typing import ClassVar

import click

# A heading of --help -> a command's name -> (module of auditkit.cli, what --help says)
Sections = Mapping[str, Mapping[str, tuple[str, str]]]


class LazyGroup(click.Group):
    """A group that knows of its commands what ``--help`` says: a subclass states it.

    The module that holds a command ``why-not-run`` names it ``why_not_run_command``.
    """

    sections: ClassVar[Sections]

    @property
    def homes(self) -> dict[str, str]:
        """The module of auditkit.cli that holds each command."""
        return {
            name: module
            for section in self.sections.values()
            for name, (module, _) in section.items()
        }

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the names of all commands, in the order of ``--help``."""
        return [*self.homes, *super().list_commands(ctx)]

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import and return one command, None where none is called so."""
        home = self.homes.get(cmd_name)
        if home is None:
            return super().get_command(ctx, cmd_name)
        module = importlib.import_module(f"auditkit.cli.{home}")
        command = getattr(module, f"{cmd_name.replace('-', '_')}_command")
        return command if isinstance(command, click.Command) else None

    def format_commands(
        self, ctx: click.Context, formatter: click.HelpFormatter
    ) -> None:
        """Write the sections of commands without importing any of them."""
        del ctx
        for heading, section in self.sections.items():
            with formatter.section(heading):
                formatter.write_dl(
                    [(name, said) for name, (_, said) in section.items()]
                )
