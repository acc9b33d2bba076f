"""``check`` and ``record``: a repair record is judged, and written if asked."""

from __future__ import annotations

from collections.abc import Callable, Collection, Container, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import click

from auditkit.cli import common, passphrases, progress
from auditkit.cli.beside_log import policy_of, register_of
from auditkit.errors import InputError
from auditkit.log.held_order import elsewhere
from auditkit.log.marks import VIN
from auditkit.order.events import RepairOrder
from auditkit.order.findings import Verdict
from auditkit.order.instruments import with_specifications
from auditkit.order.photographs import looked_at
from auditkit.order.record import Record, refuse_future
from auditkit.order.statement import DEFERS, late_text, verdict_text
from auditkit.output.listings import judgement_lines
from auditkit.plugin.loading import load_catalogue, load_plugins
from auditkit.proof.attached import attached_file

if TYPE_CHECKING:
    from auditkit.log.ledger import Ledger
    from auditkit.order.catalogue import Catalogue
    from auditkit.order.findings import Finding
    from auditkit.order.instruments import RegisteredInstrument
    from auditkit.order.judgement import Judgement
    from auditkit.order.policy import Policy

T = TypeVar("T")
_LIMITS = ("caution", "limit", "minimum", "maximum", "at least", "at most")


@dataclass(frozen=True, slots=True)
class _Logged:
    """What a log holds: who holds a readout, and when an order was recorded.

    ``other_holder`` gives a repair order with a mark, by its kind and value, that is
    none of some; ``holders`` all of them; ``picture`` the bytes of one that lies beside
    the log, ``first_holder`` the order that had a mark first, ``others`` the other
    orders of an order's vehicle. ``now`` is when the events of a
    record that are not in the log will be recorded; None where none are to be: each
    then counts as recorded at its own time. ``signed_by`` gives who signed the entries
    of an order, ``person`` is who will sign the rest.
    """

    holders: Callable[[str, str], frozenset[str]]
    recorded_at: Callable[[str], tuple[str, ...]]
    now: datetime | None
    picture: Callable[[str], bytes | None] = lambda _: None
    others: Callable[[RepairOrder], tuple[RepairOrder, ...]] = lambda _: ()
    first_holder: Callable[[str, str], str | None] = lambda *_: None
    refuse_altered: Callable[[Record], None] = lambda _: None
    other_holder: Callable[[str, str, Collection[str]], str | None] = lambda *_: None
    signed_by: Callable[[str], tuple[str, ...]] = lambda _: ()
    person: str = ""

    def times(self, record: Record) -> tuple[str, ...]:
        """Return when each event of a record was or will be recorded; empty: never."""
        held = self.recorded_at(record.repair_order)
        if not held and self.now is None:
            return ()
        new = [e for e in record.events if e.get("kind") != "verdict"][len(held) :]
        own = None if self.now is None else self.now.isoformat()
        return (*held, *(own or str(event["at"]) for event in new))

    def signers(self, record: Record) -> tuple[str, ...]:
        """Return who signed each event of a record, or will, as far as it is known."""
        held = self.signed_by(record.repair_order)
        if not self.person:
            return held
        new = [e for e in record.events if e.get("kind") != "verdict"][len(held) :]
        return (*held, *(self.person for _ in new))

    def holds(self, record: Record) -> bool:
        """Return whether the log holds every event of a record."""
        events = [e for e in record.events if e.get("kind") != "verdict"]
        return len(self.recorded_at(record.repair_order)) >= len(events)

    def pictures(self, record: Record) -> dict[str, bytes]:
        """Return the pictures that lie beside the record or the log, by SHA-256."""
        named = (attached_file(event) for event in record.events)
        found = {f.sha256: self.picture(f.sha256) for f in named if f is not None}
        here = {digest: data for digest, data in found.items() if data is not None}
        return {**here, **record.pictures}


def _logged(ledger: Ledger, now: datetime | None, person: str = "") -> _Logged:
    return _Logged(
        ledger.holders,
        ledger.recorded_at,
        now,
        ledger.attachments.get,
        ledger.others,
        ledger.first_holder,
        ledger.refuse_altered,
        ledger.other_holder,
        ledger.signed_by,
        person,
    )


_NO_LOG = _Logged(lambda *_: frozenset(), lambda _: (), None)


