"""Shop rules: does the evidence still stand as it was recorded?"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from auditkit.plugin import (
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

_WORDS: Mapping[str, frozenset[str]] = {
    "readout": frozenset({"tool", "protocol"}),
    "diagnosis": frozenset({"reasoning"}),
    "repair": frozenset({"part_number", "old_part"}),
}
"""Kind -> members that only describe: they may be amended at any time."""
_AS_READ = frozenset({"readout", "self_test", "code_clear"})
"""What a vehicle sent, or somebody saw it say or told it to do: kept as recorded."""
_WHILE_WHOLE = frozenset({"bench_test", "diagnosis", "repair", "caution"})
"""What may be amended as long as no part that it speaks of was repaired."""


@rule("evidence-amended", question=Question.ORDER_OF_TIME)
def evidence_amended(order: RepairOrder, parameters: Parameters) -> Iterator[Problem]:
    """Finds evidence that an amendment changed after it was recorded.

    What it checks
    No amendment turns an event into one of another kind. Readouts, typed self-tests and
    clearings of codes are never amended; only tool and protocol of a readout may be. Of
    a bench test nothing is amended once its part was repaired, and of a diagnosis, a
    repair or a caution nothing that rules read once any part was (by place in the
    record or by date). Before that an honest typing mistake may be amended: the part
    can still be measured again. Reasoning, part numbers, road tests and the opening may
    be amended at any time.

    Why it matters
    A reading put right after the repair can turn a good part into a faulty one, and a
    readout exchanged for another a failed self-test into a passed one. Another fault
    code in the diagnosis, or another part in the repair, does the same.

    Example
    A hold test is recorded as 17.9 inHg, the part is replaced, and two days later the
    reading is amended to 6.5 inHg.

    What to do
    Record a further bench test or readout as a further event. Where the part is gone,
    close the order as unproven and say what was mistyped.
    """
    kinds = parameters.catalogue.bench_tests
    for event in order.events:
        if event.amended_by is None or event.recorded is None:
            continue
        amendment = order.events[event.amended_by]
        first = Event(event.index, event.recorded)
        why = _amended_evidence(order, first, event, amendment)
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


def _amended_evidence(
    order: RepairOrder, first: Event, event: Event, amendment: Event
) -> str | None:
    """Return when evidence was amended, in words; None where no evidence was."""
    if first.kind != event.kind:
        return ", another kind of event"
    words = _WORDS.get(event.kind, frozenset())
    members = (first.data.keys() | event.data.keys()) - words
    if all(first.data.get(name) == event.data.get(name) for name in members):
        return None
    if event.kind in _AS_READ:
        return ", and such evidence stays as it was recorded"
    if event.kind not in _WHILE_WHOLE:
        return None
    parts = {first.text("part"), event.text("part")}
    for repair in _all_repairs(order):
        touched = event.kind != "bench_test" or repair.text("part") in parts
        late = repair.index < amendment.index or repair.at <= amendment.at
        if touched and late:
            return f" when {repair.text('part')} was already repaired"
    return None


def _all_repairs(order: RepairOrder) -> Iterator[Event]:
    """Yield the repairs, as they were recorded and as amendments made them."""
    for event in order.events:
        recorded = event.recorded or event.data
        for data in (recorded, event.data):
            if data.get("kind") == "repair":
                yield Event(event.index, data)


@hookimpl
def rules() -> Iterable[Rule]:
    """Return the rules of this file."""
    return (evidence_amended,)
