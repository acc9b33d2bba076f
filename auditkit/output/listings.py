"""Judgements, orders, readouts and reports as lines of text."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from auditkit.log.logged_order import attachment_line, held_line
from auditkit.order.answer_text import answer_lines
from auditkit.order.event_text import (
    amount_text,
    computed_text,
    event_name,
    kind_in_words,
    limit_text,
    method_in_words,
    names_of_parts,
    self_test_text,
    value_text,
)
from auditkit.order.events import Event
from auditkit.order.findings import Verdict
from auditkit.order.self_test_evidence import readout_of
from auditkit.order.statement import DEFERS, fault_line, verdict_text
from auditkit.order.typed_readout import typed_tests
from auditkit.output.typed_lines import typed_lines
from auditkit.text.display_text import plural
from auditkit.text.moment import clock_text, local_times
from auditkit.text.values import Json, displayed, quantity

if TYPE_CHECKING:
    from auditkit.log.logged_order import LoggedEvent, LoggedOrder
    from auditkit.log.people import Person
    from auditkit.order.catalogue import Catalogue
    from auditkit.order.judgement import Judgement


_MARKS = {
    "blocking": "",
    "advisory": "advice: ",
    "not asked, found": "not asked, found: ",
}


def judgement_lines(
    name: str, judgement: Judgement, *, is_logged: bool = True
) -> list[str]:
    """Return the verdict on a record; then by fault, by question, and what to do.

    What keeps a question from being shown stands once, at what to do about it.

    ``is_logged`` is false for a record that no log holds whole: it was judged as if
    each of its steps were recorded on time.
    """
    advisory = len(judgement.findings) - len(judgement.blocking)
    said = verdict_text(judgement)
    if not is_logged and judgement.verdict in {Verdict.PROVEN, Verdict.VOUCHED}:
        verdict, why = said.split(": ", 1)
        said = f"{verdict}, as if each step were recorded on time: {why}"
    if advisory:
        said += f" ({plural(advisory, 'advice', 'pieces of advice')})"
    lines = [f"{name}: {said}"]
    lines += [f"    {fault_line(*found)}" for found in judgement.faults]
    lines += [f"    the policy: {told}" for told in judgement.departures]
    answers = answer_lines(
        judgement.answers,
        judgement.part_names,
        told_apart={finding.message for finding in judgement.findings},
        is_logged=is_logged,
    )
    lines += [f"    {line}" for line in answers]
    told: dict[tuple[str, str], None] = {}
    for finding in judgement.findings:
        mark = _MARKS[judgement.weight(finding)]
        place = f" [{finding.pointer}]" if finding.pointer else ""
        said = f"{name}: {finding.rule}: {mark}{finding.message}{place}"
        told[said, f"    what to do: {finding.what_to_do}"] = None
    lines += [line for both in told for line in both]
    if any("caution" in f.rule or "limit" in f.message for f in judgement.findings):
        lines.append(DEFERS)
    return lines


def people_lines(people: Iterable[Person]) -> list[str]:
    """Return a line for every key of a person."""
    return [
        f"{p.id:<16} {p.role:<12} {p.thumbprint}  enrolled by entry "
        f"{p.enrolled_seq}"
        + (f", revoked by entry {p.revoked_seq}" if p.revoked_seq is not None else "")
        + ("" if p.has_private else ", private key not here")
        for p in people
    ]


@dataclass(frozen=True, slots=True)
class _Known:
    """What ids of an event are called: ``parts`` by what the diagnoses say."""

    catalogue: Catalogue
    parts: Mapping[str, str]

    @classmethod
    def of(cls, order: LoggedOrder, catalogue: Catalogue) -> _Known:
        events = (Event(0, line.event) for line in order.lines)
        return cls(catalogue, names_of_parts(events))

    def part(self, event: Event) -> str:
        """Return the name of the part that an event is of, its id where it has none."""
        return self.parts.get(event.text("part"), event.text("part"))

    def step(self, name: str, value: Json) -> str:
        """Return in words what a caution says of its step."""
        told = str(value).replace("_", " ")
        return self.parts.get(str(value), told) if name == "part" else told


def order_lines(order: LoggedOrder, catalogue: Catalogue) -> list[str]:
    """Return a repair order of the log as a story, at least a line for each entry.

    The catalogue has the kinds of bench test that can be computed here.
    """
    known = _Known.of(order, catalogue)
    verdict = order.verdict
    if verdict is None:
        lines = [f"Repair order {order.id} is open: it has no verdict yet."]
    else:
        lines = [str(line) for line in _list(verdict.get("statement"))][:1]
        if verdict.get("reason"):
            lines.append(f"Closed all the same: {verdict['reason']}")
    judged = order.events
    corrections = {
        judged[place].seq: line.seq
        for line in judged
        if (place := _corrects(line.event, len(judged))) is not None
    }
    local = local_times(str(line.event.get("at")) for line in order.lines)
    for logged in order.lines:
        event = Event(0, logged.event)
        gist = _told(event, known)
        if event.kind == "amendment":
            place = _corrects(logged.event, len(judged))
            gist = _correction(event, None if place is None else judged[place], known)
        signed = "" if logged.signed_by == event.by else f", signed {logged.signed_by}"
        lines.append(
            f"{logged.seq:>5}  {local(event.text('at'))}  {event.by}{signed}  "
            f"{kind_in_words(event)}: {gist}{_withheld(logged)}"
        )
        if logged.seq in corrections:
            lines.append(f"       corrected later, by entry {corrections[logged.seq]}")
        lines += [f"       {line}" for line in _details(event, known)]
        lines += _gone(logged)
        if (found := logged.attachment) is not None and found.state in _THERE:
            lines.append(f"       {attachment_line(found)}")
    lines.append(DEFERS)
    return [_one_line(line) for line in lines]


def _one_line(text: str) -> str:
    """Return a line that no text in it breaks: it would tell of another entry."""
    return text.replace("\n", " ")


def happened_lines(
    order: LoggedOrder, catalogue: Catalogue, events: Sequence[Event] = ()
) -> list[str]:
    """Return a text for each entry of an order, the newest first.

    Its line says the time that is claimed, and how much later it was recorded; below
    it stands a line for each thing of it that is gone. What was computed of the order's
    ``events``, where they are at hand, is not computed again.
    """
    judged = order.events
    held = {line.seq: event for line, event in zip(judged, events, strict=False)}
    known = _Known.of(order, catalogue)
    local = local_times(str(line.event.get("at")) for line in order.lines)
    lines: list[str] = []
    for logged in reversed(order.lines):
        event = held.get(logged.seq)
        if event is None or event.data != logged.event:  # corrected since
            event = Event(0, logged.event)
        gist = _told(event, known)
        if event.kind == "amendment":
            place = _corrects(logged.event, len(judged))
            gist = _correction(event, None if place is None else judged[place], known)
        at = event.text("at")
        told = (
            f"{logged.seq:>5}",
            clock_text(local(at)),
            _recorded(at, logged.recorded_at),
            event.by,
            f"{kind_in_words(event)}: {gist}{_withheld(logged)}",
        )
        each = (" · ".join(told), *_gone(logged))
        lines.append("\n".join(map(_one_line, each)))
    return lines


_THERE = frozenset({"kept", "elsewhere"})
"""States of an attachment that nobody has to be told of in a list."""


def _withheld(logged: LoggedEvent) -> str:
    """Return how many texts of an entry are kept out of packets; empty for none."""
    held = sum(1 for text in logged.texts if text.state == "withheld")
    return f" ({held} withheld)" if held else ""


def _gone(logged: LoggedEvent) -> list[str]:
    """Return a line for each text, and for the bytes, erased or lost of an entry."""
    gone = [held_line(t) for t in logged.texts if t.state != "withheld"]
    if (found := logged.attachment) is not None and found.state not in _THERE:
        gone.append(attachment_line(found))
    return [f"       {line}" for line in gone]


_SOON, _HOURS, _DAYS = 1, 120, 48  # minutes; minutes told as such; hours told as such


def _recorded(at: str, recorded_at: str) -> str:
    """Return how long after its claimed time an event was recorded, in words."""
    late = datetime.fromisoformat(recorded_at) - datetime.fromisoformat(at)
    minutes = round(late.total_seconds() / 60)
    if minutes < -_SOON:
        return f"recorded {-minutes} min before that"
    if minutes <= _SOON:
        return "recorded at once"
    if minutes <= _HOURS:
        return f"recorded {minutes} min later"
    hours = round(minutes / 60)
    if hours <= _DAYS:
        return f"recorded {hours} h later"
    return f"recorded {round(hours / 24)} days later"


def _corrects(event: Mapping[str, Json], events: int) -> int | None:
    """Return the place of the event that an amendment corrects, if it is there."""
    place = event.get("corrects")
    if event.get("kind") != "amendment" or not isinstance(place, int):
        return None
    return place if 0 <= place < events else None


def _correction(event: Event, target: LoggedEvent | None, known: _Known) -> str:
    if target is None:
        return f"correction of an entry that is not there, because: {event.text('why')}"
    which = event_name(Event(0, target.event), known.parts)
    return f"correction of entry {target.seq} ({which}), because: {event.text('why')}"


def _list(value: Json) -> list[Json]:
    return value if isinstance(value, list) else []


def _told(event: Event, known: _Known) -> str:
    """Return an event in short; one that a plugin adds, with all its members."""
    if teller := _TOLD.get(event.kind):
        return teller(event, known)
    common = {"kind", "at", "by", "_sd"}
    return "; ".join(
        f"{name.replace('_', ' ')} {value_text(value)}"
        for name, value in event.data.items()
        if name not in common
    )


def _opening(event: Event, _: _Known) -> str:
    vehicle = event.object("vehicle")
    customer = event.object("customer")
    who = f"; customer {customer['name']}" if "name" in customer else ""
    return (
        f"{vehicle.get('description')}, {vehicle.get('model_year')}, VIN "
        f"{vehicle.get('vin', 'not written')}, {quantity(_odometer(vehicle))}; "
        f'"{event.text("complaint")}"{who}'
    )


def _odometer(vehicle: Mapping[str, Json]) -> Json:
    return vehicle.get("odometer")


def _bench(event: Event, known: _Known) -> str:
    part, kinds = known.part(event), known.catalogue.bench_tests
    if method := event.text("method"):
        what = f"{part} ({method_in_words(kinds, method)})"
        return f"{what}: {computed_text(event, kinds)}; {limit_text(event)}"
    result = displayed(dict(event.object("result")))
    return f"{part}, {event.text('test')}: {result or 'no value'}; {limit_text(event)}"


def _diagnosis(event: Event, _: _Known) -> str:
    parts = ", ".join(map(_suspected, event.items("suspect_parts")))
    codes = ", ".join(event.texts("codes"))
    return f"{codes}; suspects {parts or 'nothing'}; {event.text('reasoning')}"


def _suspected(part: Mapping[str, Json]) -> str:
    """Return a suspect's name, with the id by which a command names it."""
    name, known_as = str(part.get("id")), part.get("name")
    return f"{known_as} ({name})" if isinstance(known_as, str) else name


