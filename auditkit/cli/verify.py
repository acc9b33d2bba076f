"""``verify``: whether a log or a packet holds."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from auditkit.cli import common
from auditkit.errors import InputError
from auditkit.note import checkpoint_text
from auditkit.packet import is_packet, parse_packet, verify_packet
from auditkit.verification import Report

_HEAD = b"SQLite format 3\x00"


@click.command("verify")
@click.argument("path", metavar="LOG|PACKET", type=click.Path(path_type=Path))
@click.option(
    "--trust",
    "trust_file",
    type=click.Path(path_type=Path),
    metavar="CHECKPOINT-FILE",
    help="An earlier checkpoint: the log must extend it.",
)
@click.option(
    "--witnesses",
    "policy_file",
    type=click.Path(path_type=Path),
    metavar="POLICY-FILE",
    help="Whose cosignatures you want (C2SP tlog-policy): on the checkpoint of "
    "--trust, else on one that the packet or log keeps.",
)
@click.option(
    "--roots",
    "roots_file",
    type=click.Path(path_type=Path),
    metavar="PEM-FILE",
    help="Root certificates of the time stamp authorities that you trust: their stamps "
    "say when entries were recorded.",
)
@click.option(
    "--receipt",
    "receipt_file",
    type=click.Path(path_type=Path),
    metavar="RECEIPT-FILE",
    help="The receipt's text, from its QR code: the packet must agree with it.",
)
@click.option("--key", metavar="FINGERPRINT", help="The log key that you expect.")
@click.option(
    "--skip-signatures",
    is_flag=True,
    help="Check a log's chain, tree and checkpoints only (quick).",
)
@common.format_option
def verify_command(  # noqa: PLR0913, PLR0917  one a choice of the command line
    path: Path,
    trust_file: Path | None,
    policy_file: Path | None,
    roots_file: Path | None,
    receipt_file: Path | None,
    key: str | None,
    skip_signatures: bool,  # noqa: FBT001  click passes it by name
    form: str,
) -> None:
    """Check a log or a packet.

    Example: auditkit verify RO-1001.packet.json --key FINGERPRINT
    """
    trust = None
    if trust_file is not None:
        trust = checkpoint_text(common.read_text(trust_file), where=str(trust_file))
    if _is_log(path):
        report = _verify_log(path, trust, key, signatures=not skip_signatures)
    else:
        text = common.read_text(path)
        if not is_packet(text):
            message = "this is neither a log nor a packet"
            mend = "name a file that 'auditkit init' or 'auditkit packet' made"
            raise InputError(message, where=str(path), mend=mend)
        report = verify_packet(
            text.encode(), where=str(path), expect_key=key, trust=trust
        )
    report = _heard(report, path, trust, policy_file, roots_file)
    if receipt_file is not None:
        report = _with_receipt(report, path, receipt_file)
    if form == "json":
        common.print_json(report.to_json())
    else:
        common.print_lines(report.lines(str(path)))
    if not report.verified:
        raise click.exceptions.Exit(1)


def _with_receipt(report: Report, path: Path, receipt_file: Path) -> Report:
    """Return the report with what a receipt says against the packet."""
    from auditkit.receipt import compare, parse_receipt

    if _is_log(path):
        message = "a receipt is of a packet"
        mend = "name the packet of that repair order"
        raise InputError(message, where="--receipt", mend=mend)
    text = common.read_text(receipt_file)
    parse_receipt(text, where=str(receipt_file))
    if not report.verified:
        return report
    found = compare(common.read(path), text)
    disagreements = (f"the receipt: {text}" for text in found.disagreements)
    return report.with_more(disagreements, found.unshown)


def _heard(
    report: Report,
    path: Path,
    trust: str | None,
    policy_file: Path | None,
    roots_file: Path | None,
) -> Report:
    """Return the report with what outsiders say: who witnessed, and since when."""
    from auditkit import interval, outsiders
    from auditkit.attestation import Attested
    from auditkit.trust_policy import parse_trust_policy

    if policy_file is None and roots_file is None:
        return report
    attested = list(report.attested)
    if report.checkpoint is not None and not _is_log(path):
        own = parse_packet(common.read(path), where=str(path)).checkpoint
        attested.append(Attested(None, own, report.checkpoint))
    policy = None
    if policy_file is not None:
        policy = parse_trust_policy(common.read(policy_file), where=str(policy_file))
        report = outsiders.witnessed(report, policy, attested, trust)
    roots = None if roots_file is None else common.read(roots_file)
    try:
        heard = outsiders.hear(attested, policy=policy, roots=roots)
    except InputError as error:
        raise error.at(str(roots_file)) from error
    return interval.timed(report, heard)


def _is_log(path: Path) -> bool:
    if not path.is_file():
        common.read(path)  # says what is wrong with it
    with path.open("rb") as file:
        return file.read(len(_HEAD)) == _HEAD


def _verify_log(
    path: Path, trust: str | None, key: str | None, *, signatures: bool
) -> Report:
    from auditkit.log_verify import verify_file

    if not sys.stderr.isatty():
        return verify_file(path, signatures=signatures, trust=trust, expect_key=key)
    with click.progressbar(length=1, label="Verifying", file=sys.stderr) as bar:

        def progress(done: int, total: int) -> None:
            bar.length = total
            bar.update(done - bar.pos)

        return verify_file(
            path, signatures=signatures, trust=trust, expect_key=key, progress=progress
        )
