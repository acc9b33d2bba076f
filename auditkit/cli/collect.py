"""``collect``: packets of many logs, verified and judged, into one collection."""

from __future__ import annotations

import shlex
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click

from auditkit.cli import common
from auditkit.errors import InputError

if TYPE_CHECKING:
    from auditkit.fleet.collecting import Judging
    from auditkit.fleet.terms import Terms


@click.command("collect")
@click.argument(
    "folders",
    metavar="FOLDER...",
    nargs=-1,
    type=common.FilePath(path_type=Path),
)
@click.option(
    "--into",
    required=True,
    type=common.FilePath(path_type=Path),
    metavar="FILE",
    help="The collection's file; it is made where it is not there yet.",
)
@click.option(
    "--keys",
    "keys_file",
    type=click.Path(path_type=Path),
    metavar="TOML-FILE",
    help="Your own list of log keys: [[shop]] tables with name, fingerprints (a list), "
    "since and until. A log of another key is kept apart.",
)
@click.option(
    "--pseudonymous",
    "key_file",
    type=click.Path(path_type=Path),
    metavar="KEY-FILE",
    help="Keep VINs and persons under pseudonyms made with the key in this file (32 "
    "random bytes or more), and no plates and names. File names stay as they are, and "
    "order numbers but for VINs in them.",
)
@click.option(
    "--rebuild",
    is_flag=True,
    help="Read the packets that the collection holds again from where they lie, and "
    "judge them anew: after a change of rules, policy or keys.",
)
@click.option(
    "--scheduler",
    metavar="ADDRESS",
    help="Judge on a Dask cluster: its scheduler, such as tls://HOST:PORT. The files' "
    "bytes are sent to its workers. A scheduler runs whatever it is sent: let nobody "
    "else reach it, and use TLS, with the certificates of Dask's own configuration.",
)
@common.policy_option
@common.format_option
def collect_command(
    folders: tuple[Path, ...],
    into: Path,
    keys_file: Path | None,
    key_file: Path | None,
    policy_file: Path | None,
    rebuild: bool,
    scheduler: str | None,
    form: str,
) -> None:
    """Verify and judge the packets below folders, and keep what they say.

    Packets that the collection holds already are not read again. Exit status 1 where
    one does not verify, or the collection proves two histories of a log; 2, and no
    file is made, where there is no packet.

    Example: auditkit collect packets --into fleet.duckdb
    """
    from auditkit.fleet.collecting import HowCollected, collect
    from auditkit.fleet.rebuilding import rebuild as build_again

    terms = _terms(policy_file, keys_file, key_file)
    if not folders and not rebuild:
        raise InputError(
            "no folder of packets was named", what_to_do="name one, or several"
        )
    is_new = not into.exists()
    with _progress() as progress:
        how = HowCollected(terms, _judging(scheduler), progress)
        done = (build_again if rebuild else collect)(folders, into, how)
    nothing = is_new and done.found_none
    if nothing:
        into.unlink()
    if form == "json":
        common.print_json(done.to_json())
    elif done.left_out or not nothing:
        common.print_lines(done.lines())
        if not nothing:
            common.say("Next: what it says of the repairs, and what to ask of shops.")
            common.say(f"    {shlex.join(['auditkit', 'audit', str(into)])}")
    if nothing:
        raise InputError(
            "there is no packet here, and no collection was made",
            where=", ".join(map(str, folders)),
            what_to_do="name a folder of packets, or of files that carry them",
        )
    if done.is_forked or done.is_altered:
        raise click.exceptions.Exit(1)


def _terms(policy: Path | None, keys: Path | None, key: Path | None) -> Terms:
    """Return by what packets are judged and vehicles named, from files."""
    from auditkit.fleet.log_keys import NO_LIST, parse_log_keys
    from auditkit.fleet.pseudonyms import parse_key
    from auditkit.fleet.terms import Terms

    listed = NO_LIST
    if keys is not None:
        listed = parse_log_keys(common.read_text(keys), where=str(keys))
    names = None if key is None else parse_key(common.read(key), where=str(key))
    return Terms(common.read_policy(policy), listed, names)


def _judging(scheduler: str | None) -> Judging:
    """Return who judges: all cores here, or a cluster's workers."""
    if scheduler is None:
        from auditkit.fleet.collecting import on_all_cores

        return on_all_cores
    from auditkit.fleet.cluster import judged_on_cluster

    return partial(judged_on_cluster, address=scheduler)


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