def _caution(event: Event, known: _Known) -> str:
    step = event.object("step")
    values = (
        _precondition(name, str(displayed(value) or value))
        for name, value in event.object("preconditions").items()
    )
    what = " of ".join(known.step(name, value) for name, value in step.items())
    caution = known.catalogue.cautions.get(event.text("caution"))
    hazard = event.text("caution") if caution is None else caution.hazard
    again = event.object("second_confirmation")
    twice = (
        f"; confirmed again {clock_text(str(again['at']))} by {again['by']}"
        if again
        else ""
    )
    told = ", ".join(values)
    return f"{hazard}, acknowledged before {what}: {told}{twice}"


def _precondition(name: str, said: str) -> str:
    """Return an answer with what was asked; alone where it names that itself."""
    return said if name in said.split() else f"{name} {said}"


def _typed(event: Event, _: _Known) -> str:
    value = quantity(event.data.get("value"))
    said = amount_text(value.text, value.unit) if value else "no value"
    limits = [
        f"{side} {limit.text}"
        for side in ("minimum", "maximum")
        if (limit := quantity(event.data.get(side)))
    ]
    said = ", ".join([said, *(limits or ["no limit given"])])
    return (
        f"{event.text('monitor')} typed as {event.text('outcome')}, {said} (seen on "
        f"{event.text('seen_on')})"
    )


