"""``demo``: an invented shop's week, from raw bytes to an alteration found.

The week goes by its own clock: each event is recorded when it happened. Nothing that
is printed is known beforehand: the verdicts come from the rules, and a demo that does
not end as it should says so and exits with 1.
"""

from __future__ import annotations

import secrets
import shutil
import sqlite3
import tempfile
import textwrap
from dataclasses import dataclass
from datetime import datetime, timedelta
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

import click

from auditkit.cli import common
from auditkit.errors import InputError
from auditkit.log.file_form import GUARDS
from auditkit.log.ledger import Ledger
from auditkit.log.verify_log import verify_file
from auditkit.order.catalogue import Catalogue
from auditkit.order.events import RepairOrder
from auditkit.order.findings import Verdict
from auditkit.order.judgement import Judgement
from auditkit.order.record import Record, parse_record
from auditkit.order.statement import DEFERS, NO_RECORD_SHOWS, statement, verdict_text
from auditkit.plugin.loading import load_catalogue
from auditkit.proof.check_packet import verify_packet
from auditkit.proof.check_report import CheckReport
from auditkit.text.display_text import plural

if TYPE_CHECKING:
    from collections.abc import Mapping

    from auditkit.text.values import Json

RECORDS = ("RO-1001", "RO-1002", "RO-1003", "RO-1004", "RO-1005")
_EXPECTED = {
    "RO-1001": (Verdict.PROVEN, False),
    "RO-1002": (Verdict.UNPROVEN, False),
    "RO-1003": (Verdict.CONTRADICTED, False),
    "RO-1004": (Verdict.VOUCHED, False),
    "RO-1005": (Verdict.UNPROVEN, True),
}
"""Repair order -> its verdict, and whether it waits for a later readout."""
_WHAT_TO_DO = {
    Verdict.PROVEN: "hand the packet to the customer, and today's checkpoint with it",
    Verdict.VOUCHED: "hand the packet out; who wants more than the shop's word for "
    "what is named above asks for the old part, or takes a readout",
    Verdict.UNPROVEN: "do not call it repaired yet; what is missing stands above",
    Verdict.CONTRADICTED: "the vehicle goes back on the bench before it goes home",
}
_WAITS = "the customer drives it; a second readout then completes the same repair order"
_OPENS = "2026-03-02T07:30:00+01:00"
_CLOSES = timedelta(minutes=3)
"""How long after its last event an order of the demo is closed."""
_FRIDAY = "2026-03-06"
_PERSON = "mechanic-1"
_REASON = "closed by the demo, to be shown as it is"


@dataclass(slots=True)
class _Clock:
    """The week's own clock: it stands until it is set."""

    now: datetime

    def __call__(self) -> datetime:
        return self.now


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
@click.option(
    "--bay",
    "in_bay",
    is_flag=True,
    help="Serve the invented shop's bay instead, with an order half done, to try it.",
)
@click.option("--port", type=click.IntRange(1, 65535), default=8750, show_default=True)
def demo_command(into: Path | None, in_bay: bool, port: int) -> None:
    """Run an invented shop's week, and alter a log to see it found.

    With --bay the shop's pages are served on this computer instead, to be tried.

    Example: auditkit demo --into week
    """
    if into is not None and into.exists():
        _refuse_filled(into)
    if in_bay:
        from auditkit.cli.demo_bay import refuse_taken

        refuse_taken(port)  # before there is a folder
    folder = into or Path(tempfile.mkdtemp(prefix="auditkit-demo-"))
    folder.mkdir(parents=True, exist_ok=True)
    _say(
        f"An invented shop's {'bay' if in_bay else 'week'}. Shop, people, vehicles and "
        "bytes are all invented."
    )
    _say(DEFERS)
    common.say("")
    if in_bay:
        from auditkit.cli.demo_bay import serve_demo

        serve_demo(folder, port)
        return
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
    records = [_read(catalogue, order_id) for order_id in RECORDS]
    clock = _Clock(datetime.fromisoformat(_OPENS))
    held: list[bool] = []
    early = ""
    with Ledger.create(
        log,
        shop="Example Yard Garage (invented)",
        person=_PERSON,
        passphrase=word,
        clock=clock,
    ) as ledger:
        for at, record, event in _in_time(records):
            clock.now = at
            if event is not None:
                signer = ledger.signer(_PERSON, word)
                order_id = record.repair_order
                ledger.append(order_id, [event], person=_PERSON, signer=signer)
                continue
            note, closed = _close(folder, ledger, catalogue, record, word)
            held += closed
            early = early or note
        (folder / "early.checkpoint").write_text(early, encoding="utf-8")
        (folder / "friday.checkpoint").write_text(ledger.checkpoint(), encoding="utf-8")
        report = ledger.verify(trust=early)
    held.append(report.verified)
    _say(NO_RECORD_SHOWS)
    common.say("")
    _say(
        f"THE LOG {'HOLDS' if report.verified else 'DOES NOT HOLD'}: "
        f"{plural(report.entries, 'entry', 'entries')}, every signature checked; it "
        "extends the checkpoint of the first order."
    )
    common.say("")
    held += _alter(folder, log)
    return held