@contextmanager
def _within(path: Path) -> Iterator[None]:
    """Say of an error's place in a record in which file it is."""
    try:
        yield
    except InputError as error:
        if error.where.startswith("/"):
            error.where = f"{path}#{error.where}"
        raise


def _judged(
    paths: tuple[Path, ...],
    catalogue: Catalogue,
    policy: Policy,
    logged: _Logged,
    known: Mapping[str, RegisteredInstrument],
) -> list[tuple[Path, Record, Judgement]]:
    """Judge each record beside the others and beside what the log holds."""
    orders: list[tuple[Path, Record, RepairOrder]] = []
    holders: dict[str, set[str]] = {}
    vehicles: dict[str, dict[str, RepairOrder]] = {}
    for path in paths:
        record = common.read_record(path, catalogue)
        record = with_specifications(record, known)
        with _within(path):
            logged.refuse_altered(record)
        order = RepairOrder.fold(
            record.repair_order,
            record.events,
            recorded=logged.times(record),
            signers=logged.signers(record),
            pictures=looked_at(logged.pictures(record)),
        )
        orders.append((path, record, order))
        for digest in order.readouts | order.lives | order.alike | order.attached:
            holders.setdefault(digest, set()).add(order.id)
        for vin in order.vins:
            vehicles.setdefault(vin, {})[order.id] = order
    judged: list[tuple[Path, Record, Judgement]] = []
    with progress.over(orders, "Judging") as items:
        for path, record, order in items:
            of_vehicle = {other.id: other for other in logged.others(order)}
            for vin in order.vins:
                of_vehicle |= vehicles[vin]
            of_vehicle.pop(order.id, None)
            found = elsewhere(
                order,
                partial(_other_holder, logged, holders),
                partial(_of_vehicle, logged, order, of_vehicle),
                logged.first_holder,
            )
            beside = replace(order, elsewhere=found, others=tuple(of_vehicle.values()))
            judged.append((path, record, catalogue.judge(beside, policy)))
    return judged


def _other_holder(
    logged: _Logged,
    holders: Mapping[str, set[str]],
    kind: str,
    digest: str,
    but: Collection[str],
) -> str | None:
    """Return who holds a mark, in the log or in a record that is judged beside it."""
    here = holders.get(digest, set()).difference(but)
    return logged.other_holder(kind, digest, but) or min(here, default=None)


def _of_vehicle(
    logged: _Logged, order: RepairOrder, known: Iterable[str]
) -> frozenset[str]:
    """Return every order of an order's vehicle, by the log or as known already."""
    return frozenset(known).union(*(logged.holders(VIN, vin) for vin in order.vins))


def _told(
    judged: Iterable[tuple[Path, Record, Judgement]],
    unlogged: Container[Path] = (),
) -> Iterator[str]:
    """Yield what is told of each record; who decides comes once, at the end.

    ``unlogged`` are the files of which no log holds every event.
    """
    defers = False
    for path, _, judgement in judged:
        is_logged = path not in unlogged
        lines = judgement_lines(str(path), judgement, is_logged=is_logged)
        yield from (line for line in lines if line != DEFERS)
        defers = defers or DEFERS in lines or any(map(_shows_limit, judgement.findings))
    if defers:
        yield DEFERS


def _shows_limit(finding: Finding) -> bool:
    said = f"{finding.rule} {finding.message} {finding.what_to_do}"
    return any(word in said for word in _LIMITS)


RECORDS = click.argument(
    "records", nargs=-1, required=True, type=click.Path(path_type=Path)
)


@click.command("check")
@RECORDS
@click.option(
    "--log",
    type=click.Path(path_type=Path),
    help="A log whose readouts must not come back under another repair order.",
)
@common.instruments_option
@common.policy_option
@common.format_option
def check_command(
    records: tuple[Path, ...],
    log: Path | None,
    register: Path | None,
    policy_file: Path | None,
    form: str,
) -> None:
    """Judge repair records; write nothing.

    Example: auditkit check RO-1001.json
    """
    catalogue = load_catalogue()
    if log is None:
        policy = common.read_policy(policy_file)
        known = common.read_register(register)
        judged = _judged(records, catalogue, policy, _NO_LOG, known)
        unlogged = set(records)
    else:
        from auditkit.log.ledger import Ledger

        policy, known = policy_of(log, policy_file), register_of(log, register)
        with Ledger.open(log) as ledger:
            logged = _logged(ledger, None)
            judged = _judged(records, catalogue, policy, logged, known)
            unlogged = {p for p, record, _ in judged if not logged.holds(record)}
    if form == "json":
        found = [judgement.to_json() for _, _, judgement in judged]
        common.print_json(found[0] if len(found) == 1 else found)
    else:
        common.print_lines(_told(judged, unlogged))
    if not all(judgement.is_enough for _, _, judgement in judged):
        raise click.exceptions.Exit(1)


