"""``demo``: an invented shop's week, from raw bytes to an alteration found.

Nothing that is printed is known beforehand: the verdicts come from the rules, and a
demo that does not end as it should says so and exits with 1.
"""

from __future__ import annotations

import secrets
import shutil
import sqlite3
import tempfile
import textwrap
from importlib.resources import files
from pathlib import Path

import click

from auditkit.cli import common
from auditkit.errors import InputError
from auditkit.log.ledger import Ledger
from auditkit.log.verify_log import verify_file
from auditkit.order.catalogue import Catalogue
from auditkit.order.events import RepairOrder
from auditkit.order.findings import Verdict
from auditkit.order.judgement import Judgement
from auditkit.order.record import Record, parse_record
from auditkit.order.statement import DEFERS, statement
from auditkit.plugin.loading import load_catalogue
from auditkit.proof.check_packet import verify_packet
from auditkit.proof.check_report import CheckReport
from auditkit.text.display_text import plural

RECORDS = ("RO-1001", "RO-1002", "RO-1003")
_EXPECTED = (Verdict.PROVEN, Verdict.UNPROVEN, Verdict.CONTRADICTED)
_NEXT = {
    Verdict.PROVEN: "hand the packet to the customer, and today's checkpoint with it",
    Verdict.UNPROVEN: "do not call it repaired yet; what is missing stands above",
    Verdict.CONTRADICTED: "the vehicle goes back on the bench before it goes home",
}


def _say(text: str, indent: int = 0) -> None:
    lead = " " * indent
    common.say(
        textwrap.fill(
            text,
            min(88, common.width() or 88),
            initial_indent=lead,
            subsequent_indent=f"{lead}  ",
            break_long_words=False,
            break_on_hyphens=False,
        )
    )


@click.command("demo")
@click.option(
    "--into",
    type=click.Path(path_type=Path),
    help="An empty or new folder for the files; otherwise a temporary one.",
)
def demo_command(into: Path | None) -> None:
    """Run an invented shop's week, and alter a log to see it found.

    Example: auditkit demo --into week
    """
    if into is not None and into.exists():
        _refuse_filled(into)
    folder = into or Path(tempfile.mkdtemp(prefix="auditkit-demo-"))
    folder.mkdir(parents=True, exist_ok=True)
    _say("An invented shop's week. Shop, people, vehicles and bytes are all invented.")
    _say(DEFERS)
    common.say("")
    held = _week(folder)
    common.say("")
    _left(folder)
    if not all(held):
        click.echo("The demo did NOT end as it should.", err=True)
        raise click.exceptions.Exit(1)


def _refuse_filled(folder: Path) -> None:
    """Raise InputError where a demo cannot be written, before anything is printed."""
    if not folder.is_dir():
        message = "this is a file"
    elif any(folder.iterdir()):
        message = "this folder is not empty"
    else:
        return
    raise InputError(
        message, where=str(folder), what_to_do="name an empty or new folder"
    )


def _week(folder: Path) -> list[bool]:
    word = secrets.token_urlsafe(24).encode()  # for the demo only; kept nowhere
    log = folder / "shop.auditlog"
    catalogue = load_catalogue()
    held: list[bool] = []
    early = ""
    with Ledger.create(
        log,
        shop="Example Yard Garage (invented)",
        person="mechanic-1",
        role="technician",
        passphrase=word,
    ) as ledger:
        for order_id, expected in zip(RECORDS, _EXPECTED, strict=True):
            record, judgement = _judge(catalogue, order_id)
            held.append(judgement.verdict is expected)
            _tell(record, judgement)
            reason = None
            if judgement.blocking:
                reason = "closed by the demo, to be shown as it is"
            done = ledger.record(
                record, judgement, passphrase=word, unproven_reason=reason
            )
            path = folder / f"{order_id}.packet.json"
            path.write_text(ledger.packet(order_id), encoding="utf-8")
            report = verify_packet(
                path.read_bytes(), expect_key=ledger.log_key.thumbprint
            )
            held.append(report.verified)
            _say(
                f"Logged as entries {done.first_seq} to {done.last_seq}; its packet "
                f"{'verifies' if report.verified else 'does NOT verify'}.",
                2,
            )
            if not early:
                early = done.checkpoint_note
            common.say("")
        (folder / "early.checkpoint").write_text(early, encoding="utf-8")
        (folder / "friday.checkpoint").write_text(ledger.checkpoint(), encoding="utf-8")
        report = ledger.verify(trust=early)
    held.append(report.verified)
    _say(
        f"THE LOG {'HOLDS' if report.verified else 'DOES NOT HOLD'}: "
        f"{plural(report.entries, 'entry', 'entries')}, every signature checked; it "
        "extends the checkpoint of the first order."
    )
    common.say("")
    held += _alter(folder, log)
    return held


