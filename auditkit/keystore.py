"""Private keys at rest: one encrypted PKCS#12 file a key, in one folder.

The folder lies beside the log (``shop.auditlog.keys``), mode 0700, its files
0600. RFC 7292; the cost of guessing a passphrase is set in ``auditkit.keys``.
"""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

from auditkit.errors import KeyProblem
from auditkit.keys import PrivateKey, PublicKey

if TYPE_CHECKING:
    from pathlib import Path


def folder_of(log: Path) -> Path:
    """Return the folder that holds the keys of a log."""
    return log.with_name(log.name + ".keys")


def save(folder: Path, name: str, key: PrivateKey, passphrase: bytes) -> Path:
    """Write a private key, encrypted; never over an existing file."""
    if not passphrase:
        message = "the passphrase is empty"
        raise KeyProblem(message, where=str(folder), mend="give one of some length")
    folder.mkdir(mode=0o700, exist_ok=True)
    path = folder / f"{name}.p12"
    data = key.to_pkcs12(passphrase, name)
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError as error:
        message = "a key lies here already"
        mend = "move it away if it is no longer used"
        raise KeyProblem(message, where=str(path), mend=mend) from error
    with os.fdopen(handle, "wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
    return path


def load(folder: Path, name: str, passphrase: bytes) -> PrivateKey:
    """Read a private key; raise KeyProblem where there is none or it stays shut."""
    path = folder / f"{name}.p12"
    try:
        data = path.read_bytes()
    except FileNotFoundError as error:
        message = f"there is no private key of {name!r} here"
        mend = "run this where the keys lie, or enrol a new key"
        raise KeyProblem(message, where=str(path), mend=mend) from error
    try:
        return PrivateKey.from_pkcs12(data, passphrase)
    except KeyProblem as error:
        error.where = str(path)
        raise


def has(folder: Path, name: str) -> bool:
    """Return whether a private key of this name lies in the folder."""
    return (folder / f"{name}.p12").is_file()


def _waiting(person: str) -> str:
    return f"{person}~next"  # no person's id holds a tilde


def waiting(folder: Path, person: str, passphrase: bytes) -> PublicKey:
    """Return the key that waits to replace a person's; make it where none waits."""
    name = _waiting(person)
    if not has(folder, name):
        save(folder, name, PrivateKey.generate(), passphrase)
    return load(folder, name, passphrase).public


def promote(folder: Path, person: str, passphrase: bytes) -> None:
    """Put the waiting key in the place of a person's; keep the old one aside."""
    own = folder / f"{person}.p12"
    if own.is_file():
        old = load(folder, person, passphrase).public.thumbprint
        own.replace(folder / f"{person}~{old}.p12")
    (folder / f"{_waiting(person)}.p12").replace(own)
