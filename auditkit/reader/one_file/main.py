"""The one-file verifier's command line: ``python3 auditkit-verify.pyz PACKET``.

It reads a packet, runs ``auditkit.reader.read_packet`` and prints what
``auditkit verify`` prints. It touches no network and writes no file. Exit status:
0 it holds, 1 it does not, 2 the input cannot be used.
"""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from auditkit.errors import AuditkitError, InputError
from auditkit.proof.packet import MAX_PACKET
from auditkit.reader.file_kind import GivenFile
from auditkit.reader.read_packet import check_file, expectations

if TYPE_CHECKING:
    from collections.abc import Sequence

NAME = "auditkit-verify"
_VALUED = {"--key", "--trust", "--witnesses", "--receipt", "--format"}


def _read(path: str) -> GivenFile:
    try:
        with Path(path).open("rb") as file:
            data = file.read(MAX_PACKET + 1)
    except (OSError, ValueError) as error:
        said = getattr(error, "strerror", None) or str(error)
        raise InputError(
            f"it cannot be read ({said})", where=path, what_to_do="check the path"
        ) from error
    if len(data) > MAX_PACKET:
        raise InputError(
            f"the file is longer than {MAX_PACKET} bytes",
            where=path,
            what_to_do="name another file",
        )
    return GivenFile(path, data)


def _path(argument: str) -> str:
    """Return a path as ``auditkit verify`` writes it."""
    return str(Path(argument))


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
        "practice to decide. Logs and time stamps need auditkit itself.",
    )
    parser.add_argument("packet", metavar="PACKET", type=_path)
    parser.add_argument(
        "--key", metavar="FINGERPRINT", help="the log key that you expect"
    )
    parser.add_argument(
        "--trust",
        metavar="CHECKPOINT-FILE",
        type=_path,
        help="an earlier checkpoint: the log must extend it",
    )
    parser.add_argument(
        "--witnesses",
        metavar="POLICY-FILE",
        type=_path,
        help="whose cosignatures you want (C2SP tlog-policy): on the checkpoint of "
        "--trust, else on one that the packet keeps",
    )
    parser.add_argument(
        "--receipt",
        metavar="RECEIPT-FILE",
        type=_path,
        help="the receipt's text, from its QR code: the packet must agree with it",
    )
    parser.add_argument("--format", choices=["text", "json"], default="text")
    given = parser.parse_args(_joined(sys.argv[1:] if arguments is None else arguments))
    for stream in (sys.stdout, sys.stderr):
        # A terminal that lacks a letter shows its number; it does not stop the answer.
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")
    try:
        wanted = expectations(
            expect_key=given.key,
            trust=_read(given.trust) if given.trust else None,
            witnesses=_read(given.witnesses) if given.witnesses else None,
            receipt=_read(given.receipt) if given.receipt else None,
        )
        report = check_file(_read(given.packet), wanted)
    except AuditkitError as error:
        sys.stderr.write(f"{NAME}: {error}\n")
        return error.exit_code
    if given.format == "json":
        said = json.dumps(report.to_json(), ensure_ascii=False, indent=2)
    else:
        said = "\n".join(report.lines(given.packet))
    try:
        sys.stdout.write(f"{said}\n")
        sys.stdout.flush()
    except OSError as error:
        sys.stderr.write(f"{NAME}: the answer cannot be written: {error.strerror}\n")
        return 2
    return 0 if report.is_enough() else 1
