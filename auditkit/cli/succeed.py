"""``succeed``: a log is continued under a new name."""

from __future__ import annotations

from pathlib import Path

import click

from auditkit.cli import common
from auditkit.log.succession import succeed
from auditkit.proof.note import checkpoint_text
from auditkit.text.display_text import plural

_PLACES = {
    "/person": "--person",
    "/reason": "--reason",
    "/predecessor/reason": "--reason",
}


@click.command("succeed")
@click.argument("old", type=click.Path(path_type=Path))
@click.argument("new", type=click.Path(path_type=Path))
@click.option(
    "--reason",
    metavar="TEXT",
    required=True,
    callback=common.plain_text,
    help="Why, for the new log's first entry.",
)
@click.option(
    "--new-key",
    is_flag=True,
    help="A new log key, where the old one is lost, known to others, or to be "
    "replaced.",
)
@click.option(
    "--lost",
    "lost_file",
    type=click.Path(path_type=Path),
    metavar="CHECKPOINT-FILE",
    help="The largest checkpoint that others hold and OLD lacks.",
)
@click.option(
    "--person",
    metavar="NAME",
    callback=common.plain_text,
    help="Who signs first in NEW; needed where nobody's key opens.",
)
@common.passphrase_option
def succeed_command(
    old: Path,
    new: Path,
    reason: str,
    new_key: bool,
    lost_file: Path | None,
    person: str | None,
    passphrase_file: Path | None,
) -> None:
    """Begin the log NEW, which continues the log OLD under a name of its own.

    For a log that can be signed no more: an older copy was put back, or its key is
    lost, known to others or to be replaced. Shop, people and key are those of OLD.

    Example: auditkit succeed shop.auditlog second.auditlog --reason "the disk broke"
    """
    lost = None
    if lost_file is not None:
        lost = checkpoint_text(common.read_text(lost_file), where=str(lost_file))
    with common.placed_as_typed(_PLACES):
        done = succeed(
            old,
            new,
            reason=reason,
            passphrase=common.passphrase(passphrase_file, new=True),
            new_key=new_key,
            person=person,
            lost=lost,
        )
    if done.begun:
        common.say(f"{new}: log {done.origin} begun; it continues {old}")
    else:
        common.say(f"{new}: it continues {old} already; nothing new was begun")
    common.say(f"    log key {done.log_key}{', as before' * done.is_same_key}")
    common.say(f"    may sign: {', '.join(done.people)}")
    if done.lost > 0:
        gone = plural(done.lost, "entry is", "entries are")
        common.say(f"    {gone} lost; whoever holds packets of them can verify those")
    if done.closed is None:
        common.say(f"    {old} could not be closed: write nothing to it any more")
    else:
        common.say(f"    {old} is closed by its entry {done.closed}")
    for name in (n for n in done.without_key if n not in done.people):
        common.say(f"    what to do: auditkit key enrol {name} --log {new}")
    if not done.is_same_key:
        common.say(
            "    what to do: print the new key on your paperwork, and tell those who "
            "hold the old one: they cannot know by themselves"
        )
    common.say(f"    keep {old} and its keys: its packets are made from it")
