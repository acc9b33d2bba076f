"""The command line: it translates, and decides nothing.

Every command lives in a module of its own that is imported when it is called, so
that ``auditkit --help`` stays quick. A plugin's commands are looked for when a name
is asked for that is none of ours.
"""

from __future__ import annotations

import importlib
import sys
from typing import NoReturn

import click

from auditkit.errors import AuditkitError, disk_advice

_NOBODY_READS = 141  # as a shell says of a program that SIGPIPE ended: no answer
# name -> (module of auditkit.cli, what --help says)
COMMANDS = {
    "attest": ("attest", "Keep in the log what outsiders said of a checkpoint."),
    "bench": ("bench", "Compute one bench test with its uncertainty."),
    "capture": ("capture", "Read a vehicle over CAN, or a CAN log file."),
    "check": ("records", "Judge repair records; write nothing."),
    "checker": ("checker", "Write the page that checks packets in a browser."),
    "checkpoint": ("logs", "Print the newest signed checkpoint, to give to others."),
    "compare": ("compare", "Show what changed between two readouts."),
    "decode": ("decode", "Show what the vehicle said in a readout."),
    "demo": ("demo", "Run an invented shop's week, and alter a log to see it found."),
    "erase": ("erase", "Erase withheld text of a repair order on request."),
    "exhibit": ("exhibit", "Write a packet's exhibit (PDF) for a lawyer, or check it."),
    "init": ("init", "Begin a shop's log and its keys."),
    "instruments": ("instruments", "List a register of instruments."),
    "key": ("keys", "Enrol people, revoke and replace keys; show the fingerprint."),
    "list": ("logs", "List the repair orders of the log."),
    "packet": ("logs", "Write the packet of one closed repair order."),
    "readiness": ("readiness", "Show what an inspection station would see."),
    "receipt": ("receipt", "Write the customer's receipt of a packet."),
    "record": ("records", "Judge, sign and append repair records, and close them."),
    "report": ("report", "Write the report page of a record's bench tests."),
    "rules": ("rules", "List the shop rules, or show one rule's page."),
    "show": ("logs", "Show one repair order of the log."),
    "stamp": ("stamp", "Have a checkpoint stamped with the time, or check a stamp."),
    "verifier": ("onefile", "Write a verifier of one file, for a bare Python."),
    "verify": ("verify", "Check a log or a packet."),
    "why-not-run": ("why_not_run", "Show which conditions keep monitors from running."),
    "witness": ("witness", "Be a witness of logs, or have a log witnessed."),
}


class LazyGroup(click.Group):
    """A group whose commands are imported when they are called."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the names of all commands that are known without plugins."""
        return sorted({*COMMANDS, *super().list_commands(ctx)})

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import and return one command; ask the plugins for a strange one."""
        if cmd_name in COMMANDS:
            module = importlib.import_module(f"auditkit.cli.{COMMANDS[cmd_name][0]}")
            command = getattr(module, f"{cmd_name.replace('-', '_')}_command")
            return command if isinstance(command, click.Command) else None
        if cmd_name not in self.commands:
            from auditkit.plugin.loading import load_plugins

            load_plugins().hook.register_commands(cli=self)
        return super().get_command(ctx, cmd_name)

    def format_commands(
        self, ctx: click.Context, formatter: click.HelpFormatter
    ) -> None:
        """Write the list of commands without importing any of them."""
        del ctx
        with formatter.section("Commands"):
            formatter.write_dl([(n, said) for n, (_, said) in COMMANDS.items()])


@click.group(cls=LazyGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="auditkit", message="auditkit %(version)s")
def cli() -> None:
    """Prove that a vehicle repair was verified.

    Exit status: 0 good, 1 the answer is no, 2 the input cannot be used.
    This tool records and reminds; the vehicle maker's procedure, local codes and
    licensed practice decide.
    """


def main(arguments: list[str] | None = None) -> NoReturn:
    """Run the command line; turn every error of ours into one clear line."""
    try:
        done = cli.main(arguments, prog_name="auditkit", standalone_mode=False)
        status = done if isinstance(done, int) else 0
    except click.ClickException as error:
        error.show()
        status = error.exit_code
    except click.Abort:
        status = 130
    except AuditkitError as error:
        click.echo(f"auditkit: {error}", err=True)
        status = error.exit_code
    except (BrokenPipeError, SystemExit):  # click exits where nobody reads on
        status = _NOBODY_READS
    except OSError as error:
        name = f"{error.filename}: " if error.filename else ""
        said = error.strerror or str(error)
        click.echo(f"auditkit: {name}{said}; {disk_advice(error)}", err=True)
        status = 2
    sys.exit(status)
