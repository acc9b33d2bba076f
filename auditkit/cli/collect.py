"""``collect``: packets of many logs, verified and judged, into one collection."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import click

from auditkit.cli import common


@click.command("collect")
@click.argument(
    "folders",
    metavar="FOLDER...",
    nargs=-1,
    required=True,
    type=common.FilePath(path_type=Path),
)
@click.option(
    "--into",
    required=True,
    type=common.FilePath(path_type=Path),
    metavar="FILE",
    help="The collection's file; it is made where it is not there yet.",
)
@common.policy_option
@common.format_option
def collect_command(
    folders: tuple[Path, ...], into: Path, policy_file: Path | None, form: str
) -> None:
    """Verify and judge the packets below folders, and keep what they say.

    Packets that the collection holds already are not read again.

    Example: auditkit collect packets --into fleet.duckdb
    """
    from auditkit.fleet.collecting import collect

    policy = common.read_policy(policy_file)
    with _progress() as progress:
        done = collect(folders, into, policy=policy, progress=progress)
    if form == "json":
        common.print_json(done.to_json())
    else:
        common.print_lines(done.lines())
    if done.is_forked:
        raise click.exceptions.Exit(1)


@contextmanager
def _progress() -> Iterator[Callable[[int, int], None] | None]:
    """Yield what draws how many files are done; None without a terminal."""
    if not sys.stderr.isatty():
        yield None
        return
    bar = click.progressbar(
        length=1, label="Collecting", file=sys.stderr, show_pos=True
    )
    with bar:

        def draw(done: int, total: int) -> None:
            bar.length = total
            bar.update(done - bar.pos)

        yield draw
