"""Every error that auditkit raises on purpose.

The tree::

    AuditkitError            something a user can act on; exit status 2
    ├── InputError           a file, an argument or a record cannot be used
    ├── DecodeError          bytes are not what a vehicle sends
    ├── KeyProblem           a key is missing, locked, revoked or unsafe
    ├── LogError             the log cannot be read or written
    └── VerificationError    evidence does not hold; exit status 1

An error carries three things: what is wrong, where, and what to do.
"""

from __future__ import annotations

import errno


class AuditkitError(Exception):
    """What is wrong, where it is, and what to do.

    ``where`` names a file, with a JSON pointer or a line where there is one.
    """

    exit_code = 2

    def __init__(self, message: str, *, where: str = "", what_to_do: str = "") -> None:
        self.message = message
        self.where = where
        self.what_to_do = what_to_do
        super().__init__(message)

    def __str__(self) -> str:
        text = f"{self.where}: {self.message}" if self.where else self.message
        return f"{text}; {self.what_to_do}" if self.what_to_do else text

    def at(self, where: str) -> AuditkitError:
        """Return the same error with ``where`` set in front of its place."""
        self.where = f"{where}{self.where}" if self.where.startswith("#") else where
        return self


class InputError(AuditkitError):
    """A file, an argument or a record cannot be used as it is."""


class DecodeError(AuditkitError):
    """Bytes that are not what a vehicle sends in answer to a request."""


class KeyProblem(AuditkitError):  # noqa: N818  KeyError is taken and means another thing
    """A key is missing, locked, revoked, malformed or unsafe."""


class LogError(AuditkitError):
    """The log cannot be opened, read or written."""


class VerificationError(AuditkitError):
    """Evidence that does not hold: a signature, a proof, a digest."""

    exit_code = 1


def disk_advice(error: OSError) -> str:
    """Return what to do where a file cannot be read or written."""
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return "free some space"
    return "check the path and its rights"
