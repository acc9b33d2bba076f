"""What a vehicle said, as lines for people: module by module."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from auditkit.obd.code_table import row_of
from auditkit.obd.comparison import margin
from auditkit.obd.dtc import origin, system
from auditkit.obd.monitors import THIS_CYCLE, monitor_in_words
from auditkit.obd.responders import SERVICES, answered, module_name
from auditkit.obd.uds import STATUS, bit_names
from auditkit.order.event_text import self_test_text
from auditkit.text.display_text import plural

if TYPE_CHECKING:
    from auditkit.obd import Monitor, Readout, SelfTest
    from auditkit.obd.transcript import TranscriptProblem

_CODES = (("Stored", "03"), ("Pending", "07"), ("Permanent", "0A"))


def readout_lines(readout: Readout) -> list[str]:
    """Return what a vehicle said; "none" only where that was the answer."""
    lines = [f"VIN: {readout.vin or 'not read'}"]
    others = (*readout.unread, *readout.refused)
    who_said = sorted({*readout.responders, *(who for who, _ in others)})
    for who in who_said:
        lines += _module(readout, who)
    if not who_said:
        lines.append("No module answered.")
    said = {service for _, service in (*readout.answered, *others)}
    missing = [s for s in SERVICES if s not in said]
    if missing:
        told = ", ".join(f"{s} ({SERVICES[s]})" for s in missing)
        lines.append(f"Not asked, or not answered by any module: {told}")
    texts = dict.fromkeys(c.text for c in readout.codes)
    texts.update(dict.fromkeys(s.code for s in readout.statuses))
    if texts:
        lines.append("What the codes speak of:")
        lines += [
            f"  {text}: {row_of(text).meaning} ({system(text)}, {origin(text)})"
            for text in texts
        ]
    lines += [f"Note: {note}" for note in readout.notes]
    lines += [f"Problem: {problem_text(problem)}" for problem in readout.problems]
    return lines


def readout_in_brief(readout: Readout) -> list[str]:
    """Return VIN, each module's lamp and codes, failed self-tests, what was not asked.

    What could not be read is counted.
    """
    brief = ("VIN:", "Not asked", "No module")
    lines = [line for line in readout_lines(readout) if line.startswith(brief)]
    for who in readout.responders:
        name = module_name(readout, who)
        own = [
            line.strip()
            for line in _module(readout, who)
            if line.startswith(("  Engine lamp: ON", *(f"  {w} f" for w, _ in _CODES)))
        ]
        lines.append(
            f"{name[0].upper()}{name[1:]}: {'; '.join(own) or 'no codes read'}"
        )
    failed = [t for t in readout.self_tests if t.outcome == "failed"]
    lines += [self_test_text(test).strip() for test in failed]
    if readout.problems:
        count = plural(len(readout.problems), "place", "places")
        lines.append(f"{count} could not be read: see all that it holds")
    return lines


def problem_text(problem: TranscriptProblem) -> str:
    """Return what could not be read, and where."""
    place = f"line {problem.line}" if problem.line else "the whole text"
    return f"{place}: {problem.problem}"


def _module(readout: Readout, who: str) -> Iterator[str]:
    name = module_name(readout, who)
    yield f"{name[0].upper()}{name[1:]}:"
    yield f"  Services: {answered(readout, who)}"
    lamps, counts = dict(readout.mil), dict(readout.counts)
    if who in lamps:
        lamp = "ON" if lamps[who] else "off"
        count = counts.get(who, 0)
        yield f"  Engine lamp: {lamp}; stored codes that it counts: {count}"
    for word, service in _CODES:
        kinds = {
            "03": readout.confirmed,
            "07": readout.pending,
            "0A": readout.permanent,
        }
        own = [c.text for c in kinds[service] if c.responder == who]
        if own or readout.has_answered(who, service):
            yield f"  {word} fault codes: {', '.join(own) or 'none'}"
    for status in readout.statuses:
        if status.responder == who:
            bits = ", ".join(bit_names(status.status, STATUS)) or "no bit set"
            yield f"  {status.text}: status {status.status:02X}: {bits}"
    yield from _marks(readout, who)
    yield from _monitors(readout, who)
    tests = [t for t in readout.self_tests if t.responder == who]
    if tests:
        yield "  Self-tests (mode $06):"
        yield from (f"    {self_test_text(t)}{_margin(t)}" for t in tests)
    for old in (t for t in readout.older_tests if t.responder == who):
        limit = "at least" if old.is_minimum else "at most"
        told = old.outcome or "all zero: whether it ran is not known"
        if old.outcome and old.sign_decides:
            told += ", read as unsigned words; read as signed ones it is the other way"
        yield (
            f"  Test {old.tid} component {old.component} (before CAN): raw "
            f"{old.raw_value}, {limit} {old.raw_limit}: {told}"
        )
    yield from _values(readout, who)


def _marks(readout: Readout, who: str) -> Iterator[str]:
    ids = [text for name, text in readout.calibration_ids if name == who]
    numbers = [text for name, text in readout.cvns if name == who]
    if ids:
        yield f"  Calibrations: {', '.join(ids)}"
    if numbers:
        yield f"  Calibration verification numbers: {', '.join(numbers)}"


def _monitors(readout: Readout, who: str) -> Iterator[str]:
    own = [m for m in readout.monitors if m.responder == who and m.supported]
    if not own:
        return
    cycle = {m.monitor: m for m in own if m.cycle == THIS_CYCLE}
    yield "  Readiness since codes were cleared:"
    for monitor in (m for m in own if m.cycle != THIS_CYCLE):
        now = cycle.get(monitor.monitor)
        today = "" if now is None else f"; this drive: {_state(now)}"
        yield f"    {monitor_in_words(monitor.monitor):<36} {_state(monitor)}{today}"


def _state(monitor: Monitor) -> str:
    return "complete" if monitor.complete else "NOT complete"


def _margin(test: SelfTest) -> str:
    share = margin(test)
    if share is None:
        return ""
    both = test.has_minimum and test.has_maximum
    return f", margin {share * 100:.1f} % of the {'allowed band' if both else 'limit'}"


def _values(readout: Readout, who: str) -> Iterator[str]:
    live = [v for v in readout.values if v.responder == who and v.frame is None]
    frozen = [v for v in readout.values if v.responder == who and v.frame is not None]
    if live:
        yield "  Values:"
        yield from (f"    {v.id}  {v} [{v.source}]" for v in live)
    if frozen:
        yield "  Freeze frame, when a code was stored:"
        yield from (f"    {v.frame}/{v.id}  {v} [{v.source}]" for v in frozen)
    counters = [c for c in readout.counters if c.responder == who]
    if counters:
        yield "  In-use counters (cycles in which a monitor ran, or could have):"
        yield from (f"    {c.name:<10} {c.count}" for c in counters)
