"""The bench tests of a part as it was before it was worked on, and their outcome."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import TYPE_CHECKING

from auditkit.errors import InputError
from auditkit.order.bench_event import result_of
from auditkit.order.events import Event, RepairOrder
from auditkit.order.faults import faults_for
from auditkit.order.once import once
from auditkit.order.typed_test import typed_outcome, written_outcome

if TYPE_CHECKING:
    from auditkit.bench import TestKind


_SEAL = "seal-hold"
_LEAKS = frozenset(
    {"pressure loss", "leak rate", "standard leak flow", "equivalent diameter"}
)
"""What a test of a seal computes, and is larger the more it leaks."""
_NO_MORE = frozenset({"scrapped", "returned-to-supplier"})
"""What becomes of an old part at once; a customer takes it along with the vehicle."""


@once
def tests_before_work(order: RepairOrder, part: str) -> tuple[Event, ...]:
    """Return the bench tests of a cause as it was before it was worked on.

    First those of the old part that were made when the work was over, which say less.
    """
    found = (e for e in order.of("bench_test") if is_before_work(order, part, e))
    return tuple(sorted(found, key=lambda test: not is_after_work(order, test)))


def is_after_work(order: RepairOrder, test: Event) -> bool:
    """Return whether a part was tested as the old one when the work on it was over.

    That is when the piece came out, whatever was done to the new one after that; where
    none was replaced, when the last work was done.
    """
    part = test.text("part")
    since, _, _ = _piece(order, part)
    works = [e for e in order.of("repair") if e.text("part") == part]
    out = (e.at for e in works if e.index > since and e.text("action") == "replaced")
    over = min(out, default=max((e.at for e in works), default=test.at))
    return test.text("of") == "old" and test.at > over


def is_before_work(order: RepairOrder, part: str, test: Event) -> bool:
    """Return whether a test is of a cause as it was before it was worked on.

    Where it was replaced in an earlier attempt already, what was measured before that
    was another piece; so is what is measured after a replacement at which the old part
    was given away or scrapped. Where nothing was replaced, and the work says when it
    started, a test of the "new" one before that is of the same piece as it was.
    """
    since, until, repair = _piece(order, part)
    of = test.text("of")
    if test.text("part") != part or not since < test.index < until:
        return False
    if of == "new":
        work = _work_on_the_same(order, part)
        return bool(work and work.text("started")) and as_it_was(order, test)
    return of == "old" or (
        not of and test.index < repair.index and test.at <= repair.at
    )


def as_it_was(order: RepairOrder, test: Event) -> bool:
    """Return whether a test stands before all work on a piece that was not replaced.

    What is adjusted, cleaned or repaired is the same piece: until the work on it begins
    it is no other than the old one, whatever the test says.
    """
    work = _work_on_the_same(order, test.text("part"))
    if work is None or test.index > work.index:
        return False
    return test.at < datetime.fromisoformat(work.text("started") or work.text("at"))


@once
def _work_on_the_same(order: RepairOrder, part: str) -> Event | None:
    """Return the first work of the last attempt on a cause; None if it was replaced."""
    works = [
        order.events[place]
        for fault in faults_for(order, part)
        for place in fault.attempts[-1].repairs
        if order.events[place].text("part") == part
    ]
    if any(work.text("action") == "replaced" for work in works):
        return None
    return min(works, key=lambda work: work.index, default=None)


@once
def _piece(order: RepairOrder, part: str) -> tuple[int, int, Event]:
    """Return between which places a test is of the piece, and its last repair."""
    attempts = (fault.attempts[-1] for fault in faults_for(order, part))
    first, last = max(((a.first, a.last) for a in attempts), key=lambda ends: ends[1])
    repair = order.events[last]
    replaced = [
        event
        for event in order.before(last, "repair")
        if event.text("part") == part and event.text("action") == "replaced"
    ]
    since = max((e.index for e in replaced if e.index < first), default=-1)
    gone = [
        event.index
        for event in replaced
        if event.index >= first and event.text("old_part") not in {"", "kept"}
    ]
    if repair.text("action") == "replaced" and repair.text("old_part") in _NO_MORE:
        gone.append(repair.index)
    until = min(gone, default=len(order.events))
    return since, until, repair


def asks_for_a_leak(test: Event) -> str:
    """Return that a test of a seal is limited by what it has to lose; empty if not.

    A bleed has to let go, and what seals must not: which of them a part is, the source
    of the limit alone says.
    """
    limit, of = test.object("limit"), str(test.object("limit").get("of", ""))
    is_least = "minimum" in limit and "maximum" not in limit
    if test.text("method") != _SEAL or of not in _LEAKS or not is_least:
        return ""
    return f"it is at fault for a {of} too small, by the limit's source alone"


def outcome_of(test: Event, kinds: Mapping[str, TestKind]) -> str:
    """Return what a bench test comes to, computed or by the value that was typed.

    Empty where it comes to nothing, and where its numbers cannot be used.
    """
    try:
        found = result_of(test, kinds)
    except InputError:
        return ""  # bench-test-not-valid tells it
    return typed_outcome(test) if found is None else str(found.outcome)


def outcomes_of(test: Event, kinds: Mapping[str, TestKind]) -> frozenset[str]:
    """Return all that a bench test comes to: both, where it contradicts itself.

    What is computed, the result that is written beside it, and what was seen.
    """
    told = {outcome_of(test, kinds), written_outcome(test)}
    seen = test.object("finding").get("is_fault")
    if isinstance(seen, bool):
        told.add("faulty" if seen else "good")
    return frozenset(told - {""})
