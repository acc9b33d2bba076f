"""One step of a repair, recorded as it happens: judged, sealed, and what it changed.

Everything that is refused is refused before anything is written. The events of a step
are sealed with the person's own key, under the id of the form that they come from, and
a checkpoint over them is signed in the same transaction.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from shlex import quote
from typing import TYPE_CHECKING

from auditkit.bay.cautions_due import Due, due_before, not_in_force
from auditkit.bay.due_step import Step
from auditkit.bay.known_orders import KnownOrders
from auditkit.bay.next_step import next_step
from auditkit.bay.supposed import with_event
from auditkit.bay.told import changed_lines
from auditkit.errors import InputError
from auditkit.log.held_order import HeldOrder, held
from auditkit.log.recording import GrewMeanwhileError
from auditkit.order.policy import DEFAULT, Policy
from auditkit.order.record import Record, refuse_future
from auditkit.order.schema import validate_record
from auditkit.text.values import Json

if TYPE_CHECKING:
    from auditkit.bay.so_far import SoFar
    from auditkit.log.ledger import Ledger
    from auditkit.order.catalogue import Catalogue
    from auditkit.proof.keys import SigningKey

_TRIES = 5
_GOES_ON = frozenset({"amendment", "attachment"})
"""Kinds of event that a proven, closed order still takes."""


class CautionsDueError(InputError):
    """A step calls for cautions that nobody has acknowledged in force."""

    due: tuple[Due, ...] = ()


@dataclass(frozen=True, slots=True)
class Hands:
    """Who records, with what: the person's key and the log's, and how it is judged."""

    person: str
    signer: SigningKey
    log_key: SigningKey
    catalogue: Catalogue
    policy: Policy = DEFAULT


@dataclass(frozen=True, slots=True)
class Form:
    """What is sent at once: events, and the bytes of their pictures by SHA-256.

    ``id`` makes the same form, sent again, one; ``unacknowledged`` records a step that
    was done without its cautions: it stays not shown that its hazards were met.
    """

    id: str
    events: Sequence[Mapping[str, Json]]
    pictures: Mapping[str, bytes] = field(default_factory=dict)
    unacknowledged: bool = False


@dataclass(frozen=True, slots=True)
class Taken:
    """What a step did: its entries, what it changed, and what is next.

    ``is_new`` is false where the log held the form already; ``was`` is None where the
    step opened the order. ``held`` is the order with it, ``at`` and ``by`` when and by
    whom it was recorded. ``reopened`` is the verdict that the order was closed with
    before this step, or empty.
    """

    seqs: tuple[int, ...]
    is_new: bool
    was: SoFar | None
    after: SoFar
    held: HeldOrder
    at: str
    by: str
    reopened: str = ""

    @property
    def changed(self) -> tuple[str, ...]:
        """What the step changed, in lines."""
        return () if self.was is None else tuple(changed_lines(self.was, self.after))

    @property
    def next(self) -> Step:
        """The next step, where the same person takes it at once."""
        return next_step(self.after, at=self.at, by=self.by)


def take(
    ledger: Ledger,
    order_id: str,
    form: Form,
    hands: Hands,
    known: KnownOrders | None = None,
) -> Taken:
    """Record one step of an order; ``known`` is what a program that stays knows.

    Raises InputError, and writes nothing, for events that do not fit their schema, lie
    in the future, or do not fit the order; CautionsDueError for a step without its
    cautions.
    """
    known = KnownOrders() if known is None else known
    catalogue, policy = hands.catalogue, hands.policy
    for _ in range(_TRIES):
        before = held(ledger, order_id)
        sent = tuple(line.seq for line in before.lines if line.form == form.id)
        if not sent:
            _refuse_unfit(ledger, before, form, hands)
        was = None
        if before.lines:
            was = known.so_far(before.order, catalogue, policy)
        if was is not None and not sent and not form.unacknowledged:
            _refuse_without_cautions(was, form)
        try:
            seqs = ledger.append(
                order_id,
                form.events,
                person=hands.person,
                signer=hands.signer,
                policy=policy,
                pictures=form.pictures,
                form=form.id,
                log_key=hands.log_key,
                seen=before.lines,
            )
        except GrewMeanwhileError:
            continue  # somebody else recorded: judge it again with that
        now = held(ledger, order_id)
        return Taken(
            seqs=seqs,
            is_new=not sent,
            was=was,
            after=known.so_far(now.order, catalogue, policy),
            held=now,
            at=ledger.at(),
            by=hands.person,
            reopened=str(before.verdict.get("verdict")) if before.verdict else "",
        )
    raise GrewMeanwhileError(
        f"others record in {order_id} all the while",
        what_to_do="run it again: nothing was written",
    )


def _refuse_unfit(ledger: Ledger, before: HeldOrder, form: Form, hands: Hands) -> None:
    order_id = before.order.id
    opens = any(event.get("kind") == "opening" for event in form.events)
    if opens:
        refuse_open_again(before)
    if not opens and not before.lines:
        ledger.show(order_id)  # which says what orders there are
    if before.verdict is not None and before.verdict.get("verdict") == "proven":
        strange = [e for e in form.events if e.get("kind") not in _GOES_ON]
        if strange:
            raise InputError(
                f"repair order {order_id} is closed as proven",
                what_to_do="open another order for what came after it",
            )
    whole = [dict(line.event) for line in before.events] + [*map(dict, form.events)]
    record: dict[str, Json] = {
        "format": "auditkit/repair-record@1",
        "repair_order": order_id,
        "events": list(whole),
    }
    first = len(before.events)
    for problem in validate_record(record, hands.catalogue.events, first):
        _, _, place, *rest = f"{problem.pointer}//".split("/")
        if problem.pointer.startswith("/events/") and int(place or -1) < first:
            continue  # what is logged is what it is
        inner = "/".join(filter(None, rest))
        where = f"/{inner}" if problem.pointer.startswith("/events/") else "ORDER"
        raise InputError(problem.message, where=where, what_to_do=problem.what_to_do)
    try:
        at = datetime.fromisoformat(ledger.at())
        refuse_future(Record(order_id, tuple(form.events)), at)
    except InputError as error:
        error.where = "/at"
        raise
    for event in form.events:
        if event.get("by") != hands.person:
            raise InputError(
                f"{event.get('by')!r} did it, and {hands.person!r} signs",
                what_to_do="let each record with their own key",
            )


def refuse_open_again(before: HeldOrder) -> None:
    """Raise InputError where an order is in the log, with how to go on."""
    if before.lines:
        raise InputError(
            f"repair order {before.order.id} is {_state(before)}",
            what_to_do=_how_to_go_on(before),
        )


def _state(before: HeldOrder) -> str:
    if before.verdict is None:
        return "open already"
    return f"closed as {before.verdict.get('verdict')}"


def _how_to_go_on(before: HeldOrder) -> str:
    order_id = before.order.id
    if before.verdict is None:
        return f"see 'auditkit status {order_id}', or open it under another number"
    if before.verdict.get("verdict") == "proven":
        return "open another order: what came back is another visit"
    return (
        f"add what was missing, such as a second readout, with 'auditkit add "
        f"{order_id}', and close it again; what came back later is another visit: open "
        "another order"
    )


def _refuse_without_cautions(was: SoFar, form: Form) -> None:
    """Raise CautionsDueError for the first event of a form that lacks its cautions."""
    order, judgement = was.order, was.judgement
    for number, event in enumerate(form.events):
        if number:
            order = with_event(order, form.events[number - 1])
            judgement = judgement.catalogue.judge(order, judgement.policy)
        kind = str(event.get("kind"))
        if kind == "caution":
            if why := not_in_force(order, event, judgement):
                raise InputError(
                    why,
                    what_to_do="measure, wait, protect or write what is missing, and "
                    "acknowledge then; the vehicle maker's procedure comes first",
                )
        elif kind != "amendment" and (due := due_before(order, event, judgement)):
            told = "; ".join(
                f"{d.caution.signal_word} {d.caution.id} ({d.caution.hazard}): {d.why}"
                for d in due
            )
            words = [*dict.fromkeys(d.caution.id for d in due), "--before", kind]
            if part := event.get("part"):
                words += ["--part", str(part)]
            what = " ".join(map(quote, words))
            began = "; if it began while they were, say when with --set started=HH:MM"
            error = CautionsDueError(
                f"this step calls for cautions that are not in force: {told}",
                what_to_do=f"before it is begun, 'auditkit add {order.id} caution "
                f"{what}' acknowledges them{began * (kind == 'repair')}; if it is done "
                "already without them, --unacknowledged records it, and that its "
                "hazards were met stays not shown",
            )
            error.due = due
            raise error
