"""Judging a packet's order again, by this reader's rules; nothing signed counts.

The signed verdict and statement are compared, never believed. What an event says counts
only where this reader's schemas accept it: an event of a core kind that they refuse
closes every question, since it may be the one that speaks against the repair. So does
one that withholds what rules read. Neither can bring this reader down. What this reader
lacks of the shop's rules is not judged here.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING, NamedTuple

from auditkit.errors import InputError
from auditkit.order.answer_text import grouped
from auditkit.order.copied_values import sure_marks
from auditkit.order.event_kinds import kinds
from auditkit.order.events import Event, RepairOrder
from auditkit.order.findings import Finding, Severity, Verdict
from auditkit.order.photographs import looked_at
from auditkit.order.policy import DEFAULT, Policy
from auditkit.order.questions import Answer, State
from auditkit.order.schema import validate_event
from auditkit.order.statement import (
    answers_stated,
    fault_line,
    statement,
    verdict_text,
)
from auditkit.order.strength import Strength
from auditkit.order.verdict_event import ROOMS
from auditkit.order.verdicts import fault_verdicts, order_verdict
from auditkit.proof.check_report import HeldValues, JudgedHere
from auditkit.reader.overstated import is_better, overstated
from auditkit.reader.shop_rules import differing, not_here, without_answers
from auditkit.reader.steps import Step, log_shop, other_shops, own_steps, steps_of

if TYPE_CHECKING:
    from auditkit.order.catalogue import Catalogue
    from auditkit.order.judgement import Judgement
    from auditkit.proof.entry import Payload
    from auditkit.proof.packet import Packet
    from auditkit.text.values import Json


_UNREAD = "unread"  # a kind of event that no rule reads
_NO_TIME = "1970-01-01T00:00:00+00:00"  # of an event that has none; it is not judged
_TOLD_ONLY = {
    "attachment": frozenset({"shows"}),
    "bench_test": frozenset({"note"}),
    "diagnosis": frozenset({"reasoning"}),
    "opening": frozenset(
        {"complaint", "customer", "customer.contact", "customer.name", "vehicle.plate"}
    ),
    "repair": frozenset({"note"}),
}
"""Members by kind of event that no rule reads: withheld, they close no question."""
_OTHER_VERSION = "read it with the version of auditkit that wrote it"
_ASK_FOR_IT = "ask the shop for a packet that discloses it"


@dataclass(frozen=True, slots=True)
class _Unread:
    """An event that this reader cannot take into account, or not in whole.

    ``line`` says which and why. A *strange* one is of a plugin's kind: it is named, and
    closes no question. One that is not *emptied* is judged by what it discloses.
    """

    place: int
    line: str
    what_to_do: str = _OTHER_VERSION
    is_strange: bool = False
    is_emptied: bool = True


class JudgedOrder(NamedTuple):
    """A packet's order as it was judged, what it says, and how its shop's compares."""

    order: RepairOrder
    judgement: Judgement
    here: JudgedHere


def judge_again(
    packet: Packet,
    catalogue: Catalogue,
    policy: Policy = DEFAULT,
    read: Sequence[Payload] = (),
) -> tuple[Judgement, JudgedHere]:
    """Return what a packet's evidence says here, and how that compares with its shop's.

    Arguments and errors as ``judge_order``.
    """
    found = judge_order(packet, catalogue, policy, read)
    return found.judgement, found.here


def judge_order(
    packet: Packet,
    catalogue: Catalogue,
    policy: Policy = DEFAULT,
    read: Sequence[Payload] = (),
) -> JudgedOrder:
    """Return a packet's order as it is judged here, with what ``judge_again`` does.

    The packet has to have verified: nothing of it is checked here. ``read`` is what its
    entries say, where somebody has read them already. Raises InputError for a policy
    that the rules cannot use.
    """
    entries = steps_of(packet, read)
    own = own_steps(entries)
    steps = [step for step in own if step.event.kind != "verdict"]
    signed = [step for step in own if step.event.kind == "verdict"]
    said = signed[-1].event if signed else None
    unread = list(_unread(steps, catalogue))
    try:
        return _judged(packet, entries, unread, said, catalogue, policy)
    except InputError:
        raise
    except Exception:  # noqa: BLE001  a stranger wrote what is judged here
        # An interpreter's own words would differ from host to host.
        why = "judging the packet failed on what this version does not expect"
        every = [
            _Unread(place, f"entry {step.payload.seq} is not judged here: {why}")
            for place, step in enumerate(steps)
        ]
        return _judged(packet, entries, every, said, catalogue, policy)


def _judged(  # noqa: PLR0913, PLR0917  what is judged, and by what
    packet: Packet,
    entries: Sequence[Step],
    unread: Sequence[_Unread],
    signed: Event | None,
    catalogue: Catalogue,
    policy: Policy,
) -> JudgedOrder:
    steps = [s for s in own_steps(entries) if s.event.kind != "verdict"]
    emptied = {one.place for one in unread if one.is_emptied}
    order = RepairOrder.fold(
        packet.repair_order,
        [
            _empty(step) if place in emptied else step.event.data
            for place, step in enumerate(steps)
        ],
        pictures=looked_at(dict(packet.attachments)),
        recorded=[
            step.payload.recorded_at if _is_time(step.payload.recorded_at) else _NO_TIME
            for step in steps
        ],
        signers=[step.payload.by for step in steps],
    )
    judgement = catalogue.judge(order, policy)
    closing = [one for one in unread if not one.is_strange]
    if closing:
        judgement = _closed(order, judgement, closing)
    missing = list(not_here(signed, catalogue)) if signed else []
    if missing:
        judgement = without_answers(order, judgement, missing)
    told = (
        *(one.line for one in closing),
        *(one.line for one in missing),
        *(f"{f.rule}: {f.message}" for f in judgement.findings if f.is_newer),
        *(differing(signed, catalogue) if signed else ()),
        *_other_shop(entries),
        *(one.line for one in unread if one.is_strange),
        *_not_seen(judgement),
    )
    alike, near = sure_marks(order)
    held = HeldValues(order.readouts | order.lives, alike, near, order.vins)
    unfound = frozenset(_unfound(order, judgement, signed))
    here = replace(_compared(judgement, signed, told), held=held, unfound=unfound)
    return JudgedOrder(order, judgement, here)


def _empty(step: Step) -> dict[str, Json]:
    """Return an event that keeps its place and says nothing."""
    times = (step.event.text("at"), step.payload.recorded_at)
    at = next((time for time in times if _is_time(time)), _NO_TIME)
    return {"kind": _UNREAD, "at": at, "by": step.payload.by}


def _is_time(text: str) -> bool:
    try:
        return datetime.fromisoformat(text).tzinfo is not None
    except ValueError:
        return False


def _other_shop(entries: Sequence[Step]) -> Iterator[str]:
    """Yield that the record names another shop than the log is of."""
    own = log_shop(entries)
    for named in other_shops(entries):
        yield f"the record names the shop {named!r}; the log is of {own!r}"


def _not_seen(judgement: Judgement) -> Iterator[str]:
    """Yield what no packet shows of the pictures that answers rest on."""
    if any(found.strength is Strength.PHOTOGRAPHED for found in judgement.answers):
        yield (
            "whether another repair order of the log names the same picture is not "
            "seen in a packet"
        )


def _unread(steps: Sequence[Step], catalogue: Catalogue) -> Iterator[_Unread]:
    for place, step in enumerate(steps):
        entry = f"entry {step.payload.seq}"
        kind = step.event.kind
        if kind not in catalogue.events.names:
            why = f"its kind {kind!r} is not read here"
            yield _Unread(place, f"{entry} is left out: {why}", is_strange=True)
            continue
        if not _is_time(step.payload.recorded_at):
            why = f"it was recorded at {step.payload.recorded_at!r}, which is no time"
            yield _Unread(place, f"{entry} is not read here: {why}")
            continue
        hidden = (*step.hidden, *(path for path, _ in step.erased))
        found = validate_event(dict(step.event.data), catalogue.events)
        if read := [path for path in hidden if _is_read(step, path)]:
            line = f"withheld in {entry}, and rules read it: {', '.join(read)}"
            yield _Unread(place, line, _ASK_FOR_IT, is_emptied=bool(found))
        elif problems := [
            problem
            for problem in found
            if not _is_withheld(problem.pointer, problem.message, hidden)
        ]:
            first = problems[0]
            why = f"{first.pointer or 'the event'}: {first.message}"
            yield _Unread(place, f"{entry} is not read here: {why}")


def _is_read(step: Step, path: str) -> bool:
    """Return whether rules may read a member of an event of one of the core's kinds."""
    event = step.event
    if event.kind == "amendment" and path.startswith("event."):
        event = Event(0, event.object("event"))
        path = path.removeprefix("event.")
    return event.kind in kinds() and path not in _TOLD_ONLY.get(event.kind, ())


