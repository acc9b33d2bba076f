"""The one-file verifier's command line: ``python3 auditkit-verify.pyz PACKET``.

It reads a packet, runs ``auditkit.packet.verify_packet`` and prints what ``auditkit
verify`` prints. It touches no network and writes no file. Exit status: 0 it holds, 1
it does not, 2 the input cannot be used.
"""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from auditkit.errors import AuditkitError, InputError
from auditkit.note import checkpoint_text
from auditkit.packet import MAX_PACKET, is_packet, verify_packet

if TYPE_CHECKING:
    from collections.abc import Sequence

    from auditkit.verification import Report

NAME = "auditkit-verify"
_VALUED = {"--key", "--trust", "--format"}


def _read(path: str) -> bytes:
    try:
        with Path(path).open("rb") as file:
            data = file.read(MAX_PACKET + 1)
    except (OSError, ValueError) as error:
        said = getattr(error, "strerror", None) or str(error)
        message = f"it cannot be read ({said})"
        raise InputError(message, where=path, mend="check the path") from error
    if len(data) > MAX_PACKET:
        message = f"the file is longer than {MAX_PACKET} bytes"
        raise InputError(message, where=path, mend="name another file")
    return data


def _text(path: str, data: bytes) -> str:
    try:
        return data.decode()
    except UnicodeDecodeError as error:
        message = f"this is not text: byte {error.start} is not UTF-8"
        mend = "name a text file, saved as UTF-8"
        raise InputError(message, where=path, mend=mend) from error


def check(path: str, key: str | None, trust: str | None) -> Report:
    """Return what holds of the packet in a file; raise InputError where it is none."""
    held = None
    if trust is not None:
        held = checkpoint_text(_text(trust, _read(trust)), where=trust)
    data = _read(path)
    if not is_packet(_text(path, data)):
        message = "this is not a packet"
        mend = "name a file that 'auditkit packet' made; a log needs auditkit itself"
        raise InputError(message, where=path, mend=mend)
    return verify_packet(data, where=path, expect_key=key, trust=held)


def _joined(arguments: Sequence[str]) -> list[str]:
    """Return the arguments with each option's value joined to it by ``=``.

    One fingerprint in 64 begins with a hyphen, and argparse takes that for an option.
    """
    joined: list[str] = []
    for argument in arguments:
        if joined and joined[-1] in _VALUED:
            joined[-1] += f"={argument}"
        else:
            joined.append(argument)
    return joined


def main(arguments: Sequence[str] | None = None) -> int:
    """Check one packet, print the answer, return the exit status."""
    parser = argparse.ArgumentParser(
        prog=NAME,
        description="Check a packet: one repair order's entries and their proofs.",
        epilog="Exit status: 0 it holds, 1 it does not, 2 the input cannot be used. "
        "It says who wrote what, and that nothing was changed since; whether a repair "
        "is good is for the vehicle maker's procedure, local codes and licensed "
        "practice to decide.",
    )
    parser.add_argument("packet", metavar="PACKET")
    parser.add_argument(
        "--key", metavar="THUMBPRINT", help="the log key that you expect"
    )
    parser.add_argument(
        "--trust",
        metavar="CHECKPOINT",
        help="a file with a checkpoint of the same size",
    )
    parser.add_argument("--format", choices=["text", "json"], default="text")
    given = parser.parse_args(_joined(sys.argv[1:] if arguments is None else arguments))
    for stream in (sys.stdout, sys.stderr):
        # A terminal that lacks a letter shows its number; it does not stop the answer.
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")
    try:
        report = check(given.packet, given.key, given.trust)
    except AuditkitError as error:
        sys.stderr.write(f"{NAME}: {error}\n")
        return error.exit_code
    if given.format == "json":
        said = json.dumps(report.to_json(), ensure_ascii=False, indent=2)
    else:
        said = "\n".join(report.lines(given.packet))
    sys.stdout.write(f"{said}\n")
    return 0 if report.verified else 1