def _judge(catalogue: Catalogue, order_id: str) -> tuple[Record, Judgement]:
    source = files("auditkit_demo") / f"{order_id}.json"
    record = parse_record(source.read_bytes(), catalogue, where=f"{order_id}.json")
    order = RepairOrder.fold(record.repair_order, record.events)
    return record, catalogue.judge(order)


def _tell(record: Record, judgement: Judgement) -> None:
    """Print the answer first, then why, then what to do next."""
    order = RepairOrder.fold(record.repair_order, record.events)
    opening = order.of("opening")
    vehicle = opening[0].object("vehicle") if opening else {}
    common.say(
        f"{order.id}  {judgement.verdict.upper()}  ({vehicle.get('description', '')})"
    )
    for line in statement(order, judgement)[1:-1]:
        _say(line.strip(), 4 if line.startswith("  ") else 2)
    _say(f"Next: {_NEXT[judgement.verdict]}.", 2)


def _alter(folder: Path, log: Path) -> list[bool]:
    """Alter copies of the log as someone with the file could; show it found."""
    altered = folder / "altered.auditlog"
    shutil.copy(log, altered)
    change = (
        "update entry set payload = replace(payload, '\"6.5\"', '\"16.5\"') "
        "where payload like '%\"6.5\"%' and kind = 'bench_test'"
    )
    _say("Now someone alters a copy: RO-1001's bench test shall read 16.5, not 6.5.")
    common.say("  drop trigger entry_no_update;")
    _say(f"{change};", 2)
    _change(altered, "drop trigger entry_no_update", change)
    first = verify_file(altered)
    _found(first)
    cut = folder / "cut.auditlog"
    shutil.copy(log, cut)
    _say("Someone else cuts RO-1003 off another copy, with its checkpoint.")
    _change(
        cut,
        "drop trigger entry_no_delete",
        "drop trigger checkpoint_no_delete",
        "delete from entry where repair_order = 'RO-1003'",
        "delete from checkpoint where size > (select count(*) from entry)",
        "delete from disclosure where seq >= (select count(*) from entry)",
    )
    alone = verify_file(cut)
    trust = (folder / "friday.checkpoint").read_text(encoding="utf-8")
    second = verify_file(cut, trust=trust)
    _say(
        f"In itself the cut copy {'holds' if alone.verified else 'does not hold'}; "
        "held against Friday's checkpoint:",
        2,
    )
    _found(second)
    named = any(p.seq is not None for p in first.problems)
    return [not first.verified, named, alone.verified, not second.verified]


def _change(path: Path, *statements: str) -> None:
    db = sqlite3.connect(path)
    for text in statements:
        db.execute(text)
    db.commit()
    db.close()


def _found(report: CheckReport) -> None:
    if report.verified:
        common.say("  NOT FOUND: it verifies.")
        return
    common.say("  FOUND:")
    for problem in report.problems:
        place = "the whole" if problem.seq is None else f"entry {problem.seq}"
        _say(f"{place}: {problem.problem}", 4)
    common.say("")


def _left(folder: Path) -> None:
    common.say(f"The files are in {folder}. Try:")
    common.say(f"  auditkit show RO-1001 --log {folder}/shop.auditlog")
    common.say(f"  auditkit verify {folder}/RO-1003.packet.json")
    common.say(
        f"  auditkit verify {folder}/shop.auditlog --trust {folder}/early.checkpoint"
    )
