"""Shop rules: does the evidence still stand as it was recorded?"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from auditkit.plugin import (
    AS_READ,
    Event,
    Parameters,
    Problem,
    Question,
    RepairOrder,
    Rule,
    computed_text,
    event_name,
    hookimpl,
    rule,
)

_DESCRIBING: Mapping[str, frozenset[str]] = {
    "readout": frozenset({"tool", "protocol"}),
}
"""Kind -> members that only describe what was read: they may be amended."""


@rule("evidence-amended", question=Question.ORDER_OF_TIME, version=2)
def evidence_amended(order: RepairOrder, parameters: Parameters) -> Iterator[Problem]:
    """Finds what stays as it was recorded and was changed by an amendment all the same.

    What it checks
    No amendment turns an event into one of another kind. Readouts, typed self-tests and
    clearings of codes are never amended; only tool and protocol of a readout may be.
    Everything else may be amended: before the first step that rests on it (of a bench
    test the repair of its part, of a road test the readout after it, of a caution any
    step after it, of all else any repair, by place in the record or by date, of a
    repair from when it started) the amendment replaces it; a bench test that thereby
    says something else counts as typed (part-not-shown-at-fault). From then on
    the order is judged as recorded and as corrected, and of each question the lesser
    answer counts.

    Why it matters
    What a vehicle sent is no matter of opinion: a readout exchanged for another turns a
    failed self-test into a passed one.

    Example
    A readout with a failed self-test is amended to one that passed, or to a road test.

    What to do
    Record a further readout as a further event. Where that is no longer possible, close
    the order as unproven and say what was mistaken.
    """
    kinds = parameters.catalogue.bench_tests
    for event in order.events:
        if event.amended_by is None or event.recorded is None:
            continue
        amendment = order.events[event.amended_by]
        first = Event(event.index, event.recorded)
        why = _never_amended(first, event)
        if why:
            before, now = (
                f" ({computed_text(e, kinds)})" if e.text("method") else ""
                for e in (first, event)
            )
            yield Problem(
                f"the {event_name(first)}{before} was corrected by an amendment to "
                f"{event_name(event)}{now}{why}, because: "
                f"{amendment.text('why') or 'no reason is given'}",
                "record a further bench test or readout, or close as unproven",
                event.index,
            )


def _never_amended(first: Event, event: Event) -> str | None:
    """Return why an event stays as it was, in words; None where it may be amended."""
    if first.kind != event.kind:
        return ", another kind of event"
    if first.kind not in AS_READ:
        return None
    members = (first.data.keys() | event.data.keys()) - _DESCRIBING.get(
        first.kind, frozenset()
    )
    if all(first.data.get(name) == event.data.get(name) for name in members):
        return None
    return ", and such evidence stays as it was recorded"


@hookimpl
def rules() -> Iterable[Rule]:
    """Return the rules of this file."""
    return (evidence_amended,)
