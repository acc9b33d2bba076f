"""Does another repair order hold the values that a person typed into this one? Pure."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from auditkit.order.questions import Question, part_subject
from auditkit.order.self_test_evidence import captured_at

if TYPE_CHECKING:
    from auditkit.order.events import Event, RepairOrder

_DAY = 24 * 3600  # seconds; one visit of a vehicle: our choice


@dataclass(frozen=True, slots=True)
class CopiedValues:
    """An event whose values another order holds; ``is_sure`` where not by chance.

    ``what`` names the values and the event in words, ``question`` and ``subject`` what
    the event would have shown.
    """

    event: Event
    other: str
    what: str
    is_sure: bool

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


def copied_values(order: RepairOrder) -> Iterator[CopiedValues]:
    """Yield each readout and bench test with another order's values, once.

    In another order of the same vehicle they may be the same within a day, and those of
    its self-tests until they run again.
    """
    for event in order.of("readout", "bench_test"):
        kind = "bench test" if event.kind == "bench_test" else "readout"
        found = [
            CopiedValues(
                event, other, f"the {mark.what} of the {kind}", sure and mark.is_sure
            )
            for mark in event.value_marks
            for other, sure in _holders(order, event, mark.sha256)
        ]
        yield from sorted(found, key=lambda one: not one.is_sure)[:1]


def _holders(
    order: RepairOrder, event: Event, digest: str
) -> Iterator[tuple[str, bool]]:
    """Yield each other order with a mark, and whether it can be no honest one."""
    if digest in order.elsewhere:
        yield order.elsewhere[digest], True
    for other in order.others:
        for held in other.of(event.kind):
            marks = [m for m in held.value_marks if m.sha256 == digest]
            if marks:
                changes = event.kind == "bench_test" or marks[0].of_counts
                apart = abs(_read_at(event) - _read_at(held))
                yield other.id, changes and apart > _DAY


def _read_at(event: Event) -> float:
    return captured_at(event) if event.kind == "readout" else event.at.timestamp()
