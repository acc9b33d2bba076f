"""``exhibit``: what one packet shows, as a PDF for a lawyer."""

from __future__ import annotations

from pathlib import Path

import click

from auditkit.cli import common
from auditkit.errors import InputError, VerificationError
from auditkit.reader.read_packet import judged_here


@click.command("exhibit")
@click.argument("packet", type=click.Path(path_type=Path), required=False)
@click.option("--out", type=click.Path(path_type=Path), help="The PDF to write.")
@click.option(
    "--check",
    type=click.Path(path_type=Path),
    metavar="FILE.pdf",
    help="An exhibit: is it what the packet attached to it makes, byte for byte?",
)
@click.option(
    "--sign",
    "key_file",
    type=click.Path(path_type=Path),
    metavar="P12-FILE",
    help="A key with its certificate (PKCS#12): the PDF is signed with it (PAdES).",
)
@click.option("--key", metavar="FINGERPRINT", help="The log key that --check expects.")
@common.passphrase_option
def exhibit_command(
    packet: Path | None,
    out: Path | None,
    check: Path | None,
    key_file: Path | None,
    key: str | None,
    passphrase_file: Path | None,
) -> None:
    """Write the exhibit of a packet that verifies, with the packet attached.

    The same packet gives the same file, byte for byte, unless it is signed. Where the
    shop signed another verdict than is judged here, both stand in it, the one judged
    here first; exit status 1 where the shop's is the better one. It ends
    with a form of certification, empty until a person signs. To hold a file against
    the packet attached to it, give --check alone.

    Example: auditkit exhibit RO-1001.packet.json --out RO-1001.pdf
    """
    make = packet is not None and out is not None and check is None and key is None
    look = check is not None and packet is None and out is None and key_file is None
    if not make and not look:
        raise InputError(
            "these arguments do not make one question",
            what_to_do="give PACKET and --out FILE.pdf to make one, or "
            "--check FILE.pdf alone",
        )
    if packet is not None and out is not None:
        _make(packet, out, key_file, passphrase_file)
    if check is not None:
        _check(check, key)


def _make(
    packet: Path, out: Path, key_file: Path | None, passphrase_file: Path | None
) -> None:
    from auditkit.exhibit.pdf import exhibit_pdf
    from auditkit.plugin.loading import load_catalogue

    common.refuse_existing(out)
    given = common.read(packet)
    page = exhibit_pdf(given, load_catalogue(), where=str(packet))
    judged = judged_here(given, str(packet))
    if key_file is not None:
        from auditkit.exhibit.pades import sign_pdf

        key = common.read(key_file)
        word = common.passphrase(passphrase_file)
        page = sign_pdf(page, key, word, where=str(key_file))
    common.write_new(out, page)
    how = "written" if key_file is None else "written and signed"
    click.echo(f"{out}: exhibit {how}, {len(page)} bytes, the packet attached")
    click.echo("    nothing in it is certified until a person signs its last pages")
    click.echo(f"    what to do: auditkit exhibit --check {out}")
    common.tell_overstated(judged, str(out))


def _check(path: Path, key: str | None) -> None:
    from auditkit.exhibit.check_pdf import check_exhibit
    from auditkit.plugin.loading import load_catalogue
    from auditkit.proof.check_packet import verify_packet
    from auditkit.reader.read_packet import fingerprint

    if key is not None:
        fingerprint(key)
    checked = check_exhibit(common.read(path), load_catalogue(), where=str(path))
    report = verify_packet(checked.packet, where=str(path), expect_key=key)
    if not report.verified:
        raise VerificationError(
            report.problems[0].problem,
            where=str(path),
            what_to_do="do not rely on it: ask for the packet of the log that you know",
        )
    click.echo(f"{path}: this is the exhibit that its packet makes, byte for byte")
    for line in checked.signatures:
        click.echo(f"    {line}")
    click.echo(f"    the packet attached verifies; its SHA-256 is {checked.sha256}")
    click.echo(f"    signed under log key {report.log_key}")
    for said in report.notes:
        click.echo(f"    note: {said}")
    common.tell_overstated(judged_here(checked.packet, str(path)), str(path))
