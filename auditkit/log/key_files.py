"""Private keys at rest: one encrypted PKCS#12 file for each key, in one folder.

A key in a security token has a file of one line instead: where it is.

The folder lies beside the log (``shop.auditlog.keys``), mode 0700, its files
0600. RFC 7292; the cost of guessing a passphrase is set in ``auditkit.proof.keys``.
"""

from __future__ import annotations

import hashlib
import os
from contextlib import suppress
from typing import TYPE_CHECKING

from auditkit.errors import AuditkitError, KeyProblem
from auditkit.log.disk import read_beside, sync_folder
from auditkit.log.security_token import TokenKey
from auditkit.proof.keys import PrivateKey, PublicKey

if TYPE_CHECKING:
    from collections.abc import Container
    from pathlib import Path


Kept = PrivateKey | TokenKey
SHORTEST_PASSPHRASE = 8  # bytes; our own choice, against a slip rather than a guesser
_PLACE = ".pkcs11"  # one line: the RFC 7512 URI of a key in a token


def folder_of(log: Path) -> Path:
    """Return the folder that holds the keys of a log."""
    return log.with_name(log.name + ".keys")


def save(folder: Path, name: str, key: Kept, passphrase: bytes) -> Path:
    """Write a private key, encrypted, or where a token's key is. Overwrite none."""
    if not passphrase:
        raise KeyProblem(
            "the passphrase is empty",
            where=str(folder),
            what_to_do="give one of some length",
        )
    folder.mkdir(mode=0o700, exist_ok=True)
    if isinstance(key, TokenKey):
        path, data = folder / f"{name}{_PLACE}", f"{key.uri}\n".encode()
        if path.is_file() and read_beside(path) == data:
            return path  # a call that was stopped kept it
    else:
        path, data = folder / f"{name}.p12", key.to_pkcs12(passphrase, name)
    refuse_taken(folder, name)
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(handle, "wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
    sync_folder(folder)
    return path


def refuse_taken(folder: Path, name: str) -> None:
    """Raise KeyProblem where a key of this name lies here, or in a token."""
    if has(folder, name):
        raise KeyProblem(
            f"a key of {name!r} lies here already",
            where=str(folder),
            what_to_do=f"'auditkit key rotate {name} --reason TEXT' replaces it",
        )


def load(folder: Path, name: str, passphrase: bytes) -> Kept:
    """Read a private key; raise KeyProblem where there is none or it does not open.

    A token's key opens with AUDITKIT_PIN, or else with the passphrase.
    """
    if (folder / f"{name}{_PLACE}").is_file():
        return _in_token(folder / f"{name}{_PLACE}", passphrase)
    path = folder / f"{name}.p12"
    try:
        data = read_beside(path, private=True)
    except FileNotFoundError as error:
        raise KeyProblem(
            f"there is no private key of {name!r} here",
            where=str(path),
            what_to_do="run this where the keys lie, or enrol a new key",
        ) from error
    try:
        return PrivateKey.from_pkcs12(data, passphrase)
    except KeyProblem as error:
        error.where = str(path)
        raise


def _in_token(path: Path, passphrase: bytes) -> TokenKey:
    pin = os.environ.get("AUDITKIT_PIN", "").encode() or passphrase
    try:
        uri = read_beside(path).decode().removesuffix("\n")
        return TokenKey.open(uri, pin)
    except UnicodeDecodeError as error:
        raise KeyProblem(
            "this is not the one line of a PKCS#11 URI",
            where=str(path),
            what_to_do="restore it",
        ) from error
    except AuditkitError as error:
        error.where = str(path)
        raise


def has(folder: Path, name: str) -> bool:
    """Return whether a private key of this name lies in the folder, or in a token."""
    return any((folder / f"{name}{end}").is_file() for end in (".p12", _PLACE))


def has_file(folder: Path, name: str) -> bool:
    """Return whether a key file lies here that a passphrase opens."""
    return not (folder / f"{name}{_PLACE}").is_file() and has(folder, name)


def _waiting(person: str) -> str:
    return f"{person}~next"  # no person's id holds a tilde


def waiting(
    folder: Path, person: str, passphrase: bytes, *, refused: Container[str] = ()
) -> PublicKey:
    """Return the key that waits to become a person's; make it where none waits.

    One whose thumbprint is among ``refused`` was revoked before it took its place: it
    is put aside, and another made.
    """
    name = _waiting(person)
    if has(folder, name):
        try:
            found = load(folder, name, passphrase).public
        except KeyProblem as error:
            error.what_to_do = (
                "a call that was stopped left it: give the passphrase that was typed "
                "then, or move the file away"
            )
            raise
        if found.thumbprint not in refused:
            return found
        set_aside(folder, name)
    save(folder, name, PrivateKey.generate(), passphrase)
    return load(folder, name, passphrase).public


def set_aside(folder: Path, name: str) -> None:
    """Keep a key file under a name that nothing opens; its passphrase may be lost."""
    for end in (".p12", _PLACE):
        path = folder / f"{name}{end}"
        if path.is_file():
            mark = hashlib.sha256(read_beside(path)).hexdigest()[:16]
            path.replace(folder / f"{name}~{mark}{end}")


def promote(folder: Path, person: str) -> None:
    """Put the waiting key in the place of a person's; keep the old one aside."""
    set_aside(folder, person)
    (folder / f"{_waiting(person)}.p12").replace(folder / f"{person}.p12")
    sync_folder(folder)


def drop(folder: Path, person: str, *, is_waiting: bool) -> None:
    """Delete a key file that no log names: it would be in the way of the next one."""
    name = _waiting(person) if is_waiting else person
    for end in (".p12", _PLACE):
        (folder / f"{name}{end}").unlink(missing_ok=True)


def waits(folder: Path, person: str, passphrase: bytes, active: PublicKey) -> bool:
    """Return whether a key waits that the log names already; it opens here."""
    name = _waiting(person)
    with suppress(KeyProblem):  # under another passphrase it is not meant
        return has(folder, name) and load(folder, name, passphrase).public == active
    return False


def finish(folder: Path, person: str, passphrase: bytes, active: PublicKey) -> None:
    """Put a person's waiting key in place where the log names it already."""
    if waits(folder, person, passphrase, active):
        promote(folder, person)


def load_active(
    folder: Path, person: str, passphrase: bytes, active: PublicKey
) -> Kept:
    """Return a person's private key; KeyProblem unless it was enrolled last."""
    key = load(folder, person, passphrase)
    if key.public != active:
        raise KeyProblem(
            f"the key file of {person!r} is not the key enrolled last",
            where=str(folder),
            what_to_do=f"restore it, or 'auditkit key rotate {person} --reason TEXT', "
            "which also finishes one that was stopped",
        )
    return key
