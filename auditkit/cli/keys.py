"""``key``: who may sign, and the shop's fingerprint."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import click

from auditkit.cli import common, passphrases
from auditkit.errors import InputError
from auditkit.log.ledger import Ledger
from auditkit.log.people import Person
from auditkit.output.listings import people_lines
from auditkit.proof.keys import PublicKey
from auditkit.proof.note import vkey
from auditkit.proof.role import Role

_PLACES = {"/person": "PERSON", "/reason": "--reason"}


def own_passphrase_option(command: common.Command) -> common.Command:
    """Add --own-passphrase-file to a command."""
    return click.option(
        "--own-passphrase-file",
        type=click.Path(path_type=Path),
        help="A file whose first line is the passphrase for the new key; otherwise it "
        "is asked for where the log key's was, otherwise it is the log key's.",
    )(command)


def _own(person: str, file: Path | None, log_file: Path | None) -> bytes | None:
    return passphrases.own_passphrase(file, person, asks=log_file is None)


@click.group("key")
def key_command() -> None:
    """Enrol and revoke people; show the shop's fingerprint.

    Example: auditkit key show
    """


@key_command.command("show")
@common.log_option
@common.format_option
def show(log: Path, form: str) -> None:
    """Show the log's key: its fingerprint, to compare, and its C2SP form.

    Example: auditkit key show
    """
    with Ledger.open(log) as ledger:
        found = {
            "shop": ledger.shop,
            "origin": ledger.origin,
            "log_key": ledger.log_key.thumbprint,
            "vkey": vkey(ledger.origin, ledger.log_key),
        }
    if form == "json":
        common.print_json(found)
    else:
        common.print_lines(f"{name}: {value}" for name, value in found.items())


@key_command.command("list")
@common.log_option
@common.format_option
def list_people(log: Path, form: str) -> None:
    """List everyone who is enrolled, or once was: role and key.

    Example: auditkit key list
    """
    with Ledger.open(log) as ledger:
        people = ledger.people()
    if form == "json":
        common.print_json([dataclasses.asdict(person) for person in people])
    else:
        common.print_lines(people_lines(people))


@key_command.command("enrol")
@click.argument("person", callback=common.plain_text)
@click.option(
    "--role",
    type=click.Choice([str(role) for role in Role]),
    default=str(Role.TECHNICIAN),
    show_default=True,
    help="A technician records; a manager also enrols and revokes; an onlooker looks "
    "and signs nothing.",
)
@click.option("--public", metavar="X", help="Their own public key (43 characters).")
@click.option(
    "--token",
    metavar="URI",
    help="Keep their key in a security token (PKCS#11 URI, RFC 7512); the PIN is asked "
    "for, or stands in AUDITKIT_PIN.",
)
@own_passphrase_option
@common.log_option
@common.passphrase_option
def enrol(
    person: str,
    role: str,
    public: str | None,
    token: str | None,
    own_passphrase_file: Path | None,
    log: Path,
    passphrase_file: Path | None,
) -> None:
    """Enrol a person with a new key, or with a public key of their own.

    The log's key signs it, so a manager's passphrase is asked for; then the person
    types one of their own, for the new key.

    Example: auditkit key enrol tech-b --role onlooker
    """
    with Ledger.open(log) as ledger:
        if public is not None and token is not None:
            raise InputError(
                "--public and --token are two keys of one person",
                what_to_do="leave one of the two out",
            )
        key = None if public is None else PublicKey.from_x(public)
        own = None if token is None else passphrases.token_key(token)
        word = passphrases.log_passphrase(passphrase_file)
        with common.placed_as_typed(_PLACES):
            made = ledger.enrol(
                person,
                passphrase=word,
                own_passphrase=_own(person, own_passphrase_file, passphrase_file)
                if key is None and own is None
                else None,
                role=Role(role),
                key=key,
                own=None if own is None else own(),
            )
    common.say(f"{log}: {_enrolled(made)}")
    common.say(f"    key {made.thumbprint}")


def _enrolled(made: Person) -> str:
    return f"{made.id} enrolled as {made.role} by entry {made.enrolled_seq}"


@key_command.command("revoke")
@click.argument("person", callback=common.plain_text)
@click.option(
    "--reason", required=True, callback=common.plain_text, help="Why, for the log."
)
@click.option(
    "--last",
    "is_last",
    is_flag=True,
    help="The shop ends: the last manager's key too, after which nobody manages.",
)
@common.log_option
@common.passphrase_option
def revoke(
    person: str, reason: str, is_last: bool, log: Path, passphrase_file: Path | None
) -> None:
    """Revoke a person's key: what it signs from now on is refused.

    The last manager's is refused, so that a shop is not left without one: enrol
    another first, replace a lost or stolen key with `key rotate`, or say `--last`.

    Example: auditkit key revoke tech-a --reason "left the shop"
    """
    with Ledger.open(log) as ledger:
        word = passphrases.log_passphrase(passphrase_file)
        with common.placed_as_typed(_PLACES):
            gone = ledger.revoke(
                person, reason=reason, passphrase=word, is_last=is_last
            )
    common.say(
        f"{log}: key {gone.thumbprint} of {gone.id} revoked by entry {gone.revoked_seq}"
    )


@key_command.command("rotate")
@click.argument("person", callback=common.plain_text)
@click.option(
    "--reason", required=True, callback=common.plain_text, help="Why, for the log."
)
@click.option(
    "--role",
    type=click.Choice([str(role) for role in Role]),
    help="Another role from now on; else it stays.",
)
@own_passphrase_option
@common.log_option
@common.passphrase_option
def rotate(
    person: str,
    reason: str,
    role: str | None,
    own_passphrase_file: Path | None,
    log: Path,
    passphrase_file: Path | None,
) -> None:
    """Put a new key in the place of a person's: revoked and enrolled in one turn.

    Also the way on where a person's passphrase is forgotten: the log's key signs it.

    Example: auditkit key rotate tech-a --reason "a new year"
    """
    with Ledger.open(log) as ledger:
        word = passphrases.log_passphrase(passphrase_file)
        with common.placed_as_typed(_PLACES):
            made = ledger.rotate(
                person,
                reason=reason,
                passphrase=word,
                own_passphrase=_own(person, own_passphrase_file, passphrase_file),
                role=None if role is None else Role(role),
            )
    common.say(f"{log}: new key: {_enrolled(made)}")
    common.say(f"    key {made.thumbprint}")
