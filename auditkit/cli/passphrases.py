"""Which passphrase opens what: the log's key, a person's own, a new one.

A person's key signs what that person records; the log's key signs its checkpoints, and
who may sign. In a shop where one person works both have one passphrase, and nothing
here is asked for.
"""

from __future__ import annotations

import os
import sys
from typing import TYPE_CHECKING

import click

from auditkit.cli import common
from auditkit.errors import KeyProblem

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from auditkit.log.ledger import Ledger
    from auditkit.log.security_token import TokenKey
    from auditkit.proof.keys import SigningKey

_VARIABLE = "AUDITKIT_LOG_PASSPHRASE"
_OF_THE_LOG = "Passphrase of the log's key"


def log_passphrase(file: Path | None) -> bytes:
    """Return the passphrase of the log's key, for what that key alone signs."""
    given = os.environ.get(_VARIABLE)
    if given and file is None:
        return given.encode()
    return common.passphrase(file, asking=_OF_THE_LOG)


def own_passphrase(file: Path | None, person: str, *, asks: bool) -> bytes | None:
    """Return the passphrase for a person's own key; None for the log key's.

    ``asks`` is whether whoever sits at the terminal types passphrases at all.
    """
    if file is not None:
        return common.told_if_short(common.passphrase(file))
    if not (asks and _is_typed()):
        return None
    asking = f"{person} types a passphrase of their own (empty for the log's)"
    return _typed_twice(asking, default="") or None


def new_passphrase(file: Path | None) -> bytes:
    """Return the passphrase under which a first key is kept."""
    if file is None and _is_typed():
        return _typed_twice("New passphrase for these keys", default=None)
    return common.passphrase(file, new=True)


def _is_typed() -> bool:
    return "AUDITKIT_PASSPHRASE" not in os.environ and sys.stdin.isatty()


def _typed_twice(asking: str, *, default: str | None) -> bytes:
    """Ask for a new passphrase until it is as long as it has to be, or the default."""
    from auditkit.log.key_files import SHORTEST_PASSPHRASE

    while True:
        found: str = click.prompt(
            asking,
            default=default,
            hide_input=True,
            show_default=False,
            confirmation_prompt=True,
        )
        if found == default or len(found.encode()) >= SHORTEST_PASSPHRASE:
            return found.encode()
        common.say(
            f"  too short, it would be guessed; type {SHORTEST_PASSPHRASE} characters "
            "or more",
            err=True,
        )


def unlock(
    ledger: Ledger, person: str, file: Path | None
) -> tuple[SigningKey, SigningKey]:
    """Open the key of a person and the log's; return both.

    The log's opens by its own passphrase, or by the person's: in a shop where one
    person works they are one.
    """
    word = common.passphrase(file)
    own = ledger.signer(person, word)
    given = os.environ.get(_VARIABLE)
    try:
        key = ledger.log_signer(given.encode() if given else word)
    except KeyProblem as error:
        if given or not sys.stdin.isatty():
            error.what_to_do += (
                f"; {_VARIABLE} holds the log key's, where yours is another"
            )
            raise
        asked: str = click.prompt(_OF_THE_LOG, hide_input=True)
        key = ledger.log_signer(asked.encode())
    ledger.keep_unlocked(key)
    return own, key


def token_key(uri: str) -> Callable[[], TokenKey]:
    """Look for the token that a PKCS#11 URI names; return what gives the key in it.

    Where the token holds no such key it is made when it is asked for, not before: other
    options may be refused first.
    """
    from auditkit.log.security_token import NoKey, TokenKey, make_key
    from auditkit.log.token_uri import parse_uri

    parse_uri(uri)
    pin = os.environ.get("AUDITKIT_PIN", "")
    if not pin and sys.stdin.isatty():
        pin = click.prompt("PIN of the token", hide_input=True)
    if not pin:
        raise KeyProblem(
            "no PIN was given for the token", what_to_do="set AUDITKIT_PIN"
        )
    try:
        found = TokenKey.open(uri, pin.encode())
    except NoKey:
        return lambda: make_key(uri, pin.encode())
    return lambda: found
