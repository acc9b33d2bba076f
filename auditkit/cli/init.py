"""``init``: a shop's log is begun."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import click

from auditkit.cli import common, passphrases
from auditkit.cli.ask import at_terminal
from auditkit.cli.beside_log import POLICY
from auditkit.cli.policy_asked import asked_policy
from auditkit.errors import InputError
from auditkit.log.ledger import Ledger
from auditkit.order.event_kinds import load
from auditkit.plugin.loading import load_catalogue
from auditkit.text.display_text import not_text

_PLACES = {
    "/shop": "--shop",
    "/person": "--person",
    "/origin": "--origin",
}


_ID = "a short id such as tech-a"
_PAPER = "plain text, as on its paperwork"


@click.command("init")
@click.option(
    "--shop",
    metavar="NAME",
    callback=common.plain_text,
    help="The shop's name; else it is asked for.",
)
@click.option(
    "--origin", metavar="NAME", help="The log's name, such as garage.example/log."
)
@click.option(
    "--person",
    metavar="NAME",
    callback=common.plain_text,
    help="Who signs first, as a manager, by a short id such as tech-a; else it is "
    "asked for.",
)
@click.option(
    "--token",
    metavar="URI",
    help="Keep the log's key in a security token (PKCS#11 URI, RFC 7512); the PIN is "
    "asked for, or stands in AUDITKIT_PIN.",
)
@click.option(
    "--usual",
    is_flag=True,
    help="Ask nothing about the policy: the usual one holds, and no policy.toml is "
    "written.",
)
@common.log_option
@common.passphrase_option
def init_command(
    shop: str | None,
    origin: str | None,
    person: str | None,
    token: str | None,
    usual: bool,
    log: Path,
    passphrase_file: Path | None,
) -> None:
    """Begin a shop's log and its keys.

    At a terminal what is not said is asked for, and then how strict the shop is with
    itself: the answers become policy.toml beside the log, which 'open', 'add',
    'status', 'close', 'record' and 'bay' take by themselves.

    Example: auditkit init --shop "Example Yard Garage" --person tech-a
    """
    own = None
    if token is not None or at_terminal():
        common.refuse_existing(log)  # before anything is asked for
    person = person or _asked("--person", "Who signs first", _ID, _is_id)
    shop = shop or _asked("--shop", "The shop's name", _PAPER, _is_name)
    if token is not None:
        own = passphrases.token_key(token)
    word = passphrases.new_passphrase(passphrase_file)
    policy = log.parent / POLICY
    chosen = None
    if at_terminal() and not usual and not policy.exists():
        chosen = asked_policy(load_catalogue())
    with (
        common.placed_as_typed(_PLACES),
        Ledger.create(
            log,
            shop=shop,
            origin=origin,
            person=person,
            passphrase=word,
            log_key=None if own is None else own(),
        ) as ledger,
    ):
        common.say(f"{log}: log begun for {shop}, {person} signs as manager")
        common.say(f"    log key {ledger.log_key.thumbprint}")
        if chosen is not None:
            common.write_new(policy, chosen)
            common.say(
                f"    {policy} holds the policy; what is beside the log is taken"
            )
        common.print_lines(_advice(log, has_token=token is not None))


def _asked(option: str, words: str, such: str, fits: Callable[[str], bool]) -> str:
    """Return a name that was not given, as a person at the terminal says it."""
    if not at_terminal():
        raise InputError(
            f"it is not said: {words[:1].lower()}{words[1:]}",
            where=option,
            what_to_do=f"give {option} NAME, {such}",
        )
    while True:
        text = str(click.prompt(f"{words} ({such})", err=True)).strip()
        if fits(text):
            return text
        click.echo(f"  this is not {such}", err=True)


def _is_id(text: str) -> bool:
    return re.search(load("common-1")["$defs"]["id"]["pattern"], text) is not None


def _is_name(text: str) -> bool:
    return bool(text) and not not_text(text, one_line=True)


def _advice(log: Path, *, has_token: bool) -> list[str]:
    """Return what a shop does next with a log that was begun."""
    lines = [
        "    what to do: print that key on your paperwork, so that others can compare",
        (
            f"    every day: 'auditkit backup --log {log} FILE'; a copy made by other "
            "means while the log is open may miss what was written last"
        ),
        (
            f"    keep one copy of {log}.keys apart from the backups, and never put "
            "both back together: nobody would notice an older log then"
        ),
        "    keep the passphrase: without it the key is lost",
    ]
    lines.append(
        "    next: your instruments in instruments.csv beside it ('auditkit "
        "instruments --help'), then 'auditkit open ORDER', or 'auditkit bay'"
    )
    if has_token:
        lines.append(
            "    a token's key cannot be copied: a lost token ends this log (see "
            "'auditkit succeed')"
        )
    return lines
