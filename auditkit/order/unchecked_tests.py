"""Bench tests by a method that count as typed, for what their instruments state."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from auditkit.errors import InputError
from auditkit.order.bench_event import result_of
from auditkit.order.events import Event, RepairOrder
from auditkit.order.rewritten_tests import earlier_texts

if TYPE_CHECKING:
    from auditkit.bench import TestKind
    from auditkit.text.values import Json

_RANGE = ("unit", "low", "high", "calibrated_on", "certificate")
_ERRORS = ("resolution", "percent_of_reading", "percent_of_span", "digits", "absolute")


def is_unchecked(
    order: RepairOrder, test: Event, kinds: Mapping[str, TestKind]
) -> bool:
    """Return whether a test's outcome weighs no more than a typed one.

    An amendment can take a check away and never give one: *faulty* is unchecked where
    any text of the test was, *good* where all were.
    """
    texts = (test, *earlier_texts(order, test))
    found = [_outcome(one, kinds) for one in texts]
    of_all = any if found[0][0] == "faulty" else all
    return of_all(is_without for _, is_without in found)


def _outcome(test: Event, kinds: Mapping[str, TestKind]) -> tuple[str, bool]:
    try:
        found = result_of(test, kinds)
    except InputError:
        return "", False  # bench-test-not-valid tells it
    return ("", False) if found is None else (found.outcome, bool(found.unchecked))


def states_another_error(order: RepairOrder, test: Event) -> str:
    """Return which instrument of a test has other limits of error in another one."""
    own = {str(one.get("id")): _stated(one) for one in test.items("instruments")}
    for other in order.of("bench_test"):
        if all(other.text(name) == test.text(name) for name in ("part", "method")):
            for one in other.items("instruments"):
                name, (marks, errors) = str(one.get("id")), _stated(one)
                is_same = name in own and own[name][0] == marks
                pairs = zip(errors, own[name][1], strict=True) if is_same else ()
                if any(then not in {None, now} for then, now in pairs):
                    return f"{name} has other limits of error in another test"
    return ""


def _stated(instrument: Mapping[str, Json]) -> tuple[list[Json], list[Json]]:
    """Return what tells an instrument's range and calibration, and its error."""
    said = Event(0, instrument).object("specification")
    return [said.get(n) for n in _RANGE], [said.get(n) for n in _ERRORS]
