"""Is the fault gone from the very module that reported it?"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from auditkit.plugin import (
    SERVICES,
    Event,
    Fault,
    Lacking,
    Parameters,
    Problem,
    Question,
    Readout,
    RepairOrder,
    Rule,
    Shown,
    addressed,
    captured_at,
    faults_of,
    hookimpl,
    kept_since_clear,
    readout_of,
    rule,
    speaks_against,
)

_ASKED = ("03", "07", "0A", "19")
_PRESENT = 0x0D  # failed, pending, confirmed
Said = Shown | Lacking | Problem


@rule("fault-not-shown-gone", question=Question.FAULT_GONE)
def not_gone(order: RepairOrder, _: Parameters) -> Iterator[Said]:
    """Finds a fault that its module still reports, or was not asked for again.

    What it checks
    After the last attempt each module that reported the fault is asked by the services
    in which it had answered before (03, 07, 0A or 19), raw by 07 wherever by 03, and
    does not report it, nor ask for a lamp because of it (bit 7 of its status byte). Its
    lamp is off, or every stored code of its list is addressed or set aside; a lamp that
    was read before is read again, and where codes are read by service 03, one lamp at
    least is read: its own, of a module that answers service 01 or 06 or counts tests
    (service 09). By service 19 all is asked for, not by a narrow mask.
    After a clear it keeps no freeze frame of the fault, and counts neither distance nor
    minutes with the lamp on (PIDs 21 and 4D) where the lamp is off and no fault is set
    aside: a clear empties both. The number of codes that it counts (PID 01) fits its
    list. A code that is stored still, with nothing pending, no clear and no lamp that
    it explains, is history. A code that only service 0A holds after a clear, whether
    asked before or not, and of whichever module, is waiting for the vehicle. Codes are
    read after the last clear that is recorded.
    Against it: the fault is pending after the repair, or stored after a clear or with
    the lamp on; or a code of the same row and place is new after a clear and no part
    was worked on for it, set aside or not.

    Why it matters
    Another module's silence says nothing of this one, and a lamp that is on says that
    something is stored.

    Example
    Only the gearbox answers after the repair; the engine module reported the fault.

    What to do
    Read the fault codes of that module again, with its lamp and count (PID 01).
    """
    for fault in addressed(order):
        start = fault.proof_starts(order)
        if start is None:
            continue
        after = [(e, readout_of(e)) for e in order.after(start, "readout")]
        against = list(speaks_against(order, fault, after))
        if against:
            yield from against
            continue
        clears = [e.index for e in order.of("code_clear")]
        if after and clears and clears[-1] > after[-1][0].index:
            yield Lacking(
                f"codes were cleared after the last readout: whether {fault.code} had "
                "come back by then is gone with them",
                "read the codes again after a drive; read them before they are cleared",
                clears[-1],
                fault.subject,
                can_come_later=True,
            )
            continue
        said = [
            _of_module(order, fault, who, after) for who in (fault.witnesses or ("",))
        ]
        lacking = [one for one in said if isinstance(one, Lacking)]
        yield from lacking
        if not lacking:
            events = sorted({e for one in said if isinstance(one, tuple) for e in one})
            yield Shown(
                f"{fault.code} is gone from {_names(fault)}",
                tuple(events),
                fault.subject,
            )


@rule("fault-back-in-another-order", question=Question.FAULT_GONE)
def back_elsewhere(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a readout in another repair order that holds the fault after the repair.

    What it checks
    Of the other repair orders of this vehicle (by VIN), among the records judged
    together and in the shop's log, no readout captured after the last attempt speaks
    against it as one in this order would: the fault is pending, or stored after a clear
    or with the lamp on; or a code of its row and place is new after a clear. What was
    recorded after this order had been closed is left out.

    Why it matters
    A readout that still holds the fault is not undone by being put under another
    number.

    Example
    The readout of 14:00 that still holds P0401 lies in a second order, opened for it.

    What to do
    Find the remaining cause; after the next repair, read again.
    """
    for fault in addressed(order):
        start = fault.proof_starts(order)
        if start is None:
            continue
        since = order.events[start].at.timestamp()
        own = order.after(start, "readout")
        for other in order.others:
            theirs = [e for e in other.of("readout") if captured_at(e) > since]
            for problem, event in _against_with(order, fault, own, theirs):
                yield Problem(
                    f"{problem.message}, in the readout that repair order {other.id} "
                    f"of the same vehicle captured {event.text('captured')}",
                    problem.what_to_do,
                    contradicts=True,
                    subject=fault.subject,
                )


def _against_with(
    order: RepairOrder, fault: Fault, own: Sequence[Event], theirs: Sequence[Event]
) -> Iterator[tuple[Problem, Event]]:
    """Yield what another order's readouts, among the own ones, say against a fault."""
    first = len(order.events)
    moved = [replace(e, index=first + place) for place, e in enumerate(theirs)]
    after = sorted((*own, *moved), key=captured_at)
    for problem in speaks_against(order, fault, [(e, readout_of(e)) for e in after]):
        if problem.event is not None and problem.event >= first:
            yield problem, theirs[problem.event - first]


