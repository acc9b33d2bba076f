"""A way to show that the test passed: the code's own status byte."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from auditkit.plugin import (
    CodeStatus,
    Event,
    Fault,
    Lacking,
    Parameters,
    Question,
    Readout,
    RepairOrder,
    Rule,
    Shown,
    addressed,
    hookimpl,
    readout_of,
    rule,
)

_COMPLETED_BITS = 0x30  # bits 4 and 5: completed, and failed, since the clear


@rule("status-not-completed", question=(Question.TEST_PASSED, Question.TEST_RERAN))
def not_completed(order: RepairOrder, _: Parameters) -> Iterator[Shown | Lacking]:
    """Finds a fault whose status does not say that its test completed and passed.

    What it checks
    Service 19 of the fault's module after the repair: the code is listed as completed,
    and not failed, since the clear; or it was listed as not completed after the clear
    and is absent later from a report of codes by status that was asked for with the
    bits for that (4 and 5). Where it was reported with a failure type, that one is
    meant. The module's availability holds them in either case (ISO
    14229-1, from memory).

    Why it matters
    It is the vehicle's own pass, for any code that the module knows. No number goes
    with it.

    Example
    P0128-00 with status 50 after the clear, and 00 after two drives.

    What to do
    Read service 19 with a mask that holds bits 4 and 5, before and after the drive.
    """
    for fault in addressed(order):
        start = fault.proof_starts(order)
        if start is None or not fault.was_cleared(order):
            continue  # status bits count since a clear
        after = [(e, readout_of(e)) for e in order.after(start, "readout")]
        if not any(readout.statuses or readout.availability for _, readout in after):
            continue  # this vehicle has no such report: no way, no fault of the shop
        found = _passed(fault, _reported(order, fault), after)
        for question in (Question.TEST_PASSED, Question.TEST_RERAN):
            if found is not None:
                yield Shown(
                    f"{fault.code}: completed and not failed since the clear, by the "
                    "vehicle's word; no value is given",
                    found,
                    fault.subject,
                    None,
                    question,
                )
            else:
                yield Lacking(
                    f"no status of {fault.code} says that its test ran and passed",
                    "let the test run, then read the codes with their status again "
                    "(service 19, with bits 4 and 5)",
                    None,
                    fault.subject,
                    can_come_later=True,
                    question=question,
                )


def _reported(order: RepairOrder, fault: Fault) -> set[str]:
    """Return the code with each failure type that was present before the repair."""
    return {
        status.text
        for event in order.before(fault.first_repair or 0, "readout")
        for status in readout_of(event).statuses
        if _is_own(fault, status) and status.is_present
    }


def _passed(
    fault: Fault, known: set[str], after: list[tuple[Event, Readout]]
) -> tuple[int, ...] | None:
    """Return the readouts by which what was reported has passed; None where not."""
    waiting: int | None = None
    for event, readout in after:
        own = [
            s
            for s in readout.statuses
            if _is_own(fault, s) and (not known or s.text in known)
        ]
        kept = _keeps_bits(fault, readout.availability)
        if own and kept and all(s.is_completed and not s.has_failed for s in own):
            return (event.index,)
        if any(not s.is_completed for s in own):
            waiting = event.index
        elif (
            waiting is not None
            and not own
            and kept
            and _keeps_bits(fault, readout.asked)
        ):
            return (waiting, event.index)
    return None


def _is_own(fault: Fault, status: CodeStatus) -> bool:
    return status.code == fault.code and (
        not fault.witnesses or status.responder in fault.witnesses
    )


def _keeps_bits(fault: Fault, masks: Iterable[tuple[str, int]]) -> bool:
    """Return whether a mask of the fault's module holds bits 4 and 5."""
    return any(
        mask & _COMPLETED_BITS == _COMPLETED_BITS
        for who, mask in masks
        if not fault.witnesses or who in fault.witnesses
    )


@hookimpl
def rules() -> Iterable[Rule]:
    """Return the rules of this file."""
    return (not_completed,)
