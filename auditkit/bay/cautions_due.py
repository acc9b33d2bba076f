"""Which cautions a step calls for that nobody has acknowledged in force. Pure.

The rules themselves are asked, of the order with the step at its end: whatever keeps
the step's hazards from being met, and was not there before it, is told.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from auditkit.bay.supposed import with_event
from auditkit.order.cautions import Caution
from auditkit.order.events import RepairOrder
from auditkit.order.findings import Finding, Severity
from auditkit.order.hazards import SETUPS, Called, cautions_called
from auditkit.order.judgement import Judgement
from auditkit.order.questions import Question
from auditkit.text.values import Json


@dataclass(frozen=True, slots=True)
class Due:
    """A caution that has to be acknowledged before a step, and why.

    ``setups`` are the ways to test a part in which it is met; empty for all.
    """

    caution: Caution
    why: str
    setups: tuple[str, ...] = ()


def due_before(
    order: RepairOrder, event: Mapping[str, Json], judgement: Judgement
) -> tuple[Due, ...]:
    """Return the cautions that an event calls for and that are not in force for it.

    ``judgement`` is of the order without the event.
    """
    return _due_before(order, event, judgement, judgement.findings)


def _due_before(
    order: RepairOrder,
    event: Mapping[str, Json],
    judgement: Judgement,
    known: Iterable[Finding],
) -> tuple[Due, ...]:
    """Return what is due before an event; ``known`` was found of the order before."""
    step = with_event(order, event)
    catalogue = judgement.catalogue
    called = tuple(
        cautions_called(
            step,
            catalogue.cautions.values(),
            catalogue.bench_tests,
            since=len(order.events),
        )
    )
    found: tuple[Finding, ...] = ()
    if any(one.seen is not None for one in called):  # else nobody has to ask the rules
        found = _new(_hazards(step, judgement), known)
    return tuple(_due(one, found) for one in called if _is_due(one, found))


def _hazards(order: RepairOrder, judgement: Judgement) -> tuple[Finding, ...]:
    """Return what is found of whether an order's hazards are met."""
    asked = frozenset({Question.HAZARDS_MET})
    return judgement.catalogue.judge_part(order, asked, judgement.policy).findings


def _new(found: Iterable[Finding], before: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return what keeps the hazards from being met, and was not found before."""
    known = {(f.rule, f.message, f.event) for f in before}
    return tuple(
        one
        for one in found
        if one.severity is Severity.BLOCKING
        and (one.rule, one.message, one.event) not in known
    )


def _is_due(called: Called, found: tuple[Finding, ...]) -> bool:
    return called.seen is None or any(_is_of(called, one) for one in found)


def _is_of(called: Called, finding: Finding) -> bool:
    """Return whether a finding is of a caution that a step calls for."""
    if called.seen is not None and finding.event == called.seen.index:
        return True
    is_of_step = finding.event == called.step.index
    return is_of_step and finding.message.startswith(f"{called.caution.id} ")


def _due(called: Called, found: tuple[Finding, ...]) -> Due:
    if called.seen is None:
        return Due(called.caution, "not acknowledged")
    why = (one.message for one in found if _is_of(called, one))
    return Due(called.caution, "; ".join(dict.fromkeys(why)))


def due_before_test(
    order: RepairOrder, event: Mapping[str, Json], judgement: Judgement
) -> tuple[Due, ...]:
    """Return what a bench test calls for where nobody said yet how it is made.

    Each with the setups in which it is met, where it is not met in all.
    """
    by_setup = {
        setup: {
            due.caution.id: due
            for due in due_before(order, {**event, "setup": setup}, judgement)
        }
        for setup in sorted(SETUPS)
    }
    names = dict.fromkeys(name for due in by_setup.values() for name in due)
    made: list[Due] = []
    for name in names:
        those = tuple(setup for setup, due in by_setup.items() if name in due)
        first = by_setup[those[0]][name]
        every = len(those) == len(by_setup)
        made.append(Due(first.caution, first.why, () if every else those))
    return tuple(made)


def not_in_force(
    order: RepairOrder, event: Mapping[str, Json], judgement: Judgement
) -> str:
    """Return why an acknowledgement would not be in force for the step that it names.

    Empty where it would be. ``judgement`` is of the order without it.
    """
    seen = with_event(order, event)
    step = event.get("step")
    named = dict(step) if isinstance(step, dict) else {}
    after = _hazards(seen, judgement)
    if at_once := _new(after, judgement.findings):
        return "; ".join(dict.fromkeys(f.message for f in at_once))
    last = event.get("second_confirmation")
    at = last.get("at") if isinstance(last, dict) else event.get("at")
    supposed: dict[str, Json] = {**named, "at": at, "by": event.get("by")}
    if named.get("kind") == "repair":
        supposed["action"] = "replaced"
    due = _due_before(seen, supposed, judgement, after)
    return "; ".join(d.why for d in due if d.caution.id == event.get("caution"))


def due_before_work(
    order: RepairOrder, work: Mapping[str, Json], judgement: Judgement
) -> tuple[Due, ...]:
    """Return the cautions that are due before work of which this much is known.

    ``work`` has the kind of event, when and by whom, and perhaps its part, method and
    setup. What a bench test calls for in some setups only is left out while nobody said
    how it is made.
    """
    if work["kind"] == "repair":
        return due_before(order, {"action": "replaced", **work}, judgement)
    if work["kind"] == "bench_test" and "setup" not in work:
        every = due_before_test(order, work, judgement)
        return tuple(one for one in every if not one.setups)
    return due_before(order, work, judgement)
