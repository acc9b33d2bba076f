"""The faults of an order, their answers and its parts, as rows. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from collections.abc import Set as AbstractSet
from datetime import datetime
from typing import TYPE_CHECKING

from auditkit.fleet.rows.values import Row, moment
from auditkit.obd.code_table import row_of
from auditkit.obd.transcript import UNKNOWN
from auditkit.order.faults import is_present
from auditkit.order.findings import Verdict
from auditkit.order.part_tests import outcomes_of
from auditkit.order.questions import Question, State
from auditkit.order.self_test_evidence import readout_of

if TYPE_CHECKING:
    from auditkit.bench import TestKind
    from auditkit.obd.dtc import Code
    from auditkit.order.events import Event, RepairOrder
    from auditkit.order.faults import Fault
    from auditkit.order.judgement import Judgement

_KINDS = {"confirmed": "stored", "pending": "pending", "permanent": "permanent"}
_AFTERWARDS = frozenset(
    {Question.TEST_RERAN, Question.TEST_PASSED, Question.FAULT_GONE}
)
_REPAIRED = frozenset({Verdict.PROVEN, Verdict.VOUCHED})


def fault_rows(
    order: RepairOrder, judgement: Judgement, recorded: Sequence[datetime | None]
) -> Iterator[Row]:
    """Yield a row for each fault that a diagnosis of the order names or sets aside.

    Then one for each other code that the vehicle reported: nobody has to name a fault
    for it to have come back. ``recorded`` is when each event was written down: no
    repair was done later, whatever it says by now.
    """
    against = {
        answer.subject
        for answer in judgement.answers
        if answer.state is State.AGAINST and answer.question in _AFTERWARDS
    }
    for fault, verdict in judgement.faults:
        failed = len(fault.attempts) > 1 or fault.subject in against
        repairs = {place for attempt in fault.attempts for place in attempt.repairs}
        yield {
            "module": next((w for w in fault.witnesses if w != UNKNOWN), ""),
            "code": fault.code,
            "kind": _kind(order, fault),
            "fault_group": _group(fault.code),
            "is_addressed": fault.is_addressed,
            "set_aside_because": fault.set_aside.reason if fault.set_aside else None,
            "verdict": None if verdict is None else str(verdict),
            "attempts": len(fault.attempts),
            "fixed_first": _fixed_first(fault, verdict, failed=failed),
            "came_back_here": fault.is_addressed and failed,
            "repaired_at": _times(
                min(at, recorded[place] or at)
                for place in repairs
                if (at := moment(order.events[place].text("at")))
            ),
            "seen_at": _seen(order, fault.code),
        }
    yield from _not_named(order, {fault.code for fault, _ in judgement.faults})


def _not_named(order: RepairOrder, named: AbstractSet[str]) -> Iterator[Row]:
    """Yield a row for each code of a readout that no diagnosis names."""
    found: dict[str, list[Code]] = {}
    for event in order.of("readout"):
        for code in readout_of(event).codes:
            if code.text not in named:
                found.setdefault(code.text, []).append(code)
    for text in sorted(found):
        told = found[text]
        yield {
            "module": next((c.responder for c in told if c.responder != UNKNOWN), ""),
            "code": text,
            "kind": _firmest({code.kind for code in told}),
            "fault_group": _group(text),
            "is_addressed": False,
            "attempts": 0,
            "came_back_here": False,
            "seen_at": _seen(order, text),
        }


def _seen(order: RepairOrder, code: str) -> list[datetime]:
    """Return when readouts held a code that a sound repair would have ended."""
    return _times(
        at
        for event in order.of("readout")
        if is_present(readout_of(event), code) and (at := moment(event.text("at")))
    )


def _times(found: Iterable[datetime]) -> list[datetime]:
    return sorted(set(found))


def _fixed_first(fault: Fault, verdict: Verdict | None, *, failed: bool) -> str | None:
    """Return what came of the first repair for a fault; None where there was none."""
    if not fault.is_addressed:
        return None
    if failed:
        return "against"
    return "shown" if verdict in _REPAIRED else "not shown"


def _kind(order: RepairOrder, fault: Fault) -> str:
    """Return how the vehicle held a code before it was repaired: the firmest of all."""
    until = fault.first_repair
    seen = order.of("readout") if until is None else order.before(until, "readout")
    found = {
        code.kind
        for e in seen
        for code in readout_of(e).codes
        if code.text == fault.code
    }
    return _firmest(found)


def _firmest(kinds: AbstractSet[str]) -> str:
    return next((told for kind, told in _KINDS.items() if kind in kinds), "other")


def _group(code: str) -> str:
    """Return what the table of codes says of a code's row; empty for no such code."""
    try:
        return row_of(code).meaning
    except ValueError:
        return ""


def answer_rows(judgement: Judgement) -> Iterator[Row]:
    """Yield a row for each answer."""
    for answer in judgement.answers:
        yield {
            "question": str(answer.question),
            "subject": answer.subject,
            "answer": str(answer.state).replace("-", " "),
            "strength": None if answer.strength is None else str(answer.strength),
            "because": "; ".join(answer.because),
        }


def part_rows(order: RepairOrder, kinds: Mapping[str, TestKind]) -> Iterator[Row]:
    """Yield a row for each part that a diagnosis suspects or a repair names."""
    repairs = {e.text("part"): e for e in order.of("repair")}
    named = [part.id for part in order.suspect_parts]
    for part_id in dict.fromkeys((*named, *repairs)):
        suspect, repair = order.suspect(part_id), repairs.get(part_id)
        yield {
            "part_id": part_id,
            "name": suspect.name if suspect else part_id,
            "system": suspect.system if suspect else None,
            "action": repair.text("action") if repair else None,
            "part_number": repair.text("part_number") or None if repair else None,
            "was_worked_on": repair is not None,
            "was_tested_good": _was_good(order, part_id, kinds),
        }


def _was_good(order: RepairOrder, part: str, kinds: Mapping[str, TestKind]) -> bool:
    """Return whether the part that was suspected was tested good, and never faulty."""
    tests = [
        test
        for test in order.of("bench_test")
        if test.text("part") == part and of_part(order, test) == "old"
    ]
    said = {outcome for test in tests for outcome in outcomes_of(test, kinds)}
    return said == {"good"}


def of_part(order: RepairOrder, test: Event) -> str:
    """Return which part was tested: where nothing says it, the one fitted then."""
    said = test.text("of")
    if said:
        return said if said in {"old", "new", "known-good"} else "other"
    replaced = (
        e.text("part") == test.text("part") and e.text("action") == "replaced"
        for e in order.before(test.index, "repair")
    )
    return "new" if any(replaced) else "old"
