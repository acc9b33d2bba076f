"""``verifier``: the one-file verifier, to hand out with packets."""

from __future__ import annotations

import hashlib
from pathlib import Path

import click

from auditkit.cli import common
from auditkit.reader.one_file.build import build


@click.command("verifier")
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    default="auditkit-verify.pyz",
    show_default=True,
    help="Where to write it.",
)
def verifier_command(out: Path) -> None:
    """Write a verifier of packets: one file, for any Python 3.11 or newer.

    Whoever gets it runs `python3 auditkit-verify.pyz PACKET` and installs nothing. The
    same version of auditkit writes the same bytes everywhere, so that a reviewer can
    compare the SHA-256 with one made elsewhere.

    Example: auditkit verifier --out auditkit-verify.pyz
    """
    data = build()
    common.write_new(out, data)
    common.say(f"{out}: verifier written, {len(data)} bytes")
    common.say(f"    SHA-256 {hashlib.sha256(data).hexdigest()}")
    common.say(f"    run it with: python3 {out} PACKET --key FINGERPRINT")