@click.command("record")
@RECORDS
@click.option(
    "--unproven",
    metavar="REASON",
    callback=common.plain_text,
    help="Close it although something blocks.",
)
@click.option("--keep-open", is_flag=True, help="Append the events, write no verdict.")
@click.option(
    "--by", metavar="PERSON", help="Whose key signs; needed if several lie here."
)
@common.log_option
@common.instruments_option
@common.policy_option
@common.passphrase_option
@common.format_option
def record_command(
    records: tuple[Path, ...],
    unproven: str | None,
    keep_open: bool,
    by: str | None,
    log: Path,
    register: Path | None,
    policy_file: Path | None,
    passphrase_file: Path | None,
    form: str,
) -> None:
    """Judge, sign and append repair records, and close them.

    Every record is judged before anything is written. A record that the log holds in
    part is continued; one that it holds whole and proven is left as it is; one that it
    holds closed otherwise is judged and closed anew. One that is kept open is judged
    too, so that it is told what is still to be recorded.

    Example: auditkit record RO-1001.json
    """
    from auditkit.log.ledger import Ledger
    from auditkit.log.people import only_person

    if unproven is not None and not unproven.strip():
        raise InputError(
            "a repair order that something blocks is closed for a reason",
            where="--unproven",
            what_to_do="write why",
        )
    policy, known = policy_of(log, policy_file), register_of(log, register)
    plugins = load_plugins()
    results: list[object] = []
    with Ledger.open(log) as ledger:
        now = datetime.now(UTC)
        person = by or only_person(ledger)
        logged = _logged(ledger, now, person)
        judged = _judged(records, plugins.catalogue, policy, logged, known)
        for path, record, _ in judged:
            refuse_future(record, now, where=str(path))
        if not keep_open and unproven is None:
            _refuse_blocked(judged, form)
        signer, _ = passphrases.unlock(ledger, person, passphrase_file)
        hook = plugins.hook.sealed
        ledger.on_sealed = lambda seq, payload: hook(seq=seq, payload=payload)
        for path, record, judgement in judged:
            with _within(path):
                done = ledger.record(
                    record,
                    judgement,
                    signer=signer,
                    by=person,
                    unproven_reason=unproven,
                    keep_open=keep_open,
                )
            verdict = "open" if done.verdict is None else str(done.verdict)
            results.append(
                {
                    "repair_order": done.order_id,
                    "verdict": None if done.verdict is None else verdict,
                    "written": done.written,
                    "first_seq": done.first_seq,
                    "last_seq": done.last_seq,
                    "findings": [found.to_json() for found in judgement.findings],
                }
            )
            if form == "text":
                wrote = (
                    f"entries {done.first_seq} to {done.last_seq} written"
                    if done.written
                    else "the log holds it already; nothing written"
                )
                common.say(f"{path}: {done.order_id}: {verdict}: {wrote}")
                if done.verdict not in {None, Verdict.PROVEN}:
                    common.print_lines(_why(judgement))
    if form == "json":
        common.print_json(results[0] if len(results) == 1 else results)
    elif keep_open:
        common.print_lines(_told(judged))


def _why(judgement: Judgement) -> Iterator[str]:
    """Yield why a verdict is not proven, and what was recorded late."""
    yield f"    {verdict_text(judgement)}"
    if late := late_text(judgement):
        yield f"    {late}"


def _refuse_blocked(judged: list[tuple[Path, Record, Judgement]], form: str) -> None:
    blocked = [j for j in judged if not j[2].is_enough]
    if not blocked:
        return
    if form == "json":
        found = [judgement.to_json() for _, _, judgement in blocked]
        common.print_json(found[0] if len(found) == 1 else found)
    else:
        common.print_lines(_told(blocked))
        common.say(
            "Nothing was written. Record what is missing; or, while the work goes on, "
            "record what is there with --keep-open; or close it all the same with "
            "--unproven REASON."
        )
    raise click.exceptions.Exit(1)
