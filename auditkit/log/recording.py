"""Writing events of repair orders to the log, and their verdict."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from auditkit.errors import InputError, LogError
from auditkit.log import people, reading, upkeep
from auditkit.log.logged_order import (
    closed_alike,
    new_events,
    sent_before,
    without_verdicts,
)
from auditkit.log.marks import ALIKE, LIVE, SAID, VIN, marks_of
from auditkit.log.open_log import OpenLog
from auditkit.log.sealing import Writer, withhold
from auditkit.order.events import RepairOrder
from auditkit.order.policy import DEFAULT, Policy
from auditkit.order.verdict_event import verdict_event
from auditkit.proof.attached import attached_file
from auditkit.proof.entry import is_form
from auditkit.proof.keys import SigningKey
from auditkit.text.display_text import quoted
from auditkit.text.values import Json

if TYPE_CHECKING:
    from auditkit.log.logged_order import LoggedEvent
    from auditkit.order.findings import Verdict
    from auditkit.order.judgement import Judgement
    from auditkit.order.record import Record


@dataclass(frozen=True, slots=True)
class Recorded:
    """What one call of ``record`` wrote. ``written`` counts the new entries."""

    order_id: str
    first_seq: int
    last_seq: int
    written: int
    verdict: Verdict | None
    checkpoint_note: str


def record(  # noqa: PLR0913  each is a choice of whoever records
    log: OpenLog,
    record: Record,
    judgement: Judgement,
    *,
    passphrase: bytes = b"",
    signer: SigningKey | None = None,
    by: str | None = None,
    unproven_reason: str | None = None,
    keep_open: bool = False,
    form: str | None = None,
) -> Recorded:
    """Append a record's new events and, unless kept open, the verdict.

    All or nothing is written, in one transaction that ends with a checkpoint. Events
    that the log holds already must be the same, in the same order. The policy of the
    judgement says what is withheld. ``signer`` is the person's key, unlocked; without
    it, and without a log key that is kept unlocked, the passphrase opens them.
    ``form`` is the id of the form that closes, as ``append`` has it: one that made
    entries before writes nothing.
    """
    _refuse_no_form(form)
    _refuse_unfit(record, judgement, settled=keep_open or unproven_reason is not None)
    person = by or people.only_person(log)
    signer = signer or log.signer(person, passphrase)
    log_key = log.log_signer(passphrase)
    policy = judgement.policy
    with log.writing() as writer:
        logged = reading.logged_events(log, record.repair_order)
        sent = [line for line in logged if form is not None and line.form == form]
        writer.form = form
        new = () if sent else new_events(record, logged)
        held = without_verdicts(logged)
        seqs = [line.seq for line in held]
        seqs += [
            _seal(log, writer, record.repair_order, event, person, signer, policy)
            for event in new
        ]
        if not keep_open and not sent:
            own = [line.signed_by for line in held]
            order = RepairOrder.fold(
                record.repair_order,
                record.events,
                signers=[*own, *(person for _ in new)],
            )
            verdict = verdict_event(order, judgement, seqs, person, unproven_reason)
            if new or not closed_alike(logged, verdict):
                log.refuse_signer(person, signer)
                verdict = {**verdict, "at": log.at()}
                writer.add(record.repair_order, verdict, person, signer)
        if writer.rows:
            _refuse_copies(log, record, new, judgement)
            _keep(log, new, record.pictures)
            writer.finish(log_key)
    return Recorded(
        order_id=record.repair_order,
        first_seq=writer.rows[0].entry.seq if writer.rows else (sent or logged)[0].seq,
        last_seq=writer.rows[-1].entry.seq if writer.rows else (sent or logged)[-1].seq,
        written=len(writer.rows),
        verdict=None if keep_open else judgement.verdict,
        checkpoint_note=writer.checkpoint_note or upkeep.checkpoint(log),
    )


def _refuse_copies(
    log: OpenLog,
    record: Record,
    events: Sequence[Mapping[str, Json]],
    judgement: Judgement,
) -> None:
    """Raise LogError where another order holds a readout and the judge did not know.

    Or a bench test's readings. Another program may have recorded it since; within the
    transaction none can. Typed values may be alike in two orders of one vehicle.
    """
    own = record.repair_order
    vins = RepairOrder.fold(own, record.events).vins
    of_vehicle = {o for vin in vins for o in reading.holders(log, VIN, vin)} | {own}
    for event in events:
        for kind, value in marks_of(event):
            if kind not in {SAID, LIVE, ALIKE} or value in judgement.elsewhere:
                continue
            is_own = reading.first_holder(log, kind, value) == own
            known = of_vehicle if kind == ALIKE else {own}
            other = reading.other_holder(log, kind, value, known)
            if other is not None and not is_own:
                what = "bench test" if event.get("kind") == "bench_test" else "readout"
                raise LogError(
                    f"repair order {other} holds the same {what}, and "
                    f"{own} was judged without knowing it",
                    where=str(log.store.path),
                    what_to_do="run it again: nothing was written",
                )


def _refuse_unfit(record: Record, judgement: Judgement, *, settled: bool) -> None:
    if judgement.order_id != record.repair_order:
        raise InputError(
            f"the judgement is of repair order {judgement.order_id!r}",
            what_to_do="judge this record",
        )
    if not judgement.is_enough and not settled:
        raise InputError(
            f"repair order {record.repair_order} is {judgement.verdict}: "
            f"{len(judgement.blocking)} findings block",
            what_to_do="settle them, or close it all the same with --unproven REASON",
        )


class GrewMeanwhileError(LogError):
    """Somebody else recorded a step of the order since it was judged."""


def append(  # noqa: PLR0913  what is sealed, by whom, and how
    log: OpenLog,
    order_id: str,
    events: Sequence[Mapping[str, Json]],
    *,
    person: str,
    signer: SigningKey,
    policy: Policy = DEFAULT,
    pictures: Mapping[str, bytes] | None = None,
    form: str | None = None,
    log_key: SigningKey | None = None,
    seen: Sequence[LoggedEvent] | None = None,
) -> tuple[int, ...]:
    """Append events that were validated before, in one durable transaction.

    Returns their sequence numbers. Writes no verdict, and a checkpoint only where the
    ``log_key`` is given to sign it. ``pictures`` are the bytes of attachments, by
    SHA-256 in hex, as a ``Record`` has them. ``form`` is the id of the form that the
    events come from (1 to 64 letters, digits, - and _): the same form sent again writes
    nothing and is answered as at first; with other events, but for their times, it is
    an InputError. ``seen`` are the order's entries as they were when the events were
    judged: GrewMeanwhileError where there are others by now, and nothing is written.
    """
    _refuse_no_form(form)
    with log.writing() as writer:
        if form is not None or seen is not None:
            here = tuple(line.seq for line in seen or ())
            is_as_seen = seen is not None and log.store.order_seqs(order_id) == here
            logged = seen or ()
            if not is_as_seen:
                logged = reading.logged_events(log, order_id)
            if form is not None and (sent := sent_before(form, events, logged)):
                return sent
            if seen is not None and not is_as_seen:
                raise GrewMeanwhileError(
                    f"repair order {order_id} grew meanwhile",
                    where=str(log.store.path),
                    what_to_do="run it again: nothing was written",
                )
        writer.form = form
        seqs = [
            _seal(log, writer, order_id, event, person, signer, policy)
            for event in events
        ]
        _keep(log, events, pictures or {})
        if log_key is None:
            writer.flush()
        else:
            writer.finish(log_key)
    return tuple(seqs)


def _refuse_no_form(form: str | None) -> None:
    if form is not None and not is_form(form):
        raise InputError(
            f"{quoted(form)} is no id of a form",
            what_to_do="use 1 to 64 letters, digits, - and _",
        )


def _keep(
    log: OpenLog, events: Sequence[Mapping[str, Json]], pictures: Mapping[str, bytes]
) -> None:
    """Put beside the log the bytes that events say are kept, before an entry says so.

    Where nothing is written after all, they lie there unnamed, as ``verify`` notes.
    """
    for found in filter(None, map(attached_file, events)):
        if not found.kept:
            continue
        gone = log.ring.erased_attachments.get(found.sha256)
        if gone is not None:
            raise InputError(
                f"attachment {found.sha256} was erased by entry {gone}",
                what_to_do="leave this attachment out",
            )
        data = pictures.get(found.sha256) or log.attachments.get(found.sha256) or b""
        if hashlib.sha256(data).hexdigest() != found.sha256:
            raise InputError(
                f"the bytes of attachment {found.sha256} are not here",
                what_to_do='name the file in the record, as "file"',
            )
        log.attachments.put(data)


def _seal(  # noqa: PLR0913, PLR0917  what is sealed, by whom, and how
    log: OpenLog,
    writer: Writer,
    order_id: str,
    event: Mapping[str, Json],
    person: str,
    signer: SigningKey,
    policy: Policy,
) -> int:
    """Seal one event under the policy."""
    log.refuse_signer(person, signer)
    return writer.add_sealed(order_id, withhold(event, policy), person, signer)
