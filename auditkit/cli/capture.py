"""``capture``: read a vehicle, or another tool's log of one, into a readout."""

from __future__ import annotations

import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

import click

from auditkit.cli import common
from auditkit.errors import DecodeError, InputError
from auditkit.obd import Readout, decode
from auditkit.text.display_text import plural, printable

if TYPE_CHECKING:
    from auditkit.capture.logfile import CanLog
    from auditkit.capture.result import Capture, SentRequest
    from auditkit.capture.session import Bus


@click.command("capture")
@click.option("--interface", help="The kind of CAN interface, by python-can's name.")
@click.option("--channel", help="The interface's channel, as can0.")
@click.option(
    "--bitrate",
    type=click.IntRange(10_000, 1_000_000),
    default=500_000,
    show_default=True,
    help="Bits a second; OBD on CAN uses 500000 or 250000 (ISO 15765-4).",
)
@click.option("--extended", is_flag=True, help="Use 29-bit ids.")
@click.option(
    "--out", type=click.Path(path_type=Path), help="A new file for the readout."
)
@click.option(
    "--seconds",
    type=click.IntRange(1, 600),
    default=60,
    show_default=True,
    help="The longest that the reading may last.",
)
@click.option(
    "--simulated",
    is_flag=False,
    flag_value="before",
    type=click.Choice(["before", "cleared", "after"]),
    help="Read the invented vehicle of the demo instead: before its repair, cleared, "
    "or after its monitors ran.",
)
@click.option(
    "--from-log",
    "log",
    type=click.Path(path_type=Path),
    help="Read a CAN log instead: .log, .asc, .blf, .trc, .csv, .mf4, also .gz.",
)
@common.format_option
def capture_command(
    interface: str | None,
    channel: str | None,
    bitrate: int,
    extended: bool,
    out: Path | None,
    seconds: int,
    simulated: str | None,
    log: Path | None,
    form: str,
) -> int:
    """Read a vehicle's codes, monitors and self-tests into a readout.

    It asks and never clears. Exit status 1: the vehicle was read and something is
    missing or broken; what came is written all the same.

    Example: auditkit capture --simulated --out before.txt
    """
    if sum(one is not None for one in (interface, simulated, log)) != 1:
        raise InputError(
            "name one of --interface, --simulated and --from-log",
            what_to_do="see auditkit capture --help",
        )
    if out is not None:
        common.refuse_existing(out)
    if out is not None and not out.parent.is_dir():
        raise InputError(
            "there is no such folder", where=str(out), what_to_do="choose another name"
        )
    if log is not None:
        return _from_log(log, out, form)
    from auditkit.capture import interface as to

    to.need_can()
    if simulated is not None:
        opened = to.simulated(simulated, extended=extended)
    else:
        opened = to.opened(interface or "", channel, bitrate)
    with opened as bus:
        click.echo(to.CAUTION, err=True)
        got = _read(bus, seconds, extended=extended)
    if not got.responders:
        raise InputError(
            "no module answered", what_to_do=f"{to.HINT}; some vehicles need --extended"
        )
    if out is not None:
        common.write_new(out, got.text)
    _print_capture(got, out, form)
    return 1 if got.faults or got.unasked else 0


def _read(bus: Bus, seconds: int, *, extended: bool) -> Capture:
    """Read the vehicle; on a terminal a line tells how far it is."""
    from auditkit.capture.result import Timing
    from auditkit.capture.session import capture

    shown = sys.stderr.isatty()
    count = 0

    def told(one: SentRequest, wanted: int) -> None:
        nonlocal count
        count += 1
        if shown:
            said = f"asked {count} of {max(count, wanted)}: {one.request:<6}"
            click.echo(f"\r{said}", nl=False, err=True)

    got = capture(
        bus,
        started=time.time(),
        extended=extended,
        timing=Timing(total=seconds),
        told=told,
    )
    if shown:
        click.echo("\r" + " " * 32 + "\r", nl=False, err=True)
    return got


def _from_log(path: Path, out: Path | None, form: str) -> int:
    from auditkit.capture.logfile import read_log

    log = read_log(common.read(path), path.name)
    if not log.text:
        raise InputError(
            f"none of its {log.frames_read} frames has an OBD id",
            where=str(path),
            what_to_do="name a log of an OBD reading",
        )
    try:
        readout = decode(log.text)
    except DecodeError as error:
        raise InputError(
            f"the vehicle's answers in it are too many: {error.message}",
            where=str(path),
            what_to_do="cut the log: one reading of the vehicle in each file",
        ) from error
    if out is not None:
        head = [
            f"read from {printable(path.name)}, SHA-256 {log.sha256}",
            *log.problems,
        ]
        told = "".join(f"# {' '.join(line.split())}\n" for line in head)
        common.write_new(out, told + log.text)
    _print_log(log, readout, path, out, form)
    return 1 if log.problems else 0


def _print_capture(got: Capture, out: Path | None, form: str) -> None:
    if form == "json":
        common.print_json(
            {
                "responders": list(got.responders),
                "frames": got.frames,
                "sha256": got.sha256,
                "asked": [_asked_json(one) for one in got.asked],
                "unasked": list(got.unasked),
                "notes": list(got.notes),
                "readout": decode(got.text).to_json(),
                "text": got.text,
            }
        )
        return
    last = {one.request: one for one in got.asked}.values()
    told = [
        f"{count} {outcome}"
        for outcome in ("answered", "silent", "refused", "broken")
        if (count := sum(one.outcome.value == outcome for one in last))
    ]
    responders = plural(len(got.responders), "module", "modules")
    common.say(
        f"{responders} answered ({', '.join(got.responders)}): "
        f"{plural(got.frames, 'frame', 'frames')}, "
        f"{plural(len(last), 'request', 'requests')}: {', '.join(told)}"
    )
    for one in got.faults:
        common.say(f"  {one.request}: {one.outcome}: {'; '.join(one.notes)}")
    for request in got.unasked:
        common.say(f"  {request}: not asked")
    _print_end(got.notes, out, got.sha256)


def _asked_json(one: SentRequest) -> dict[str, object]:
    return {
        "request": one.request,
        "outcome": one.outcome.value,
        "responders": list(one.responders),
        "missing": list(one.missing),
        "notes": list(one.notes),
    }


def _print_log(
    log: CanLog, readout: Readout, path: Path, out: Path | None, form: str
) -> None:
    if form == "json":
        common.print_json(
            {
                "responders": list(readout.responders),
                "frames_read": log.frames_read,
                "sha256": log.sha256,
                "problems": list(log.problems),
                "notes": list(log.notes),
                "readout": readout.to_json(),
                "text": log.text,
            }
        )
        return
    responders = plural(len(readout.responders), "module", "modules")
    kept = log.text.count("\n")
    common.say(
        f"{path}: {responders} answered ({', '.join(readout.responders) or 'none'}): "
        f"{plural(log.frames_read, 'frame', 'frames')}, {kept} of them OBD's; "
        f"{plural(len(log.problems), 'problem', 'problems')}"
    )
    for what in log.problems:
        common.say(f"  problem: {what}")
    _print_end(log.notes, out, log.sha256)


def _print_end(notes: tuple[str, ...], out: Path | None, digest: str) -> None:
    for note in notes:
        common.say(f"  note: {note}")
    if out is None:
        common.say("Nothing was written; name a file with --out.")
    else:
        common.say(f"Written to {out}. SHA-256 of the frames: {digest}")