def _read(catalogue: Catalogue, order_id: str) -> Record:
    source = files("auditkit_demo") / f"{order_id}.json"
    return parse_record(source.read_bytes(), catalogue, where=f"{order_id}.json")


def _in_time(
    records: list[Record],
) -> list[tuple[datetime, Record, Mapping[str, Json] | None]]:
    """Return the week's events as they came; None where an order is closed."""
    week: list[tuple[datetime, Record, Mapping[str, Json] | None]] = []
    for record in records:
        times = [datetime.fromisoformat(str(event["at"])) for event in record.events]
        week += [
            (at, record, event) for at, event in zip(times, record.events, strict=True)
        ]
        week.append((times[-1] + _CLOSES, record, None))
    return sorted(week, key=lambda step: step[0])


def _close(
    folder: Path, ledger: Ledger, catalogue: Catalogue, record: Record, word: bytes
) -> tuple[str, list[bool]]:
    """Judge an order that lies in the log, close it; return its checkpoint too."""
    order_id = record.repair_order
    recorded = ledger.recorded_at(order_id)
    order = RepairOrder.fold(
        order_id,
        record.events,
        recorded=recorded,
        signers=ledger.signed_by(order_id),
    )
    judgement = catalogue.judge(order)
    _tell(order, judgement)
    reason = None if judgement.is_enough else _REASON
    done = ledger.record(record, judgement, passphrase=word, unproven_reason=reason)
    path = folder / f"{order_id}.packet.json"
    path.write_text(ledger.packet(order_id), encoding="utf-8")
    report = verify_packet(path.read_bytes(), expect_key=ledger.log_key.thumbprint)
    events = plural(len(record.events), "event", "events")
    _say(
        f"Its {events} lie in the log, each recorded when it happened; its packet "
        f"{'verifies' if report.verified else 'does NOT verify'}.",
        2,
    )
    common.say("")
    expected = (judgement.verdict, judgement.is_waiting) == _EXPECTED[order_id]
    return done.checkpoint_note, [expected, report.verified]


def _tell(order: RepairOrder, judgement: Judgement) -> None:
    """Print the answer first, then by fault, then why, then what to do."""
    day = order.events[-1].at.strftime("%A")
    common.say(
        f"{order.id}  {judgement.verdict.upper()}{', WAITING' * judgement.is_waiting}  "
        f"({order.vehicle('description')}; {day})"
    )
    _say(f"{verdict_text(judgement)}.", 2)
    for line in statement(order, judgement)[1:]:
        if line not in {NO_RECORD_SHOWS, DEFERS}:
            _say(line.strip(), 4 if line.startswith("  ") else 2)
    what_to_do = _WAITS if judgement.is_waiting else _WHAT_TO_DO[judgement.verdict]
    _say(f"What to do: {what_to_do}.", 2)


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
    _say("and puts the trigger back.", 2)
    _change(altered, change)
    first = verify_file(altered)
    _found(first)
    cut = folder / "cut.auditlog"
    shutil.copy(log, cut)
    _say("Someone else cuts Friday off another copy: RO-1003's contradiction is gone.")
    friday = _first_of(cut, _FRIDAY)
    _change(
        cut,
        f"delete from entry where seq >= {friday}",  # noqa: S608  a number of ours
        "delete from checkpoint where size > (select count(*) from entry)",
        "delete from disclosure where seq >= (select count(*) from entry)",
    )
    alone = verify_file(cut, anew=True)
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


def _first_of(path: Path, day: str) -> int:
    """Return the number of the first entry that was recorded on a day (UTC)."""
    db = sqlite3.connect(path)
    asked = "select min(seq) from entry where payload like ?"
    (first,) = db.execute(asked, (f'%"recorded_at":"{day}%',)).fetchone()
    db.close()
    return int(first)


def _change(path: Path, *statements: str) -> None:
    db = sqlite3.connect(path)
    for text in (*(f"drop trigger {name}" for name in GUARDS), *statements):
        db.execute(text)
    for guard in GUARDS.values():
        db.execute(guard)
    db.commit()
    db.close()


def _found(report: CheckReport) -> None:
    if report.verified:
        common.say("  NOT FOUND: it verifies.")
        return
    common.say("  FOUND:")
    for problem in report.problems:
        _say(str(problem), 4)
    common.say("")


def _left(folder: Path) -> None:
    common.say(f"The files are in {folder}. Try:")
    common.say(f"  auditkit show RO-1001 --log {folder}/shop.auditlog")
    common.say(f"  auditkit verify {folder}/RO-1003.packet.json")
    common.say(
        f"  auditkit verify {folder}/shop.auditlog --trust {folder}/early.checkpoint"
    )
    _say(
        "Nothing can be added to this log: its passphrase was kept nowhere. To record "
        "a repair: auditkit demo --bay, or auditkit init in a folder of your own."
    )
