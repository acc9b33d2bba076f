"""``init``: a shop's log is begun."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from auditkit.cli import common, passphrases
from auditkit.errors import InputError
from auditkit.log.ledger import Ledger

_PLACES = {
    "/shop": "--shop",
    "/person": "--person",
    "/origin": "--origin",
}


@click.command("init")
@click.option(
    "--shop",
    metavar="NAME",
    required=True,
    callback=common.plain_text,
    help="The shop's name.",
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
@common.log_option
@common.passphrase_option
def init_command(
    shop: str,
    origin: str | None,
    person: str | None,
    token: str | None,
    log: Path,
    passphrase_file: Path | None,
) -> None:
    """Begin a shop's log and its keys.

    Example: auditkit init --shop "Example Yard Garage" --person tech-a
    """
    own = None
    if token is not None or not person:
        common.refuse_existing(log)  # before anything is asked for
    person = person or _asked_person()
    if token is not None:
        own = passphrases.token_key(token)
    word = common.passphrase(passphrase_file, new=True)
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
        common.print_lines(_advice(log, has_token=token is not None))


def _asked_person() -> str:
    """Return who signs first, as a person at the terminal says."""
    if not sys.stdin.isatty():
        raise InputError(
            "nobody is named who may sign",
            where="--person",
            what_to_do="give --person NAME, a short id such as tech-a",
        )
    return str(click.prompt("Who signs first (a short id, such as tech-a)"))


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
    if has_token:
        lines.append(
            "    a token's key cannot be copied: a lost token ends this log (see "
            "'auditkit succeed')"
        )
    return lines
