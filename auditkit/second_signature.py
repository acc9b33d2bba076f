"""A log's second key: ML-DSA-44, for the copies of a checkpoint that leave the shop.

The log keeps its checkpoints with the Ed25519 signature alone, since a packet repeats
its checkpoint in every proof. Where a checkpoint goes out, to be held, witnessed or
stamped, the second signature is put below it. It holds against whoever will one day
compute the Ed25519 key, for readers who have its verifier key from before that day.
"""

from __future__ import annotations

import os
from pathlib import Path

from auditkit import keystore, mldsa, note
from auditkit.errors import InputError, KeyProblem

_KEY, _PUBLIC = "log.mldsa.pem", "log.mldsa.vkey"


def make(log: Path, origin: str, passphrase: bytes) -> str:
    """Make a log's second key, encrypted beside the first; return its verifier key."""
    folder = keystore.folder_of(log)
    if (folder / _KEY).exists():
        message = "this log has its second key already"
        mend = "move it away first if it shall be replaced"
        raise KeyProblem(message, where=str(folder / _KEY), mend=mend)
    key = mldsa.PrivateKey.generate()
    vkey = mldsa.make_cosigner(origin, key.public).vkey
    _write(folder / _PUBLIC, f"{vkey}\n".encode())
    _write(folder / _KEY, key.to_pkcs8(passphrase))
    return vkey


def _write(path: Path, data: bytes) -> None:
    part = path.with_name(path.name + ".part")
    with os.fdopen(os.open(part, os.O_WRONLY | os.O_CREAT, 0o600), "wb") as file:
        file.truncate()
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
    part.replace(path)


def vkey_of(log: Path) -> str | None:
    """Return the verifier key of a log's second key, None where it has none."""
    try:
        text = (keystore.folder_of(log) / _PUBLIC).read_text("utf-8").strip()
    except FileNotFoundError:
        return None
    return mldsa.parse_vkey(text).vkey


def sign(log: Path, text: str, passphrase: bytes, at: int) -> str:
    """Return a checkpoint's note with the log's second signature below.

    ``at`` is the time at which this is the log's largest checkpoint, in seconds since
    1970 (C2SP tlog-cosignature v1.1.0-rc.1). Raises KeyProblem where no key lies here.
    """
    path = keystore.folder_of(log) / _KEY
    vkey = vkey_of(log)
    if vkey is None or not path.is_file():
        message = "this log has no second key here"
        mend = f"make one with 'auditkit key second --log {log}'"
        raise KeyProblem(message, where=str(path), mend=mend)
    signed, _ = note.split_note(text)
    origin = note.parse_checkpoint(signed).origin
    try:
        key = mldsa.PrivateKey.from_pkcs8(path.read_bytes(), passphrase)
    except (KeyProblem, InputError) as error:
        raise error.at(str(path)) from error
    if mldsa.make_cosigner(origin, key.public).vkey != vkey:
        message = "this is not the second key of this log"
        raise KeyProblem(message, where=str(path), mend="restore it from a backup")
    return text + mldsa.sign_line(signed, origin, key, at)
