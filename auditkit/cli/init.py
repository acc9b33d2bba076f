"""``init``: a shop's log is begun, or one that continues another."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from auditkit.cli import common
from auditkit.errors import InputError
from auditkit.log.ledger import Ledger
from auditkit.proof.note import checkpoint_text
from auditkit.text.display_text import plural

_PLACES = {
    "/shop": "--shop",
    "/person": "--person",
    "/role": "--role",
    "/origin": "--origin",
    "/reason": "--reason",
    "/predecessor/reason": "--reason",
}


@click.command("init")
@click.option("--shop", metavar="NAME", callback=common.plain, help="The shop's name.")
@click.option(
    "--origin", metavar="NAME", help="The log's name, such as garage.example/log."
)
@click.option(
    "--person",
    metavar="NAME",
    callback=common.plain,
    help="Who signs first, by a short id such as tech-a; else it is asked for.",
)
@click.option(
    "--role", callback=common.plain, help="What that person does, such as technician."
)
@click.option(
    "--after",
    type=click.Path(path_type=Path),
    metavar="LOG",
    help="Continue this log under a new name: after a loss, or for a new key.",
)
@click.option(
    "--reason",
    metavar="TEXT",
    callback=common.plain,
    help="Why, for the new log's first entry.",
)
@click.option(
    "--new-key",
    is_flag=True,
    help="With --after: a new log key, where the old one is lost, known to others, "
    "or to be replaced.",
)
@click.option(
    "--lost",
    "lost_file",
    type=click.Path(path_type=Path),
    metavar="CHECKPOINT-FILE",
    help="With --after: the largest checkpoint that others hold and this copy lacks.",
)
@click.option(
    "--token",
    metavar="URI",
    help="Keep the log's key in a security token (PKCS#11 URI, RFC 7512); the PIN is "
    "asked for, or stands in AUDITKIT_PIN.",
)
@common.log_option
@common.passphrase_option
def init_command(  # noqa: PLR0913, PLR0917  one a choice of the command line
    shop: str | None,
    origin: str | None,
    person: str | None,
    role: str | None,
    after: Path | None,
    reason: str | None,
    new_key: bool,  # noqa: FBT001  click passes it by name
    lost_file: Path | None,
    token: str | None,
    log: Path,
    passphrase_file: Path | None,
) -> None:
    """Begin a shop's log and its keys.

    With --after, begin the log that continues another, which can be signed no more: an
    older copy was put back, or its key is lost, known to others or to be replaced.

    Example: auditkit init --shop "Example Yard Garage" --person tech-a
    """
    if after is not None:
        if shop or origin or token or role:
            message = "a log that continues another takes shop, name and key from it"
            what_to_do = "leave out --shop, --origin, --role and --token"
            raise InputError(message, where="--after", what_to_do=what_to_do)
        _continue(after, log, reason, passphrase_file, lost_file, person, new_key)
        return
    if shop is None or reason or new_key or lost_file:
        message = (
            "the shop's name is missing, or an option that belongs to --after is in"
        )
        raise InputError(
            message, what_to_do='write: auditkit init --shop "NAME" --person NAME'
        )
    own = None
    if token is not None or not person:
        common.refuse_existing(log)  # before anything is asked for
    person = person or _asked_person()
    if token is not None:
        own = common.token_key(token)
    word = common.passphrase(passphrase_file, new=True)
    with (
        common.places(_PLACES),
        Ledger.create(
            log,
            shop=shop,
            origin=origin,
            person=person,
            role=role,
            passphrase=word,
            log_key=None if own is None else own(),
        ) as ledger,
    ):
        common.say(f"{log}: log begun for {shop}, {person} may sign")
        common.say(f"    log key {ledger.log_key.thumbprint}")
        common.print_lines(_advice(log, has_token=token is not None))


def _asked_person() -> str:
    """Return who signs first, as a person at the terminal says."""
    if not sys.stdin.isatty():
        message = "nobody is named who may sign"
        what_to_do = "give --person NAME, a short id such as tech-a"
        raise InputError(message, where="--person", what_to_do=what_to_do)
    return str(click.prompt("Who signs first (a short id, such as tech-a)"))


def _advice(log: Path, *, has_token: bool) -> list[str]:
    """Return what a shop does next with a log that was begun."""
    lines = [
        "    next: print that key on your paperwork, so that others can compare it",
        (
            f"    back up {log} every day; keep one copy of {log}.keys apart from it, "
            "and never put both back together: nobody would notice an older copy then"
        ),
        "    keep the passphrase: without it the key is lost",
    ]
    if has_token:
        lines.append(
            "    a token's key cannot be copied: a lost token ends this log (see "
            "'auditkit init --after')"
        )
    return lines


def _continue(  # noqa: PLR0913, PLR0917  as the command line has them
    old: Path,
    new: Path,
    reason: str | None,
    passphrase_file: Path | None,
    lost_file: Path | None,
    person: str | None,
    new_key: bool,  # noqa: FBT001
) -> None:
    from auditkit.log.succession import refuse_unclear, succeed

    why = refuse_unclear(reason)
    lost = None
    if lost_file is not None:
        lost = checkpoint_text(common.read_text(lost_file), where=str(lost_file))
    with common.places(_PLACES):
        done = succeed(
            old,
            new,
            reason=why,
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
        common.say(f"    next: auditkit key enrol {name} --log {new}")
    if not done.is_same_key:
        common.say(
            "    next: print the new key on your paperwork, and tell those who hold "
            "the old one: they cannot know by themselves"
        )
    common.say(f"    keep {old} and its keys: its packets are made from it")