def _is_withheld(pointer: str, message: str, hidden: Iterable[str]) -> bool:
    """Return whether a member that is missing is one that the packet withholds."""
    parent = pointer.strip("/").replace("/", ".")
    return any(
        path.rpartition(".")[0] == parent
        and message == f'"{path.rpartition(".")[2]}" is missing'
        for path in hidden
    )


def _closed(
    order: RepairOrder, judgement: Judgement, unread: Sequence[_Unread]
) -> Judgement:
    """Return a judgement in which nothing is shown, since an event is not read."""
    first, *more = (one.line for one in unread)
    told = (first, f"and {len(more)} more such entries") if more else (first,)
    steps = tuple(dict.fromkeys(one.what_to_do for one in unread))
    answers = tuple(
        found
        if found.state is State.AGAINST
        else Answer(
            found.question,
            found.subject,
            State.NOT_SHOWN,
            None,
            told,
            steps,
            tuple(one.place for one in unread),
        )
        for found in judgement.answers
    )
    findings = tuple(
        Finding(
            "event-not-read",
            Severity.BLOCKING,
            one.line,
            one.place,
            one.what_to_do,
        )
        for one in unread
    )
    return replace(
        judgement,
        answers=answers,
        faults=fault_verdicts(order, answers),
        verdict=order_verdict(order, answers),
        findings=(*findings, *judgement.findings),
    )


