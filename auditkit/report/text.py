"""Judgements, orders, readouts and reports as lines of text."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import TYPE_CHECKING

from auditkit.events import Event, Json, quantity
from auditkit.findings import Severity, Verdict
from auditkit.logged import held_line
from auditkit.obd import decode
from auditkit.obd.dtc import origin, system
from auditkit.statement import DEFERS, computed_text, limit_text, self_test_text
from auditkit.verification import plural

if TYPE_CHECKING:
    from auditkit.catalogue import Judgement
    from auditkit.ledger import Person
    from auditkit.logged import LoggedOrder, OrderLine
    from auditkit.obd import Readout


def judgement_lines(name: str, judgement: Judgement) -> list[str]:
    """Return the verdict on a record, then a line a finding and its mend."""
    blocking = len(judgement.blocking)
    advisory = len(judgement.findings) - blocking
    ran = plural(len(judgement.rules), "rule", "rules")
    if judgement.verdict is Verdict.PROVEN:
        answer = f"proven: {ran} ran, nothing that blocks is missing"
    elif judgement.verdict is Verdict.CONTRADICTED:
        answer = "contradicted: the evidence says the fault is still there"
    else:
        answer = f"unproven: {plural(blocking, 'thing is', 'things are')} missing"
    if advisory:
        answer += f" ({plural(advisory, 'advice', 'pieces of advice')})"
    lines = [f"{name}: {answer}"]
    for finding in judgement.findings:
        mark = "" if finding.severity is Severity.BLOCKING else "advice: "
        place = f" [{finding.pointer}]" if finding.pointer else ""
        lines.append(f"{name}: {finding.rule}: {mark}{finding.message}{place}")
        lines.append(f"    mend: {finding.fix}")
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


def list_lines(orders: Iterable[OrderLine]) -> list[str]:
    """Return a line for every repair order."""
    lines: list[str] = []
    for o in orders:
        events = plural(o.events, "event", "events")
        lines.append(
            f"{o.id:<16} {o.verdict or 'open':<13} {events:<10} entries {o.first_seq} "
            f"to {o.last_seq}  {o.opened_at[:10]}  {o.vehicle}"
        )
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


def order_lines(order: LoggedOrder) -> list[str]:
    """Return a repair order of the log as a story, a line or more an entry."""
    verdict = order.verdict
    if verdict is None:
        lines = [f"Repair order {order.id} is open: it has no verdict yet."]
    else:
        lines = [str(line) for line in _list(verdict.get("statement"))][:1]
        if verdict.get("reason"):
            lines.append(f"Closed all the same: {verdict['reason']}")
    for logged in order.lines:
        event = Event(0, logged.event)
        signed = "" if logged.signed_by == event.by else f", signed {logged.signed_by}"
        held = sum(1 for t in logged.texts if t.state == "withheld")
        hidden = f" ({held} withheld)" if held else ""
        lines.append(
            f"{logged.seq:>5}  {event.text('at')}  {event.by}{signed}  "
            f"{event.kind}: {_told(event)}{hidden}"
        )
        lines += [f"       {line}" for line in _details(event)]
        lines += [
            f"       {held_line(t)}" for t in logged.texts if t.state != "withheld"
        ]
    lines.append(DEFERS)
    return lines


def _list(value: Json) -> list[Json]:
    return value if isinstance(value, list) else []


def _told(event: Event) -> str:
    """Return the gist of an event."""
    teller = _TOLD.get(event.kind)
    return teller(event) if teller else ""


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


def _bench(event: Event) -> str:
    if event.text("method"):
        what = f"{event.text('part')}, {event.text('method')}"
        return f"{what}: {computed_text(event)}; {limit_text(event)}"
    result = quantity(dict(event.object("result")))
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
        f"{name} {quantity(value) or value}"
        for name, value in event.object("preconditions").items()
    )
    what = " ".join(str(v) for v in step.values())
    again = event.object("second_confirmation")
    twice = f"; confirmed again {again['at']} by {again['by']}" if again else ""
    told = ", ".join(values)
    return f"{event.text('caution')} acknowledged before {what}: {told}{twice}"


def _typed(event: Event) -> str:
    value = quantity(event.data.get("value"))
    return (
        f"{event.text('monitor')} typed as {event.text('outcome')}"
        f"{f', {value}' if value else ', no value'} (seen on {event.text('seen_on')})"
    )


_TOLD: dict[str, Callable[[Event], str]] = {
    "opening": _opening,
    "diagnosis": _diagnosis,
    "caution": _caution,
    "bench_test": _bench,
    "self_test": _typed,
    "readout": lambda e: f"{e.text('tool')}, {e.text('protocol')}",
    "repair": lambda e: f"{e.text('part')} {e.text('action')} {e.text('part_number')}",
    "code_clear": lambda e: e.text("tool"),
    "road_test": lambda e: (
        f"{quantity(e.data.get('distance'))}, {e.text('conditions')}"
    ),
    "attachment": lambda e: f"{e.text('shows')} (SHA-256 {e.text('sha256')})",
    "amendment": lambda e: f"corrects event {e.data.get('corrects')}: {e.text('why')}",
    "verdict": lambda e: e.text("verdict"),
}


def _details(event: Event) -> list[str]:
    """Return what a readout says, or what a verdict rests on."""
    if event.kind == "readout":
        readout = decode(event.text("raw"))
        lines = [f"{c.kind} code {c.text} ({c.responder})" for c in readout.codes]
        return lines + [self_test_text(t) for t in readout.self_tests]
    if event.kind == "verdict":
        said = [str(line) for line in _list(event.data.get("statement"))[1:]]
        return [line for line in said if line != DEFERS]
    return []
