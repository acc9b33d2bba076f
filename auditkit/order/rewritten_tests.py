"""Bench tests that amendments rewrote: what they first said, and say now. Pure.

What was written down when the part was measured counts before what was made of it
later, also before the repair: nobody can read the gauge again. A test that was *good*
when it was written down stays part of the story, unless evidence bears the correction
out.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations
from typing import TYPE_CHECKING

from auditkit.order.events import Event, RepairOrder
from auditkit.order.part_tests import is_before_work, outcomes_of
from auditkit.order.photographs import pictures, why_not_counted
from auditkit.text.values import displayed

if TYPE_CHECKING:
    from auditkit.bench import TestKind

_MEANING = ("part", "of", "method")


def earlier_texts(order: RepairOrder, event: Event) -> tuple[Event, ...]:
    """Return an event as it was recorded, and as each amendment but the last made it.

    None for one that was never amended.
    """
    if event.recorded is None or event.amended_by is None:
        return ()
    return (
        Event(event.index, event.recorded),
        *(
            Event(event.index, amendment.object("event"))
            for amendment in order.before(event.amended_by, "amendment")
            if amendment.index > event.index
            and amendment.data.get("corrects") == event.index
        ),
    )


def rewritten(
    order: RepairOrder, test: Event, kinds: Mapping[str, TestKind]
) -> Event | None:
    """Return the first earlier text of a bench test that meant something else.

    Of another part, piece or method, or of another outcome. None where there is none: a
    slip that changes no outcome is no other test.
    """
    now = _meaning(test, kinds)
    texts = earlier_texts(order, test)
    return next((one for one in texts if _meaning(one, kinds) != now), None)


def rewritten_tests(
    order: RepairOrder, part: str, kinds: Mapping[str, TestKind]
) -> Iterator[tuple[Event, Event]]:
    """Yield each rewritten test that is or was of a part: as it was, and as it is."""
    for test in order.of("bench_test"):
        texts = (test, *earlier_texts(order, test))
        if any(one.text("part") == part for one in texts):
            first = rewritten(order, test, kinds)
            if first is not None:
                yield first, test


def good_taken_back(
    order: RepairOrder, part: str, kinds: Mapping[str, TestKind]
) -> tuple[tuple[Event, Event], ...]:
    """Return the tests of a cause before the work that were *good* and are no more.

    As good as ever is one that is still of the same piece, by the same method, before
    the work: as another test it would no longer stand beside a faulty one.
    """
    return tuple(
        (one, test)
        for test in order.of("bench_test")
        for one in earlier_texts(order, test)
        if _is_good(order, part, one, kinds)
        and not (
            _is_good(order, part, test, kinds)
            and all(one.text(name) == test.text(name) for name in ("method", "test"))
        )
    )


def _is_good(
    order: RepairOrder, part: str, test: Event, kinds: Mapping[str, TestKind]
) -> bool:
    is_own = is_before_work(order, part, test)
    return is_own and "good" in outcomes_of(test, kinds)


def borne_out(order: RepairOrder, test: Event, again: Sequence[Event]) -> str:
    """Return what bears out that a test's first text was wrong; empty if nothing does.

    A photograph of that very test (its display, or the check that its instrument
    failed), recorded before a repair; or two tests after it, ``again``, of which each
    has an instrument that the other has not. Whoever corrected it only says so.
    """
    begun = min((e.index for e in order.after(test.index, "repair")), default=None)
    for picture, place in pictures(order):
        is_in_time = begun is None or picture.index < begun
        if is_in_time and place == test.index and not why_not_counted(order, picture):
            return "a photograph of it lies beside it, to be looked at"
    used = [{str(i.get("id")) for i in one.items("instruments")} for one in again]
    if any(a - b and b - a for a, b in combinations(used, 2)):
        return f"{len(again)} tests after it say otherwise, by different instruments"
    return ""


def rewriting(first: Event, now: Event) -> str:
    """Return what a test first said and was corrected to, as a clause."""
    then, says = _values(first), _values(now)
    told = [
        f"{name} first written {then.get(name, 'nothing')}, "
        f"corrected to {says.get(name, 'nothing')}"
        for name in dict.fromkeys((*then, *says))
        if then.get(name) != says.get(name)
    ]
    names = sorted(
        name.replace("_", " ")
        for name in {*first.data, *now.data}
        if first.data.get(name) != now.data.get(name)
    )
    return ", ".join(told) or f"its {' and '.join(names)} corrected after the test"


def _meaning(
    test: Event, kinds: Mapping[str, TestKind]
) -> tuple[tuple[str, ...], frozenset[str]]:
    return tuple(test.text(name) for name in _MEANING), outcomes_of(test, kinds)


def _values(test: Event) -> dict[str, str]:
    found: dict[str, list[str]] = {}
    for item in (*test.items("readings"), test.object("result")):
        read = displayed(dict(item))
        if read is not None:
            found.setdefault(str(item.get("name", "result")), []).append(str(read))
    values = {name: " and ".join(many) for name, many in found.items()}
    return {"part": test.text("part"), **values}
