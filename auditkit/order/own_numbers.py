"""The vehicle's own failing numbers, for a part that has no published bench limit."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from auditkit.obd.code_table import row_of
from auditkit.order.events import Event, RepairOrder
from auditkit.order.faults import Fault, faults_for
from auditkit.order.part_tests import outcomes_of
from auditkit.order.self_test_evidence import mids_of, readout_of, typed_result
from auditkit.order.unchecked_tests import is_unchecked

if TYPE_CHECKING:
    from auditkit.bench import TestKind


def own_numbers(
    order: RepairOrder, part: str, kinds: Mapping[str, TestKind]
) -> tuple[str, tuple[int, ...]] | None:
    """Return how the vehicle's own numbers show a cause at fault, and by which events.

    For each of its faults the self-test failed before the repair, and of each system
    that the table of codes says to rule out first a part was tested good. None where
    that is not so, or the table names nothing to rule out.
    """
    cited: list[int] = []
    told: list[str] = []
    for fault in faults_for(order, part):
        row = row_of(fault.code, order.day(fault.last_repair))
        suspect = order.suspect(part)
        if not row.rule_out or suspect is None or suspect.system != row.system:
            return None
        number = _failed(order, fault)
        if number is None:
            return None
        for system in row.rule_out:
            tests = [
                found
                for other in order.suspect_parts
                if other.system == system
                for found in _good_last(order, other.id, fault.last_repair or 0, kinds)
            ]
            if not tests:
                return None
            cited.append(tests[-1].index)
        cited.append(number[1])
        told.append(
            f"{part}: no bench limit is published; the vehicle's own self-test "
            f"{number[0]}, and {', '.join(row.rule_out)} were tested good"
        )
    return ("; ".join(told), tuple(cited)) if told else None


def _good_last(
    order: RepairOrder, part: str, until: int, kinds: Mapping[str, TestKind]
) -> tuple[Event, ...]:
    """Return the last test before a place of a part that is fitted, if it is good.

    A value that was typed, or read by an instrument not in check, takes none in check
    away, unless the part was worked on between the two.
    """
    tests = [
        test
        for test in order.before(until, "bench_test")
        if test.text("part") == part and test.text("of") in {"", "old"}
    ]
    in_check = [
        test
        for test in tests
        if test.text("method") and not is_unchecked(order, test, kinds)
    ]
    deciding = tests[-1:]
    for test in in_check[-1:]:
        between = order.between(test.index, tests[-1].index, "repair")
        if all(repair.text("part") != part for repair in between):
            deciding.append(test)
    is_good = all(outcomes_of(test, kinds) == {"good"} for test in deciding)
    return tuple(tests[-1:]) if is_good else ()


def _failed(order: RepairOrder, fault: Fault) -> tuple[str, int] | None:
    """Return how the fault's own self-test failed before, and where; None if not.

    A typed result counts where no readout before holds one of the fault's monitors.
    """
    first, mids = fault.first_repair or 0, mids_of(order, fault.code)
    raw = [
        (event, test)
        for event in order.before(first, "readout")
        for test in readout_of(event).self_tests
        if test.mid in mids
    ]
    for event, test in reversed(raw):
        if test.outcome == "failed":
            return f"{test.mid}/{test.tid} failed ({test.numbers})", event.index
    for event in () if raw else order.before(first, "self_test"):
        if event.text("mid") in mids and typed_result(event) == "failed":
            return f"{event.text('mid')} failed, as typed", event.index
    return None
