"""Shop rules: which fault codes were there before the repair, and are they gone?"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from auditkit.plugin import (
    Code,
    Event,
    Grade,
    Parameters,
    Problem,
    RepairOrder,
    Rule,
    Severity,
    best_evidence,
    hookimpl,
    provable_codes,
    readout_of,
    readouts_after,
    related,
    rule,
)


@rule("no-fault-code-named")
def no_code(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a repair order whose diagnosis names no fault code.

    What it checks
    At least one diagnosis names at least one fault code.

    Why it matters
    Without the code nobody can tell which self-test has to run again.

    Example
    The diagnosis says "runs rough".

    What to do
    Record the fault code that the vehicle raised.
    """
    if not order.codes:
        yield Problem("no diagnosis names a fault code", "record the fault code")


@rule("fault-code-not-read-before-repair", severity=Severity.ADVISORY)
def not_read_before(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a diagnosed code that no readout before the repair shows.

    What it checks
    A readout before the first repair shows each diagnosed code.

    Why it matters
    The fault is then the vehicle's word, not only the shop's.

    Example
    The diagnosis says P0401; the first readout was captured after the repair.

    What to do
    Capture a readout before anything is touched or cleared.
    """
    repairs = order.of("repair")
    if not repairs:
        return
    seen: set[str] = set()
    for event in order.before(repairs[0].index, "readout"):
        seen |= {code.text for code in readout_of(event).codes}
    for code in order.codes:
        if code not in seen:
            yield Problem(
                f"no readout before the repair shows {code}",
                "capture a readout before the repair",
            )


@rule("codes-not-read-after-repair")
def not_read(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a repair order whose codes were not read after the repair.

    What it checks
    Readouts after the repair hold answers to services 03 and 07.

    Why it matters
    Nobody can tell whether the code stayed away if nobody asked.

    Example
    Only service 06 was captured after the repair.

    What to do
    Capture services 03 and 07 (and 0A where the vehicle has it) after the repair.
    """
    if order.proof_starts is None:
        return
    reported = {s for e in readouts_after(order) for s in readout_of(e).reported}
    lacking = sorted({"03", "07"} - reported)
    if lacking:
        yield Problem(
            f"no answer to service {' and '.join(lacking)} stands after the repair",
            "capture the fault codes once more",
            order.proof_starts,
        )


@rule("fault-code-returned")
def returned(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a related fault code, confirmed or pending, after the repair.

    What it checks
    No readout after the repair shows the diagnosed code or another of its group. Where
    codes were cleared after the repair the evidence contradicts it. Where they were
    not, the code may merely still be stored: then the last readout that answers service
    03 is asked for stored codes, and the last that answers 07 for pending ones.

    Why it matters
    A code that comes back says that the fault is still there.

    Example
    P0442 is pending again the day after the clear.

    What to do
    Find the remaining cause. Where codes were never cleared, clear them and let the
    self-test run again.
    """
    repair, start = order.last_repair, order.proof_starts
    if repair is None or start is None:
        return
    cleared = start != repair.index
    for event, found in _stored_after(order, only_last=not cleared):
        if any(related(code, found.text) for code in order.codes):
            told = "is back" if cleared else "is still stored; it was never cleared"
            yield Problem(
                f"{found.text} ({found.kind}) {told} after the repair",
                "find the remaining cause"
                if cleared
                else "clear the codes and let the self-test run again",
                event.index,
                contradicts=cleared,
            )


def _stored_after(
    order: RepairOrder, *, only_last: bool
) -> Iterator[tuple[Event, Code]]:
    """Yield stored and pending codes after the repair, with the readout of each.

    A readout that did not ask for a kind of code says nothing of it.
    """
    events = readouts_after(order)
    last = {s: e.index for e in events for s in readout_of(e).reported}
    for event in events:
        seen = readout_of(event)
        for service, codes in (("03", seen.confirmed), ("07", seen.pending)):
            if not only_last or last.get(service) == event.index:
                yield from ((event, code) for code in codes)


@rule("permanent-code-remains")
def permanent(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a related permanent fault code in the last readout after the repair.

    What it checks
    The last readout after the repair that asked for permanent codes (service 0A) shows
    none that is related.

    Why it matters
    Only the vehicle erases a permanent code, after its own monitor ran and passed. A
    clear does not touch it.

    Example
    P0401 is still permanent; the monitor passed in this drive only.

    What to do
    Drive another cycle as the maker describes, switch off, and capture a new readout.
    """
    asked = [e for e in readouts_after(order) if "0A" in readout_of(e).reported]
    for event in asked[-1:]:
        for found in readout_of(event).permanent:
            if any(related(code, found.text) for code in order.codes):
                yield Problem(
                    f"permanent code {found.text} was not erased by the vehicle yet",
                    "drive until the vehicle erases it, then capture a new readout",
                    event.index,
                )


@rule("permanent-code-gone-without-rerun")
def permanent_gone(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a permanent fault code that is gone although its monitor did not run.

    What it checks
    A related permanent code (service 0A) that a readout before the repair shows and the
    last one after it does not: something shows that the monitor ran since, or a
    reprogramming is recorded.

    Why it matters
    A tool cannot clear a permanent code. The vehicle erases it after the monitor ran
    and passed; reprogramming erases all (a service manual's statement of 13 CCR
    1968.2(d)(2.5)). Otherwise the readout may be of another vehicle.

    Example
    P0442 is permanent before the repair and gone an hour after it, with counters and
    results unchanged.

    What to do
    Look at both readouts with the vehicle at hand; capture the counters too.
    """
    repair = order.last_repair
    asked = [e for e in readouts_after(order) if "0A" in readout_of(e).reported]
    if repair is None or not asked:
        return
    reprogrammed = any(e.text("action") == "reprogrammed" for e in order.of("repair"))
    left = {c.text for c in readout_of(asked[-1]).permanent}
    before = order.before(repair.index, "readout")
    had = dict.fromkeys(c.text for e in before for c in readout_of(e).permanent)
    for code in had:
        own = [c for c in provable_codes(order) if related(c, code)]
        if code in left or not own or reprogrammed:
            continue
        grades = [best_evidence(order, c).grade for c in own]
        if not any(grade.meets(Grade.RESULTS_CHANGED) for grade in grades):
            yield Problem(
                f"permanent code {code} is gone, and nothing shows that its monitor "
                "ran: is this the same vehicle?",
                "look at both readouts with the vehicle at hand, and capture again",
                asked[-1].index,
            )


@hookimpl
def rules() -> Iterable[Rule]:
    """Return the rules of this file."""
    return (
        no_code,
        not_read_before,
        not_read,
        returned,
        permanent,
        permanent_gone,
    )