def _unfound(
    order: RepairOrder, judgement: Judgement, signed: Event | None
) -> set[str]:
    """Return the lines of the signed statement that nobody states who judges here."""
    left = set() if signed is None else set(signed.texts("statement"))
    for most in ROOMS:  # a long one is signed in brief
        left -= set(statement(order, judgement, most)) if left else left
    return left


def _compared(
    judgement: Judgement, given: Event | None, told: Sequence[str]
) -> JudgedHere:
    here = judgement.verdict
    signed = None if given is None else str(given.data.get("verdict"))
    more = () if given is None else tuple(dict.fromkeys(overstated(given, judgement)))
    if signed not in set(Verdict):
        compared = "the shop signed no verdict that is known here"
    elif signed == here and more:
        compared = f"the shop signed {signed}, and beside it more than that"
    elif signed == here:
        compared = f"the shop signed {signed}: that agrees"
    else:
        compared = f"the shop signed {signed}; the evidence in this packet says {here}"
    found: dict[str, Json] = dict(judgement.to_json())
    found["signed_verdict"] = signed
    return JudgedHere(
        str(here),
        signed,
        agrees=not (more or is_better(str(signed), here)),
        compared=compared,
        said=verdict_text(judgement),
        told=(
            *more,
            *told,
            *(fault_line(fault, verdict) for fault, verdict in judgement.faults),
        ),
        answers=tuple(
            (group.heading, group.lines)
            for group in grouped(judgement.answers, judgement.part_names)
        ),
        found=found,
        repeated=frozenset(answers_stated(judgement.order_id, judgement)),
    )