def _repair(event: Event, known: _Known) -> str:
    return f"{known.part(event)} {event.text('action')} {event.text('part_number')}"


_TOLD: dict[str, Callable[[Event, _Known], str]] = {
    "bench_test": _bench,
    "opening": _opening,
    "diagnosis": _diagnosis,
    "caution": _caution,
    "self_test": _typed,
    "readout": lambda e, _: ", ".join(
        filter(None, (e.text("tool"), e.text("protocol") or "typed"))
    ),
    "repair": _repair,
    "code_clear": lambda e, _: e.text("tool"),
    "road_test": lambda e, _: (
        f"{quantity(e.data.get('distance'))}, {e.text('conditions')}"
    ),
    "handover": lambda e, _: f"to {e.text('to')}; waits: {e.text('waits')}",
    "attachment": lambda e, _: f"{e.text('shows')} (SHA-256 {e.text('sha256')})",
    "verdict": lambda e, _: (
        f"{e.text('verdict')}, closed all the same: {e.text('reason')}"
        if e.text("reason")
        else e.text("verdict")
    ),
}


def _details(event: Event, known: _Known) -> list[str]:
    """Return what a readout says, or what a verdict rests on."""
    if event.kind == "readout":
        typed = event.object("typed")
        if typed and not event.text("raw"):
            return [
                *typed_lines(typed),
                *(_typed(t, known) for t in typed_tests(event)),
            ]
        readout = readout_of(event)
        lines = [f"{c.list_name} code {c.text} ({c.responder})" for c in readout.codes]
        return lines + [self_test_text(t) for t in readout.self_tests]
    if event.kind == "verdict":
        said = [str(line) for line in _list(event.data.get("statement"))[1:]]
        return [line for line in said if line != DEFERS]
    if event.kind == "amendment":
        corrected = Event(0, event.object("event"))
        name = event_name(corrected, known.parts)
        gist = _told(corrected, known)
        return [f"corrected to: {name}: {gist}", *_details(corrected, known)]
    return []
