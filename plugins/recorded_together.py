"""Was a step recorded together with what had to come before it?"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import datetime

from auditkit.plugin import (
    Event,
    Parameters,
    Problem,
    Question,
    RepairOrder,
    Rule,
    Severity,
    every_caution_called,
    hookimpl,
    kind_in_words,
    rule,
)

_APART, _TOGETHER = 600, 60  # seconds
_DAY = 24  # hours


@rule(
    "steps-recorded-at-once",
    question=Question.ORDER_OF_TIME,
    severity=Severity.ADVISORY,
)
def recorded_at_once(order: RepairOrder, parameters: Parameters) -> Iterator[Problem]:
    """Finds a step that was recorded together with what had to come before it.

    What it checks
    A step and the caution that it was acknowledged for, and a repair and the bench test
    of its part: where they are said to lie ten minutes apart or more and the log has
    them within a minute (our choice), their times are told. Not where either was
    recorded more than a day late, which is told anyway, nor of a record that lies in no
    log. It is advice and lowers nothing: who writes down the morning's work at noon is
    honest, and who made it up at noon wrote down the same.

    Why it matters
    A caution is read, and a part tested, before the part is touched. What was recorded
    with the step that it comes before shows that by nobody's clock.

    Example
    The caution and the bench test are said to lie 20 min apart, recorded 3 s apart.

    What to do
    Record each step when it happens.
    """
    called = every_caution_called(order, parameters.catalogue)
    pairs = [(one.seen, one.step) for one in called if one.seen is not None]
    repairs = order.of("repair")
    tests = [t for t in order.of("bench_test") if t.text("of") in {"", "old"}]
    pairs += [
        (test, repair)
        for repair in repairs
        for test in tests
        if test.text("part") == repair.text("part") and test.index < repair.index
    ]
    told = [
        (first, then, far, near)
        for first, then in pairs
        if (apart := _apart(order, first, then)) is not None
        for far, near in (apart,)
        if far >= _APART and near <= _TOGETHER
    ]
    if not told:
        return
    first, then, far, near = told[0]
    more = len(dict.fromkeys((one.index, other.index) for one, other, *_ in told)) - 1
    others = f", and {more} more such" if more else ""
    yield Problem(
        f"the {kind_in_words(first)} of {first.text('at')} and the "
        f"{kind_in_words(then)} after it: said to lie {far / 60:.0f} min apart, "
        f"recorded {near:.0f} s apart{others}",
        "ask who was there; record each step when it happens",
        then.index,
    )


def _apart(order: RepairOrder, one: Event, other: Event) -> tuple[float, float] | None:
    """Return how many seconds apart two events are said to lie, and were recorded.

    None where one was recorded more than a day late, or lies in no log.
    """
    if max(one.index, other.index) >= len(order.recorded):
        return None
    if max(map(order.hours_until_recorded, (one, other))) > _DAY:
        return None
    first, then = (
        datetime.fromisoformat(order.recorded[event.index]) for event in (one, other)
    )
    said = (other.at - one.at).total_seconds()
    return said, abs((then - first).total_seconds())


@hookimpl
def rules() -> Iterable[Rule]:
    """Return the rules of this file."""
    return (recorded_at_once,)
