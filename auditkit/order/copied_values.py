"""Does another repair order hold the values that a person typed into this one? Pure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from auditkit.order.questions import Question, part_subject
from auditkit.order.self_test_evidence import captured_at

if TYPE_CHECKING:
    from auditkit.order.events import Event, RepairOrder
    from auditkit.order.value_marks import ValueMark

_DAY = 24 * 3600  # seconds; one visit of a vehicle: our choice


@dataclass(frozen=True, slots=True)
class CopiedValues:
    """An event whose values another order holds; ``is_sure`` where not by chance.

    ``what`` names the values and the event in words, and how many of them where not all
    are meant; ``question`` and ``subject`` what the event would have shown.
    """

    event: Event
    other: str
    what: str
    is_sure: bool
    equal: int
    is_part: bool

    @property
    def is_bench(self) -> bool:
        """Whether it is a bench test, and no readout."""
        return self.event.kind == "bench_test"

    @property
    def question(self) -> Question:
        """The question that the event answers."""
        return Question.PART_AT_FAULT if self.is_bench else Question.SAME_VEHICLE

    @property
    def subject(self) -> str:
        """Of what that is asked."""
        return part_subject(self.event.text("part")) if self.is_bench else ""


def sure_marks(order: RepairOrder) -> tuple[frozenset[str], frozenset[str]]:
    """Return the SHA-256 by which copies are known: of all values, of all but one."""
    marks = [m for e in order.of("readout", "bench_test") for m in e.value_marks]
    sure = [mark for mark in marks if mark.is_sure]
    whole, part = (
        frozenset(mark.sha256 for mark in sure if mark.is_part is is_part)
        for is_part in (False, True)
    )
    return whole, part


def copied_values(order: RepairOrder) -> Iterator[CopiedValues]:
    """Yield each readout and bench test with another order's values, once.

    All of them, or of a typed readout so many that it is a copy with one or more
    changed. In another order of the same vehicle they may be the same within a day, and
    those of its self-tests until they run again.
    """
    for event in order.of("readout", "bench_test"):
        held: dict[str, list[tuple[ValueMark, bool]]] = {}
        for mark in event.value_marks:
            for other, sure in _holders(order, event, mark):
                held.setdefault(other, []).append((mark, sure and mark.is_sure))
        found = [_copied(event, other, marks) for other, marks in held.items()]
        found.sort(key=lambda one: (not one.is_sure, one.is_part, -one.equal))
        yield from found[:1]


def _copied(
    event: Event, other: str, marks: Sequence[tuple[ValueMark, bool]]
) -> CopiedValues:
    """Return what an order shares with another, by the marks that both have."""
    kind = "bench test" if event.kind == "bench_test" else "readout"
    whole = [(mark, sure) for mark, sure in marks if not mark.is_part]
    best, is_sure = min(whole or marks, key=lambda pair: not pair[1])
    if whole:
        what, equal = f"the {best.what} of the {kind}", len(best.values)
    else:
        equal = len({value for mark, _ in marks for value in mark.values})
        many = max(mark.many for mark, _ in marks)
        what = f"{equal} of {many} values of the {kind}"
    return CopiedValues(event, other, what, is_sure, equal, not whole)


def _holders(
    order: RepairOrder, event: Event, mark: ValueMark
) -> Iterator[tuple[str, bool]]:
    """Yield each other order with a mark, and whether it can be no honest one."""
    digest = mark.sha256
    if digest in order.elsewhere:
        yield order.elsewhere[digest], True
    for other in () if mark.is_part else order.others:
        for held in other.of(event.kind):
            marks = [m for m in held.value_marks if m.sha256 == digest]
            if marks:
                changes = event.kind == "bench_test" or marks[0].of_counts
                apart = abs(_read_at(event) - _read_at(held))
                yield other.id, changes and apart > _DAY


def _read_at(event: Event) -> float:
    return captured_at(event) if event.kind == "readout" else event.at.timestamp()
