"""Judgements, orders, readouts and reports as lines of text."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import TYPE_CHECKING

from auditkit.log.logged_order import attachment_line, held_line
from auditkit.obd import decode
from auditkit.obd.dtc import origin, system
from auditkit.order.events import Event
from auditkit.order.findings import Severity, Verdict
from auditkit.order.statement import (
    DEFERS,
    amount_text,
    computed_text,
    event_name,
    limit_text,
    self_test_text,
    value_text,
    verdict_text,
)
from auditkit.text.display_text import plural
from auditkit.text.values import Json, displayed, quantity

if TYPE_CHECKING:
    from auditkit.bench import TestKind
    from auditkit.log.logged_order import LoggedEvent, LoggedOrder
    from auditkit.log.people import Person
    from auditkit.obd import Readout
    from auditkit.order.catalogue import Catalogue
    from auditkit.order.judgement import Judgement


def judgement_lines(name: str, judgement: Judgement) -> list[str]:
    """Return the verdict on a record, then a line for each finding, and what to do."""
    advisory = len(judgement.findings) - len(judgement.blocking)
    ran = plural(len(judgement.rules), "rule", "rules")
    said = verdict_text(judgement)
    if judgement.verdict is Verdict.PROVEN:
        proven, why = said.split(": ", 1)
        said = f"{proven}: {ran} ran, {why}"
    if advisory:
        said += f" ({plural(advisory, 'advice', 'pieces of advice')})"
    lines = [f"{name}: {said}"]
    lines += [f"    the policy: {told}" for told in judgement.departures]
    for finding in judgement.findings:
        mark = "" if finding.severity is Severity.BLOCKING else "advice: "
        place = f" [{finding.pointer}]" if finding.pointer else ""
        lines.append(f"{name}: {finding.rule}: {mark}{finding.message}{place}")
        lines.append(f"    what to do: {finding.what_to_do}")
    if any("caution" in f.rule or "limit" in f.message for f in judgement.findings):
        lines.append(DEFERS)
    return lines


def readout_lines(readout: Readout) -> list[str]:
    """Return what a vehicle said: codes, monitors, self-tests, problems."""
    lines = [f"Responders: {', '.join(readout.responders) or 'none'}"]
    lines.append(f"VIN: {readout.vin or 'not read'}")
    for name, service, codes in (
        ("Confirmed", "03", readout.confirmed),
        ("Pending", "07", readout.pending),
        ("Permanent", "0A", readout.permanent),
    ):
        told = ", ".join(f"{c.text} ({c.responder})" for c in codes)
        none = "none" if service in readout.reported else "not asked or not answered"
        lines.append(f"{name} fault codes: {told or none}")
        lines += [f"  {c.text}: {system(c.text)}, {origin(c.text)}" for c in codes]
    ready = [m for m in readout.monitors if m.supported and m.cycle == "since-clear"]
    if ready:
        lines.append("Monitors since codes were cleared:")
        for m in ready:
            state = "complete" if m.complete else "NOT complete"
            lines.append(f"  {m.responder}  {m.monitor:<36} {state}")
    if readout.self_tests:
        lines.append("Self-tests:")
        lines += [f"  {t.responder}  {self_test_text(t)}" for t in readout.self_tests]
    for t in readout.older_tests:
        limit = "at least" if t.is_minimum else "at most"
        told = t.outcome or "all zero: whether it ran is not known"
        if t.outcome and t.sign_decides:
            told += ", read as unsigned words; read as signed ones it is the other way"
        lines.append(
            f"Test {t.tid} component {t.component} of {t.responder} (before CAN): raw "
            f"{t.raw_value}, {limit} {t.raw_limit}: {told}"
        )
    if readout.values:
        lines.append("Values (freeze frame where a frame is named):")
        for v in readout.values:
            frame = f" frame {v.frame}" if v.frame else ""
            lines.append(
                f"  {v.responder}  {v.service}/{v.id}{frame}  {v} [{v.source}]"
            )
    if readout.counters:
        lines.append("In-use counters (cycles in which a monitor ran, or could have):")
        lines += [f"  {c.responder}  {c.name:<10} {c.count}" for c in readout.counters]
    for problem in readout.problems:
        place = f"line {problem.line}" if problem.line else "the whole text"
        lines.append(f"Problem: {place}: {problem.problem}")
    return lines


def people_lines(people: Iterable[Person]) -> list[str]:
    """Return a line for every key of a person."""
    return [
        f"{p.id:<16} {p.role or '-':<12} {p.thumbprint}  enrolled by entry "
        f"{p.enrolled_seq}"
        + (f", revoked by entry {p.revoked_seq}" if p.revoked_seq is not None else "")
        + ("" if p.has_private else ", private key not here")
        for p in people
    ]


def order_lines(order: LoggedOrder, catalogue: Catalogue) -> list[str]:
    """Return a repair order of the log as a story, at least a line for each entry.

    The catalogue has the kinds of bench test that can be computed here.
    """
    kinds = catalogue.bench_tests
    verdict = order.verdict
    if verdict is None:
        lines = [f"Repair order {order.id} is open: it has no verdict yet."]
    else:
        lines = [str(line) for line in _list(verdict.get("statement"))][:1]
        if verdict.get("reason"):
            lines.append(f"Closed all the same: {verdict['reason']}")
    judged = [line for line in order.lines if line.event.get("kind") != "verdict"]
    corrections = {
        judged[place].seq: line.seq
        for line in judged
        if (place := _corrects(line.event, len(judged))) is not None
    }
    for logged in order.lines:
        event = Event(0, logged.event)
        gist = _told(event, kinds)
        if event.kind == "amendment":
            place = _corrects(logged.event, len(judged))
            gist = _correction(event, None if place is None else judged[place])
        signed = "" if logged.signed_by == event.by else f", signed {logged.signed_by}"
        held = sum(1 for t in logged.texts if t.state == "withheld")
        hidden = f" ({held} withheld)" if held else ""
        lines.append(
            f"{logged.seq:>5}  {event.text('at')}  {event.by}{signed}  "
            f"{event.kind}: {gist}{hidden}"
        )
        if logged.seq in corrections:
            lines.append(f"       corrected later, by entry {corrections[logged.seq]}")
        lines += [f"       {line}" for line in _details(event, kinds)]
        lines += [
            f"       {held_line(t)}" for t in logged.texts if t.state != "withheld"
        ]
        if logged.attachment is not None:
            lines.append(f"       {attachment_line(logged.attachment)}")
    lines.append(DEFERS)
    return lines


def _corrects(event: Mapping[str, Json], events: int) -> int | None:
    """Return the place of the event that an amendment corrects, if it is there."""
    place = event.get("corrects")
    if event.get("kind") != "amendment" or not isinstance(place, int):
        return None
    return place if 0 <= place < events else None


def _correction(event: Event, target: LoggedEvent | None) -> str:
    if target is None:
        return f"correction of an entry that is not there, because: {event.text('why')}"
    which = event_name(Event(0, target.event))
    return f"correction of entry {target.seq} ({which}), because: {event.text('why')}"


def _list(value: Json) -> list[Json]:
    return value if isinstance(value, list) else []


def _told(event: Event, kinds: Mapping[str, TestKind]) -> str:
    """Return an event in short; one that a plugin adds, with all its members."""
    if event.kind == "bench_test":
        return _bench(event, kinds)
    if teller := _TOLD.get(event.kind):
        return teller(event)
    common = {"kind", "at", "by", "_sd"}
    return "; ".join(
        f"{name.replace('_', ' ')} {value_text(value)}"
        for name, value in event.data.items()
        if name not in common
    )


def _opening(event: Event) -> str:
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


def _bench(event: Event, kinds: Mapping[str, TestKind]) -> str:
    if event.text("method"):
        what = f"{event.text('part')}, {event.text('method')}"
        return f"{what}: {computed_text(event, kinds)}; {limit_text(event)}"
    result = displayed(dict(event.object("result")))
    return (
        f"{event.text('part')}, {event.text('test')}: {result or 'no value'}; "
        f"{limit_text(event)}"
    )


def _diagnosis(event: Event) -> str:
    parts = ", ".join(str(p.get("id")) for p in event.items("suspect_parts"))
    codes = ", ".join(event.texts("codes"))
    return f"{codes}; suspects {parts or 'nothing'}; {event.text('reasoning')}"


def _caution(event: Event) -> str:
    step = event.object("step")
    values = (
        f"{name} {displayed(value) or value}"
        for name, value in event.object("preconditions").items()
    )
    what = " ".join(str(v) for v in step.values())
    again = event.object("second_confirmation")
    twice = f"; confirmed again {again['at']} by {again['by']}" if again else ""
    told = ", ".join(values)
    return f"{event.text('caution')} acknowledged before {what}: {told}{twice}"


def _typed(event: Event) -> str:
    value = quantity(event.data.get("value"))
    said = amount_text(value.text, value.unit) if value else "no value"
    return (
        f"{event.text('monitor')} typed as {event.text('outcome')}, {said} (seen on "
        f"{event.text('seen_on')})"
    )


_TOLD: dict[str, Callable[[Event], str]] = {
    "opening": _opening,
    "diagnosis": _diagnosis,
    "caution": _caution,
    "self_test": _typed,
    "readout": lambda e: f"{e.text('tool')}, {e.text('protocol')}",
    "repair": lambda e: f"{e.text('part')} {e.text('action')} {e.text('part_number')}",
    "code_clear": lambda e: e.text("tool"),
    "road_test": lambda e: (
        f"{quantity(e.data.get('distance'))}, {e.text('conditions')}"
    ),
    "attachment": lambda e: f"{e.text('shows')} (SHA-256 {e.text('sha256')})",
    "verdict": lambda e: e.text("verdict"),
}


def _details(event: Event, kinds: Mapping[str, TestKind]) -> list[str]:
    """Return what a readout says, or what a verdict rests on."""
    if event.kind == "readout":
        readout = decode(event.text("raw"))
        lines = [f"{c.kind} code {c.text} ({c.responder})" for c in readout.codes]
        return lines + [self_test_text(t) for t in readout.self_tests]
    if event.kind == "verdict":
        said = [str(line) for line in _list(event.data.get("statement"))[1:]]
        return [line for line in said if line != DEFERS]
    if event.kind == "amendment":
        corrected = Event(0, event.object("event"))
        name = event_name(corrected)
        gist = _told(corrected, kinds)
        return [f"corrected to: {name}: {gist}", *_details(corrected, kinds)]
    return []
