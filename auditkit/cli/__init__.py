"""The command line: it translates, and decides nothing.

Every command lives in a module of its own that is imported when it is called, so
that ``auditkit --help`` stays quick. So is a plugin's: its name stands in an entry
point.
"""

from __future__ import annotations

import sys
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from typing import ClassVar, NoReturn, TextIO

import click

from auditkit.cli import plugin_commands
from auditkit.cli.commands import SECTIONS
from auditkit.cli.lazy import LazyGroup, Sections
from auditkit.errors import AuditkitError, disk_advice

_NOBODY_READS = 141  # as a shell says of a program that SIGPIPE ended: no answer


class CommandLine(LazyGroup):
    """Our own commands, and those of plugins."""

    sections: ClassVar[Sections] = SECTIONS

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the names of all commands, in the order of ``--help``."""
        own = super().list_commands(ctx)
        return [*own, *(name for name in plugin_commands.origins() if name not in own)]

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import and return one command; a plugin's where none of ours is so called."""
        own = super().get_command(ctx, cmd_name)
        return plugin_commands.load(cmd_name) if own is None else own

    def format_commands(
        self, ctx: click.Context, formatter: click.HelpFormatter
    ) -> None:
        """Write the sections of commands without importing any of them."""
        super().format_commands(ctx, formatter)
        brought = plugin_commands.origins()
        rows = [(name, brought[name]) for name in brought if name not in self.homes]
        if rows:
            with formatter.section("Of plugins"):
                formatter.write_dl(rows)


@click.group(
    cls=CommandLine,
    context_settings={"help_option_names": ["-h", "--help"]},
)
@click.version_option(package_name="auditkit", message="auditkit %(version)s")
def cli() -> None:
    """Prove that a vehicle repair was verified.

    Exit status: 0 good, 1 the answer is no, 2 the input cannot be used.
    This tool records and reminds; the vehicle maker's procedure, local codes and
    licensed practice decide.
    """


def _complain(text: str) -> None:
    from auditkit.cli import common  # heavy, and --help stays quick

    common.say(f"auditkit: {text}", err=True)


@contextmanager
def _warnings_in_one_line() -> Iterator[None]:
    """Print a warning of ours as one line, and any other as Python does."""
    with warnings.catch_warnings():
        shown = warnings.showwarning

        def show(
            message: Warning | str,
            category: type[Warning],
            filename: str,
            lineno: int,
            file: TextIO | None = None,
            line: str | None = None,
        ) -> None:
            if category.__module__.startswith("auditkit."):
                _complain(str(message))
            else:
                shown(message, category, filename, lineno, file, line)

        warnings.showwarning = show
        yield


def main(arguments: list[str] | None = None) -> NoReturn:
    """Run the command line; turn every error of ours into one clear line."""
    try:
        with _warnings_in_one_line():
            done = cli.main(arguments, prog_name="auditkit", standalone_mode=False)
        status = done if isinstance(done, int) else 0
    except click.ClickException as error:
        error.show()
        status = error.exit_code
    except click.Abort:
        status = 130
    except AuditkitError as error:
        _complain(str(error))
        status = error.exit_code
    except (BrokenPipeError, SystemExit):  # click exits where nobody reads on
        status = _NOBODY_READS
    except OSError as error:
        name = f"{error.filename}: " if error.filename else ""
        said = error.strerror or str(error)
        _complain(f"{name}{said}; {disk_advice(error)}")
        status = 2
    sys.exit(status)