@rule("failed-attempt-not-told", question=Question.FAULT_GONE)
def earlier_attempt(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds an earlier attempt that failed, under another number, and is not told.

    What it checks
    Where another repair order of this vehicle (by VIN) worked on the same fault before,
    and its own readouts speak against it, the opening or a diagnosis of this one names
    that order by its number.

    Why it matters
    A second attempt is honest work. Under a number of its own it looks like the first,
    and whoever holds its packet alone does not learn of the other.

    Example
    Order RO-7 ended contradicted on Monday; on Tuesday RO-9 proves the same repair.

    What to do
    Name the other repair order in a diagnosis: a further one may follow.
    """
    said = " ".join(
        f"{e.text('complaint')} {e.text('reasoning')}"
        for e in order.of("opening", "diagnosis")
    )
    for fault in addressed(order):
        for other in order.others:
            if re.search(rf"(?<![\w-]){re.escape(other.id)}(?![\w-])", said):
                continue
            if any(
                _failed_before(other, one, order, fault) for one in addressed(other)
            ):
                yield Problem(
                    f"repair order {other.id} of the same vehicle worked on "
                    f"{fault.code} before, and its readouts speak against it: this "
                    "order does not tell of it",
                    f"name {other.id} in a diagnosis: a further one may follow",
                    subject=fault.subject,
                )


def _failed_before(
    other: RepairOrder, theirs: Fault, order: RepairOrder, fault: Fault
) -> bool:
    """Return whether another order tried to mend the same fault before, and failed."""
    start, own = theirs.proof_starts(other), fault.last_repair
    if theirs.code != fault.code or start is None or own is None:
        return False
    if other.events[start].at > order.events[own].at:
        return False
    after = [(e, readout_of(e)) for e in other.after(start, "readout")]
    return any(speaks_against(other, theirs, after))


def _names(fault: Fault) -> str:
    return " and ".join(f"module {who}" for who in fault.witnesses) or "the vehicle"


def _of_module(  # noqa: PLR0911  one return for each thing that lacks
    order: RepairOrder, fault: Fault, who: str, after: list[tuple[Event, Readout]]
) -> Lacking | tuple[int, ...]:
    """Return the readouts that show the fault gone from one module, or what lacks."""
    before = [readout_of(e) for e in order.before(fault.first_repair or 0, "readout")]
    asked = [s for s in _ASKED if any(_answered(r, who, s) for r in before)] or ["03"]
    cited: list[int] = []
    for service in _ASKED:
        answers = [(e, r) for e, r in after if _answered(r, who, service)]
        if not answers and service not in asked:
            continue
        if not answers:
            others = sorted({name for _, r in after for name, _ in r.answered} - {who})
            refused = any((who, service) in r.refused for _, r in after)
            how = "refused (7F) to give" if refused else "did not give"
            same = f"; where {' or '.join(others)} is the same module, write {who}"
            return _lacking(
                fault,
                f"{_module(who)} {how} its {SERVICES[service]} after the repair "
                f"(service {service}), and had given them before",
                f"read the {SERVICES[service]} of that module again"
                + (same if others and who and _is_typed(after) else ""),
            )
        event, readout = answers[-1]
        cited.append(event.index)
        held = [c.responder for c in readout.permanent if c.text == fault.code]
        if service == "0A" and held:
            return _lacking(
                fault,
                f"{_module(held[0] or who)} holds {fault.code} as permanent still",
                "drive until the vehicle erases it, then capture a new readout",
                event.index,
            )
        is_owed = service == "19" and service in asked
        if is_owed and not _is_asked_for_all(readout, who):
            return _lacking(
                fault,
                f"{_module(who)} was not asked for codes of every status",
                "read all codes with their status (service 19 with a mask that holds "
                "all bits: 19 02 FF)",
                event.index,
            )
        if service == "19" and any(
            s.code == fault.code and (s.is_present or s.asks_for_lamp)
            for s in readout.statuses
        ):
            return _lacking(
                fault,
                f"{_module(who)} reports {fault.code} by its status still",
                "let its test run, then capture a new readout",
                event.index,
            )
    raw = [r for e, r in after if e.text("raw") and _answered(r, who, "03")]
    if raw and not any("07" in (*r.requests, *r.reported) for _, r in after):
        return _lacking(
            fault,
            "nobody asked for pending codes (service 07), before the repair or after",
            "read the pending codes too: what comes back is pending first",
        )
    if failed := _failed_since_clear(order, fault, who, after):
        return failed
    lamp = _lamp_not_read(order, fault, who, before, after) or _lamp(order, who, after)
    if isinstance(lamp, str):
        return _lacking(
            fault, lamp, "read stored codes and engine lamp again (service 03, PID 01)"
        )
    if isinstance(lamp, int):
        cited.append(lamp)
    return tuple(cited)


def _failed_since_clear(
    order: RepairOrder, fault: Fault, who: str, after: list[tuple[Event, Readout]]
) -> Lacking | None:
    """Return what a module keeps of a failure; a lamp may be of what is set aside."""
    is_alone = not any(one.set_aside for one in faults_of(order))
    for event, readout in after if fault.was_cleared(order) else ():
        kept = kept_since_clear(readout, who, fault.code, counts_lamp=is_alone)
        if kept:
            return Lacking(
                f"{_module(who)} {kept} since the clear",
                "find the remaining cause; after the next repair, read again",
                event.index,
                fault.subject,
            )
    return None


def _lamp_not_read(
    order: RepairOrder,
    fault: Fault,
    who: str,
    before: list[Readout],
    after: list[tuple[Event, Readout]],
) -> str:
    """Return what lacks where the lamp is not read again, or a code is stored still.

    Such a code is history only where the lamp is read, and off or explained by a code
    that is set aside.
    """
    lamps = [(r, on) for _, r in after for name, on in r.mil if not who or name == who]
    if not lamps and any(not who or who in dict(r.mil) for r in before if r.mil):
        return f"the lamp of {_module(who)} was read before the repair, and not after"
    read = (*before, *(r for _, r in after))
    seen = {name for r in read for name, _ in r.mil}
    is_owed = not seen or (who not in seen and any(_gives_data(r, who) for r in read))
    if is_owed and not lamps and any(_answered(r, who, "03") for _, r in after):
        which = f"the lamp of {_module(who)}" if seen else "no module's lamp"
        return f"{which} was {'not ' if seen else ''}read, before the repair or after"
    asked = [r for _, r in after if _answered(r, who, "03")]
    stored = {(c.text, c.responder) for r in asked[-1:] for c in r.confirmed}
    if not any(text == fault.code and name in {who, ""} for text, name in stored):
        return ""
    if not lamps:
        return f"{fault.code} is stored, and the lamp of {_module(who)} was not read"
    aside = {f.code for f in faults_of(order) if f.set_aside}
    last, is_on = lamps[-1]
    if is_on and not any(
        c.responder == who and c.text in aside for c in last.confirmed
    ):
        return f"{fault.code} is stored, and the lamp of {_module(who)} is on"
    return ""


def _lamp(
    order: RepairOrder, who: str, after: list[tuple[Event, Readout]]
) -> str | int | None:
    """Return the readout whose lamp is off or explained, else what is wrong with it."""
    told = [(e, r) for e, r in after if who in dict(r.mil) or (not who and r.mil)]
    if not told:
        return None
    event, readout = told[-1]
    lamps = [on for name, on in readout.mil if not who or name == who]
    listed = [c.text for c in readout.confirmed if not who or c.responder == who]
    known = {fault.code for fault in faults_of(order)}
    strange = [code for code in listed if code not in known]
    if any(lamps) and (not listed or strange):
        why = (
            f": {', '.join(strange)} is stored" if strange else " and no code says why"
        )
        return f"the lamp of {_module(who)} is on after the repair{why}"
    counts = [n for name, n in readout.counts if not who or name == who]
    if who and counts and _answered(readout, who, "03") and counts[-1] != len(listed):
        return (
            f"{_module(who)} counts {counts[-1]} codes and lists {len(listed)} after "
            "the repair"
        )
    return event.index


def _is_typed(readouts: list[tuple[Event, Readout]]) -> bool:
    return any(event.object("typed") for event, _ in readouts)


def _answered(readout: Readout, who: str, service: str) -> bool:
    if who and who != "-":
        return readout.has_answered(who, service)
    return any(said == service for _, said in readout.answered)


def _gives_data(readout: Readout, who: str) -> bool:
    """Return whether a module answers service 01, 06, or counts of its tests."""
    gave = {p.responder for p in readout.parameters if p.service == "01"}
    gave |= {one.responder for one in readout.monitors}
    gave |= {one.responder for one in readout.counters}
    return who in gave or readout.has_answered(who, "06")


def _is_asked_for_all(readout: Readout, who: str) -> bool:
    """Return whether a code that is present would be listed (status bits 0, 2, 3)."""
    return any(
        mask & _PRESENT == _PRESENT
        for name, mask in readout.asked
        if who in {"", "-", name}
    )


def _module(who: str) -> str:
    return f"module {who}" if who and who != "-" else "the vehicle"


def _lacking(
    fault: Fault, message: str, what_to_do: str, event: int | None = None
) -> Lacking:
    return Lacking(message, what_to_do, event, fault.subject, can_come_later=True)


@hookimpl
def rules() -> Iterable[Rule]:
    """Return the rules of this file."""
    return (not_gone, back_elsewhere, earlier_attempt)
