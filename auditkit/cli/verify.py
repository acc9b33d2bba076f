"""``verify``: whether a log, a packet, or ten thousand packets hold."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path

import click

from auditkit.cli import common, progress
from auditkit.errors import InputError
from auditkit.proof.check_packet import NO_KEY
from auditkit.proof.check_report import CheckReport
from auditkit.reader.file_kind import LOG_HEAD, GivenFile
from auditkit.reader.read_packet import (
    Expectations,
    check_file,
    checked_and_judged,
    expectations,
    with_outsiders,
)
from auditkit.text.display_text import printable


@click.command("verify")
@click.argument(
    "paths",
    metavar="LOG|PACKET...",
    nargs=-1,
    required=True,
    type=common.FilePath(path_type=Path),
)
@click.option(
    "--trust",
    "trust_file",
    type=click.Path(path_type=Path),
    metavar="CHECKPOINT-FILE",
    help="An earlier checkpoint: the log must extend it.",
)
@click.option(
    "--witnesses",
    "witnesses_file",
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
    help="Check a log's chain, tree, checkpoints and the attachments beside it, and "
    "no signature of an entry (quick).",
)
@click.option(
    "--since",
    "since_file",
    type=click.Path(path_type=Path),
    metavar="STATE-FILE",
    help="Of a log: verify only what is new since the last time, which this file "
    "keeps; where it is not there yet, verify all and write it.",
)
@click.option(
    "--rebuild",
    is_flag=True,
    help="Of a log: make what is kept beside its entries (tree, look-ups) anew first.",
)
@common.policy_option
@click.option(
    "--least",
    type=click.Choice(["vouched", "proven"]),
    help="Exit 1 where the evidence of a packet says less than this.",
)
@common.format_option
def verify_command(
    paths: tuple[Path, ...],
    trust_file: Path | None,
    witnesses_file: Path | None,
    policy_file: Path | None,
    least: str | None,
    roots_file: Path | None,
    receipt_file: Path | None,
    key: str | None,
    skip_signatures: bool,
    since_file: Path | None,
    rebuild: bool,
    form: str,
) -> None:
    """Check a log, a packet, or many packets on all cores.

    A folder stands for the packets in it: the files whose names end in .json.

    Example: auditkit verify RO-1001.packet.json --key FINGERPRINT
    """
    wanted = expectations(
        expect_key=key,
        trust=_given(trust_file),
        witnesses=_given(witnesses_file),
        roots=_given(roots_file),
        receipt=_given(receipt_file),
    )
    policy = common.read_policy(policy_file)
    wanted = replace(wanted, judge_by=policy, with_plugins=True)
    if len(paths) > 1 or paths[0].is_dir():
        _refuse_for_packets(since_file, rebuild=rebuild)
        if receipt_file is not None or skip_signatures:
            raise InputError(
                "a receipt is of one packet, and signatures are all that counts",
                what_to_do="name one packet, or leave out --receipt and "
                "--skip-signatures",
            )
        _verify_many(paths, wanted, least or "", form)
        return
    (path,) = paths
    if _is_log(path):
        if receipt_file is not None:
            raise InputError(
                "a receipt is of a packet",
                where="--receipt",
                what_to_do="name the packet of that repair order",
            )
        _refuse_judging(least)
        how = _how(since_file, quick=skip_signatures)
        report = _verify_log(wanted, partial(how, path, anew=rebuild))
    else:
        _refuse_for_packets(since_file, rebuild=rebuild)
        report = check_file(GivenFile(str(path), common.read(path)), wanted)
    if form == "json":
        common.print_json(report.to_json())
    else:
        common.print_lines(report.lines(str(path)))
    if not report.is_enough(least or ""):
        if least and report.is_enough():
            said = f"asked: at least {least}; below it: {report.repair_order}"
            click.echo(printable(said), err=True)
        raise click.exceptions.Exit(1)


def _refuse_judging(least: str | None) -> None:
    """Raise InputError where a log is to be judged: only packets are."""
    source = click.get_current_context().get_parameter_source("policy_file")
    by_policy = source is click.core.ParameterSource.COMMANDLINE
    if least is None and not by_policy:
        return
    message = "a log is checked as a whole, and no repair order of it is judged"
    what_to_do = "name the packet of a repair order ('auditkit packet' makes it)"
    where = "--policy" if least is None else "--least"
    raise InputError(message, where=where, what_to_do=what_to_do)


def _verify_many(
    paths: tuple[Path, ...], wanted: Expectations, least: str, form: str
) -> None:
    """Verify packets side by side; say what they came to, and end with the status."""
    from auditkit.reader.many_packets import verify_packets
    from auditkit.reader.outcomes import Summary

    files = [file for path in paths for file in _files_of(path)]
    outcomes = partial(
        verify_packets,
        files,
        expect_key=wanted.expect_key,
        trust=wanted.trust,
        more_checks=partial(checked_and_judged, wanted=wanted),
    )
    if sys.stderr.isatty():
        bar = click.progressbar(
            length=len(files), label="Verifying", file=sys.stderr, show_pos=True
        )
        with bar:
            found = Summary.of(outcomes(progress=lambda n, _: bar.update(n - bar.pos)))
    else:
        found = Summary.of(outcomes())
    if wanted.expect_key is None and found.verified:
        found.notes.append(NO_KEY)
    if form == "json":
        common.print_json(found.to_json())
    else:
        common.print_lines(found.lines())
    if not found.is_enough(least):
        click.echo(found.below(least), err=True)
    if found.exit_status or not found.is_enough(least):
        raise click.exceptions.Exit(found.exit_status or 1)


def _files_of(path: Path) -> list[Path]:
    if not path.is_dir():
        return [path]
    files = sorted(path.glob("*.json"))
    if not files:
        raise InputError(
            "there is no packet in this folder: no file ends in .json",
            where=str(path),
            what_to_do="name a folder of packets",
        )
    return files


def _given(path: Path | None) -> GivenFile | None:
    return None if path is None else GivenFile(str(path), common.read(path))


def _is_log(path: Path) -> bool:
    if not path.is_file():
        return False  # a packet may come through a pipe; else reading says what it is
    with path.open("rb") as file:
        return file.read(len(LOG_HEAD)) == LOG_HEAD


def _refuse_for_packets(since: Path | None, *, rebuild: bool) -> None:
    """Raise InputError for an option that has no sense with packets."""
    if rebuild or since is not None:
        raise InputError(
            "a packet is read whole, and keeps nothing beside its entries",
            where="--rebuild" if rebuild else "--since",
            what_to_do="name a log",
        )


def _how(since: Path | None, *, quick: bool) -> Callable[..., CheckReport]:
    """Return how a log's file is verified."""
    from auditkit.log.verify_log import verify_file
    from auditkit.log.verify_since import verify_file_since

    if since is None:
        return partial(verify_file, signatures=not quick)
    if quick:
        raise InputError(
            "what is kept with --since is that every signature was verified",
            where="--skip-signatures",
            what_to_do="leave out one of the two",
        )
    return partial(verify_file_since, kept=since)


def _verify_log(
    wanted: Expectations, verify: Callable[..., CheckReport]
) -> CheckReport:
    verify = partial(verify, trust=wanted.trust, expect_key=wanted.expect_key)
    with progress.verifying() as draw:
        report = verify(progress=draw)
    return with_outsiders(report, wanted)
