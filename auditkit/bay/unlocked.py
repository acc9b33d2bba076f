"""Opening a person's key in a short-lived process of its own.

Opening a key file is slow, since guessing must be, and for that tenth of a second no
other thread of the process moves. So another process does it and hands the key back
over a pipe. One at a time: whoever guesses waits in line.

A name that nobody has costs what a wrong passphrase costs, and is answered alike.
A key in a security token is not opened here: its PIN would be guessed over the network.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING

from auditkit.errors import AuditkitError, KeyProblem
from auditkit.log import key_files
from auditkit.proof.keys import PrivateKey, PublicKey
from auditkit.text.base64url import decode64, encode64

if TYPE_CHECKING:
    from auditkit.proof.keyring import Enrolled

_SECONDS = 30  # a machine that needs longer for one key is not answering


class DoesNotOpen(KeyProblem):
    """Name and passphrase open no key; which of the two is wrong is not told."""

    def __init__(self) -> None:
        super().__init__(
            "this passphrase opens no key of that name",
            what_to_do="type both again; a manager sees who is enrolled, and replaces "
            "a forgotten one, with 'auditkit key'",
        )


class KeyOpener:
    """Opens the keys in one folder, one at a time, each in a process of its own."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._turn = Lock()
        # What a name that nobody has is tried on; nobody knows what opens it.
        self._decoy = encode64(_decoy())

    def open(
        self, person: str, passphrase: bytes, enrolled: Enrolled | None
    ) -> PrivateKey:
        """Return the private key of an enrolment; DoesNotOpen, whatever is wrong.

        ``enrolled`` is None where nobody of that name is.
        """
        asked = {"passphrase": encode64(passphrase), "decoy": self._decoy}
        if enrolled is not None and key_files.has_file(self._folder, person):
            asked |= {
                "folder": str(self._folder),
                "person": person,
                "active": enrolled.key.x,
            }
        with self._turn:
            seed = _asked(json.dumps(asked))
        if seed is None:
            raise DoesNotOpen
        return PrivateKey.from_seed(seed)


def _decoy() -> bytes:
    unknown = PrivateKey.generate().to_seed()
    return PrivateKey.generate().to_pkcs12(encode64(unknown).encode(), "nobody")


def _asked(question: str) -> bytes | None:
    """Return the seed that a new process finds, None where nothing opens."""
    # -P: what lies in the folder where the bay was started is not run.
    command = [sys.executable, "-P", "-m", __name__]
    with subprocess.Popen(  # noqa: S603  our own module
        command,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
    ) as opening:
        try:
            said, _ = opening.communicate(question.encode(), _SECONDS)
        except subprocess.TimeoutExpired:
            opening.kill()
            said = b""
    if opening.returncode not in {0, 1}:
        # Raised outside the except clause: what was heard so far hangs on no error.
        raise KeyProblem(
            "the process that opens keys did not answer",
            what_to_do="try again; start the bay anew if it goes on",
        )
    return decode64(said.decode()) if opening.returncode == 0 else None


def _answer(question: str) -> bytes | None:
    """Return the seed of the key that is asked for; None where it does not open."""
    asked = json.loads(question)
    passphrase = decode64(asked["passphrase"])
    try:
        if "person" not in asked:
            PrivateKey.from_pkcs12(decode64(asked["decoy"]), passphrase)
            return None
        active = PublicKey.from_x(asked["active"])
        found = key_files.load_active(
            Path(asked["folder"]), asked["person"], passphrase, active
        )
    except AuditkitError:
        return None
    return found.to_seed() if isinstance(found, PrivateKey) else None


if __name__ == "__main__":
    seed = _answer(sys.stdin.read())
    if seed is None:
        sys.exit(1)
    sys.stdout.write(encode64(seed))
